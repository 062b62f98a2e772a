"""The same animal recorded twice at once: which of two sessions counts, decided moment by moment."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from ..journal import Session
from .rounds import ROUND, rounds_of
from .watched import DEFAULT_TICK_S, Moment

SECOND_OBSERVER = "second observer"
RECORDED_AGAIN = "recorded again"

Watched = Mapping[str, Sequence[Moment]]
"""Session id to its moments."""
Doubled = dict[tuple[str, int], str]
"""(session, number of the moment in it) to why it does not count."""


def recorded_twice(sessions: Iterable[Session], watched: Watched, usual_s: float) -> Doubled:
    """Moments that stay out because the same animal was on record already within the interval of one scan.

    One observer's records of one time (from a film, say): those entered first count. Then of two observers the
    earlier opened counts. ``usual_s`` is the interval of a session that states none (a look, a round).
    """
    listed = list(sessions)
    doubled: Doubled = {}
    by_observer: dict[str, list[Session]] = defaultdict(list)
    for session in listed:
        by_observer[session.observer].append(session)
    for own in by_observer.values():
        own.sort(key=lambda s: (entered(s), s.opened, s.id))
        _leave_out(own, watched, usual_s, doubled, RECORDED_AGAIN)
    if len(by_observer) > 1:
        listed.sort(key=lambda s: (s.opened, s.id))
        _leave_out(listed, watched, usual_s, doubled, SECOND_OBSERVER)
    return doubled


def entered(session: Session) -> datetime:
    """When a session was written down: as it was watched, or later (a table, a film)."""
    return min((e.record.entered or e.record.at for e in session.entries), default=session.opened)


def _leave_out(
    ordered: Sequence[Session], watched: Watched, usual_s: float, doubled: Doubled, why: str
) -> None:
    """Go through the sessions in their order; what an earlier one holds within its interval stays out of a later."""
    # By animal: the times that count so far, in order, by who recorded them and how long a look stands for.
    known: dict[str, dict[tuple[str, timedelta], list[datetime]]] = defaultdict(dict)
    for session in ordered:
        mine: dict[str, list[datetime]] = defaultdict(list)
        for number, moment in enumerate(watched.get(session.id, ())):
            if (session.id, number) in doubled or not moment.name:
                continue
            if any(
                _held_against(who, session, why) and _near(times, moment.at, step)
                for (who, step), times in known[moment.name].items()
            ):
                doubled[session.id, number] = why
            else:
                mine[moment.name].append(moment.at)
        key = session.observer, _interval(session, usual_s)
        for name, times in mine.items():
            held = known[name].setdefault(key, [])
            in_order = not held or held[-1] <= times[0]
            held += times
            if not in_order or any(a > b for a, b in pairwise(times)):
                held.sort()


def _interval(session: Session, usual_s: float) -> timedelta:
    """How long one look of a session stands for: its scan's interval, or as long as a round took."""
    usual = timedelta(seconds=session.every_s or usual_s or DEFAULT_TICK_S)
    if session.method != ROUND:
        return usual
    return max([usual, *(one.end - one.start for one in rounds_of(session))])


def _held_against(observer: str, session: Session, why: str) -> bool:
    return (observer == session.observer) == (why == RECORDED_AGAIN)


def _near(times: Sequence[datetime], at: datetime, step: timedelta) -> bool:
    i = bisect_left(times, at)
    return (i > 0 and at - times[i - 1] < step) or (i < len(times) and times[i] - at < step)
