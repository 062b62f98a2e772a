"""When watching was done: every session on the clock, and the hours that were never watched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from ...journal import Session
from ...study import Declaration
from ...tables import AD_LIBITUM
from ..filters import select
from ..question import Question

_SHORTEST_H = 1 / 60


@dataclass(frozen=True, slots=True)
class Watched:
    """A session on one calendar day, in hours of the local clock.

    ``counted`` is false for sightings in passing, which never enter shares.
    """

    session: str
    observer: str
    day: date
    from_hour: float
    to_hour: float
    counted: bool


def when_watched(question: Question) -> list[Watched]:
    """Every session asked for, in order of time; one that passes midnight is there twice."""
    # Sightings in passing are shown here, though they enter no share.
    moments = question.moments
    every = moments.assign(out=moments["out"].where(moments["out"] != AD_LIBITUM, ""))
    rows = select(every, replace(question.filters, behaviours=()))
    listed = set(rows["session"])
    return [
        row
        for s in question.journals.sessions.values()
        if s.id in listed
        for row in _pieces(question.declared, s)
    ]


def _pieces(declared: Declaration, session: Session) -> list[Watched]:
    times = [e.record.at for e in session.entries if e.record.kind in ("seen", "unseen", "missed")]
    if not times:
        return []
    zone = declared.timezone
    start, end = min(times).astimezone(zone), max(times).astimezone(zone)
    found = []
    day = start.date()
    while day <= end.date():
        low = _hour(start) if day == start.date() else 0.0
        high = _hour(end) if day == end.date() else 24.0
        high = min(max(high, low + _SHORTEST_H), 24.0)
        counted = session.method != "ad-libitum"
        found.append(Watched(session.id, session.observer, day, low, high, counted))
        day += timedelta(days=1)
    return found


def _hour(at: datetime) -> float:
    return at.hour + at.minute / 60 + at.second / 3600


def sessions_by_hour(watched: Sequence[Watched]) -> list[int]:
    """How many counted sessions touched each of the 24 clock hours."""
    found = [0] * 24
    for row in (w for w in watched if w.counted):
        for hour in range(int(row.from_hour), min(int(row.to_hour), 23) + 1):
            found[hour] += 1
    return found


def hours_never_watched(watched: Sequence[Watched]) -> list[tuple[int, int]]:
    """Spans of whole clock hours in which no counted session ever was, as (from, to); to may pass 24.

    >>> hours_never_watched([Watched("s", "mk", date(2026, 3, 2), 20.5, 22.2, True)])
    [(23, 44)]
    """
    seen = [number > 0 for number in sessions_by_hour(watched)]
    if all(seen):
        return []
    if not any(seen):
        return [(0, 24)]
    begin = seen.index(True)
    spans: list[tuple[int, int]] = []
    for step in range(24):
        hour = begin + step
        if not seen[hour % 24]:
            if spans and spans[-1][1] == hour:
                spans[-1] = spans[-1][0], hour + 1
            else:
                spans.append((hour, hour + 1))
    return spans
