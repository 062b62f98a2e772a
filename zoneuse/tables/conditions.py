"""The conditions in each zone at given times, from the loggers that lay there then."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from ..readings import store
from ..readings.joining import interpolate, usual_step_ms
from ..readings.moisture import dew_point_c, vpd_kpa
from ..study.model import Declaration, Placement
from .phases import Adjustment

Floats = NDArray[np.float64]
Millis = NDArray[np.int64]

LEAST_GAP_MS = 30 * 60_000
DERIVED = ("vpd_kpa", "dew_point_c")
_FOREVER = 1 << 62


@dataclass(frozen=True, slots=True)
class Conditions:
    """``values[quantity]`` is times x zones, NaN where no logger could tell; ``zones`` names the columns."""

    zones: tuple[str, ...]
    values: Mapping[str, Floats]

    def __bool__(self) -> bool:
        return bool(self.values)


def to_ms(at: datetime) -> int:
    return round(at.timestamp() * 1000)


def conditions(
    declared: Declaration,
    times_ms: Millis,
    changes: Iterable[Adjustment] = (),
    max_gap_ms: int | None = None,
) -> Conditions:
    """Every logged quantity in every zone at each time, with vapour pressure deficit and dew point.

    On the line between the two readings around a time, if they are at most ``max_gap_ms`` apart (default:
    the larger of 30 min and twice the logger's usual step), never across the moving of the logger or a
    change to its zone; the mean over a zone's loggers. Raises ProblemError where a stored file is damaged.
    """
    zones = tuple(declared.zones)
    column = {zone: i for i, zone in enumerate(zones)}
    sums: dict[str, Floats] = {}
    counts: dict[str, Floats] = {}
    taken_in = store.intakes(declared.folder)[0]
    breaks = _breaks(changes)
    order = np.argsort(times_ms, kind="stable")
    sorted_ms = times_ms[order]
    for logger in declared.loggers.values():
        readings = store.read(declared.folder, logger.id, intaken=taken_in)
        if not len(readings.times):
            continue
        gap = max_gap_ms or max(LEAST_GAP_MS, 2 * usual_step_ms(readings.times))
        for placement in logger.placed:
            if placement.zone not in column:
                continue
            inside, part = _within(placement, sorted_ms), _within(placement, readings.times)
            for quantity, values in readings.values.items():
                believed = np.where(readings.conflict[quantity], np.nan, values)[part]
                joined = interpolate(
                    sorted_ms[inside], readings.times[part], believed, gap, breaks.get(placement.zone, ())
                )
                total = sums.setdefault(quantity, np.zeros((len(times_ms), len(zones))))
                number = counts.setdefault(quantity, np.zeros((len(times_ms), len(zones))))
                there = ~np.isnan(joined)
                rows = order[inside][there]
                total[rows, column[placement.zone]] += joined[there]
                number[rows, column[placement.zone]] += 1
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


def _within(placement: Placement, sorted_ms: Millis) -> slice:
    """The part of sorted times inside a placement."""
    start = -_FOREVER if placement.start is None else to_ms(placement.start)
    until = _FOREVER if placement.until is None else to_ms(placement.until)
    return slice(*np.searchsorted(sorted_ms, [start, until], "left"))


def _with_moisture(means: dict[str, Floats]) -> dict[str, Floats]:
    if "temperature_c" in means and "humidity_pct" in means:
        warm, moist = means["temperature_c"], means["humidity_pct"]
        means["vpd_kpa"] = vpd_kpa(warm, moist)
        means["dew_point_c"] = dew_point_c(warm, moist)
    return means
