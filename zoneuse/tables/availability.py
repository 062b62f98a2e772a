"""What is there to choose from: how much of each zone, and which rows answers have, moment by moment."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..readings.arrow_arrays import Values
from ..study import Dated, Declaration, Span, from_ms, to_ms, zone_offered
from ..study.model import Zone

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
) -> Values:
    """(moments x zones) how much of each zone is offered then, in measured_in; 0 where it is not there.

    A zone whose amount is not given yet offers nothing. ``enclosures`` and ``times_ms`` (ms since 1970, UTC) give
    one entry per moment. ``equal`` counts every zone that is there as 1.
    """
    where = np.asarray(enclosures, object)
    found = np.zeros((len(times_ms), len(zones)))
    for j, zone in enumerate(zones):
        if not zone.amount:
            continue
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


def dated_values(timeline: Sequence[Dated[float]], times_ms: Millis) -> Values:
    """The value that held at each time; outside all of them (and where it is 0) the first one counts."""
    values = np.full(len(times_ms), float(timeline[0].value))
    for dated in reversed(timeline):
        values[_within(dated.span, times_ms)] = dated.value or timeline[0].value
    return values


def amount_at(zone: Zone, at: datetime, equal: bool) -> float:
    """How much of a zone there is at a moment; outside all dated values the first one counts."""
    if not zone.amount:
        return 0.0
    return 1.0 if equal else float(dated_values(zone.amount, np.array([to_ms(at)], np.int64))[0])


def offers(
    declared: Declaration, rows: pd.DataFrame, equal: bool = False
) -> tuple[Values, NDArray[np.int64]]:
    """(moments x zones) each zone's share of what was on offer, and the column of the zone used (-1: not found).

    ``rows`` are of `moments`, in any order; ``equal`` counts every zone alike.
    """
    column = {zone: i for i, zone in enumerate(declared.zones)}
    listed = list(declared.zones.values())
    chosen = np.asarray(rows["zone"].map(column).fillna(-1), np.int64)
    times_ms = milliseconds(rows)
    amounts = amounts_offered(declared, listed, rows["enclosure"].tolist(), times_ms, equal)
    _leave_out_unseen(amounts, list(declared.zones), rows)
    _offer_what_was_used(amounts, listed, chosen, times_ms, equal)
    total = amounts.sum(axis=1, keepdims=True)
    return np.divide(amounts, total, out=np.zeros(amounts.shape), where=total > 0), chosen


def unlooked_places(declared: Declaration, rows: pd.DataFrame) -> dict[str, tuple[int, int]]:
    """Places that were there and that nobody looked into: in how many sessions, and of how many."""
    restricted = rows[rows["looked_into"].notna()]
    columns = (restricted[name] for name in ("session", "enclosure", "looked_into", "at"))
    latest = {(str(s), str(e), looked): at for s, e, looked, at in zip(*columns, strict=True)}
    missed: dict[str, set[str]] = {}
    for (session, enclosure, looked), at in latest.items():
        for zone in declared.zones.values():
            there = zone.enclosure == enclosure and any(
                p.span.holds(at.to_pydatetime()) for p in zone.present
            )
            if there and zone.id not in looked:
                missed.setdefault(zone.place, set()).add(session)
    sessions = rows["session"].nunique()
    return {place: (len(found), sessions) for place, found in missed.items()}


def by_place(
    declared: Declaration, availability: Values, chosen: NDArray[np.int64]
) -> tuple[Values, NDArray[np.int64]]:
    """The same by place: zones of one layout in several enclosures are one column."""
    places = places_of(declared)
    to_place = np.array([places.index(zone.place) for zone in declared.zones.values()])
    return availability @ np.eye(len(places))[to_place], np.where(chosen >= 0, to_place[chosen], -1)


def _leave_out_unseen(amounts: Values, zones: Sequence[str], rows: pd.DataFrame) -> None:
    """Offer only what was there when the session was opened, and in a round only what somebody looked into."""
    codes, sets = pd.factorize(rows["looked_into"].to_numpy(object))
    for i, looked in enumerate(sets):
        seen = np.array([zone in looked for zone in zones])
        # Where nothing of what was there was looked into, "not found" is all the record says.
        held = (codes == i) & (amounts[:, seen] > 0).any(axis=1)
        amounts[np.ix_(held, ~seen)] = 0.0


def _offer_what_was_used(
    amounts: Values,
    listed: Sequence[Zone],
    chosen: NDArray[np.int64],
    times_ms: NDArray[np.int64],
    equal: bool,
) -> None:
    """Put a used zone that was not on the plan among those on offer."""
    sized = np.array([bool(zone.amount) for zone in listed], bool)
    for i in np.flatnonzero((chosen >= 0) & sized[chosen] & (amounts[np.arange(len(chosen)), chosen] <= 0)):
        amounts[i, chosen[i]] = amount_at(listed[int(chosen[i])], from_ms(int(times_ms[i])), equal)


def milliseconds(rows: pd.DataFrame) -> Millis:
    """(rows,) the times of `moments` in ms since 1970, UTC."""
    return np.asarray(rows["at"].astype("datetime64[ms, UTC]").astype("int64"), np.int64)
