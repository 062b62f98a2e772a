"""What is there to choose from: how much of each zone, and which rows answers have, moment by moment."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from ..study.clock import from_ms, to_ms, zone_offered
from ..study.model import Dated, Declaration, Span, Zone

Floats = NDArray[np.float64]
Millis = NDArray[np.int64]


def places_of(declared: Declaration) -> list[str]:
    """The rows of the answers: zones, or the places that zones of several enclosures share, in file order."""
    return list(dict.fromkeys(zone.place for zone in declared.zones.values()))


def place_label(declared: Declaration, place: str) -> str:
    """The label a place is shown by; zones of one place usually share it."""
    labels = dict.fromkeys(z.label for z in declared.zones.values() if z.place == place)
    return next(iter(labels)) if len(labels) == 1 else place


def amounts_offered(
    declared: Declaration,
    zones: Sequence[Zone],
    enclosures: Sequence[str],
    times_ms: Millis,
    equal: bool = False,
) -> Floats:
    """(moments x zones) how much of each zone is offered then, in measured_in; 0 where it is not there.

    ``enclosures`` and ``times_ms`` (ms since 1970, UTC) give one entry per moment. ``equal`` counts every zone that
    is there as 1.
    """
    where = np.asarray(enclosures, object)
    found = np.zeros((len(times_ms), len(zones)))
    for j, zone in enumerate(zones):
        inside = np.flatnonzero(where == zone.enclosure)
        there = inside[_there(declared, zone, times_ms[inside])]
        found[there, j] = 1.0 if equal else dated_values(zone.amount, times_ms[there])
    return found


def _there(declared: Declaration, zone: Zone, times_ms: Millis) -> NDArray[np.bool_]:
    """Whether a zone is there at each time."""
    if any(presence.daily for presence in zone.present):
        # Lit for a part of the day only: that part moves with summer time, so each time is asked for itself.
        times, back = np.unique(times_ms, return_inverse=True)
        return np.array([zone_offered(declared, zone, from_ms(int(t))) for t in times], bool)[back]
    there = np.zeros(len(times_ms), bool)
    for presence in zone.present:
        there |= _within(presence.span, times_ms)
    return there


def _within(span: Span, times_ms: Millis) -> NDArray[np.bool_]:
    low = -np.inf if span.start is None else to_ms(span.start)
    high = np.inf if span.until is None else to_ms(span.until)
    return np.asarray((times_ms >= low) & (times_ms < high), np.bool_)


def dated_values(timeline: Sequence[Dated[float]], times_ms: Millis) -> Floats:
    """The value that held at each time; outside all of them (and where it is 0) the first one counts."""
    values = np.full(len(times_ms), float(timeline[0].value))
    for dated in reversed(timeline):
        values[_within(dated.span, times_ms)] = dated.value or timeline[0].value
    return values


def amount_at(zone: Zone, at: datetime, equal: bool) -> float:
    """How much of a zone there is at a moment; outside all dated values the first one counts."""
    return 1.0 if equal else float(dated_values(zone.amount, np.array([to_ms(at)], np.int64))[0])
