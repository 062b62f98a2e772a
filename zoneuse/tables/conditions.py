"""The conditions in each zone at given times, from the loggers that lay there then."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..readings.arrow_arrays import Values
from ..readings.trust import FORMULAS, Series, interpolate_each, load_all, span_ms
from ..readings.trust.cross_checks import Loaded
from ..readings.trust.joining import JoinRequest
from ..study import DERIVED, Declaration, Placement, to_ms
from .phases import Adjustment

Millis = NDArray[np.int64]


Readings = Callable[[], Loaded]
"""Gives every logger's readings: an open study loads them once, when an answer first needs them."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """``values[quantity]`` is times x zones, NaN where no logger could tell; ``zones`` names the columns."""

    zones: tuple[str, ...]
    values: Mapping[str, Values]

    def __bool__(self) -> bool:
        return bool(self.values)


def conditions(
    declared: Declaration,
    times_ms: Millis,
    changes: Iterable[Adjustment] = (),
    max_gap_ms: int | None = None,
    readings: Readings | None = None,
) -> Conditions:
    """Every logged quantity in every zone at each time, with vapour pressure deficit and dew point.

    Corrected and believed readings only, on the line between the two around a time if they are at most
    ``max_gap_ms`` apart (default: the larger of 30 min and twice the logger's usual step), never across the
    moving of the logger or a change to its zone; the mean over a zone's loggers. They are loaded
    anew unless ``readings`` gives them. Raises ProblemError where a stored file is damaged.
    """
    zones = tuple(declared.zones)
    column = {zone: i for i, zone in enumerate(zones)}
    order = np.argsort(times_ms, kind="stable")
    sorted_ms = times_ms[order]
    sums: dict[str, Values] = {}
    counts: dict[str, Values] = {}
    shape = len(times_ms), len(zones)
    loaded = load_all(declared.folder, declared) if readings is None else readings()
    spans = [
        (placement, slice(*np.searchsorted(sorted_ms, span_ms(placement))), series)
        for name, by_quantity in loaded.items()
        for placement in declared.loggers[name].placed
        for series in by_quantity.values()
    ]
    breaks = _breaks(changes)

    def asked(placement: Placement, inside: slice, series: Series) -> JoinRequest:
        part = slice(*np.searchsorted(series.times, span_ms(placement)))
        gap = max_gap_ms or series.max_gap_ms
        over = breaks.get(placement.zone, ())
        return sorted_ms[inside], series.times[part], series.believed[part], gap, over

    each = interpolate_each(asked(*span) for span in spans)
    for (placement, inside, series), joined in zip(spans, each, strict=True):
        there = ~np.isnan(joined)
        cells = order[inside][there], column[placement.zone]
        sums.setdefault(series.quantity, np.zeros(shape))[cells] += joined[there]
        counts.setdefault(series.quantity, np.zeros(shape))[cells] += 1
    means = {
        q: np.divide(s, counts[q], out=np.full(s.shape, np.nan), where=counts[q] > 0) for q, s in sums.items()
    }
    return Conditions(zones, _with_moisture(means))


def _breaks(changes: Iterable[Adjustment]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for change in changes:
        for zone in change.zones:
            found.setdefault(zone, []).append(to_ms(change.at))
    return found


def _with_moisture(means: dict[str, Values]) -> dict[str, Values]:
    for name, q in DERIVED.items():
        if set(q.derived_from) <= set(means):
            means[name] = FORMULAS[name](*(means[base] for base in q.derived_from))
    return means
