"""What each session saw, moment by moment: scans as answered, focal records at each tick, rounds as one check."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from ..journal import LEAST_STEP, Entry, Session, steadied
from ..study import Declaration

DEFAULT_TICK_S = 60.0
SIGHTINGS = ("seen", "unseen")


@dataclass(frozen=True, slots=True)
class Moment:
    """One animal (or one group in one zone) at one moment.

    ``zone`` is None where it was not found; ``source`` the record's index among the session's entries, -1 where
    no record says it (an animal that a round found nowhere).
    """

    at: datetime
    scan: int | None
    animal: str | None
    group: str | None
    count: int | None
    zone: str | None
    behaviour: str | None
    hidden: bool
    sure: bool
    late: bool
    part: tuple[int, str]
    source: int
    # Seen, and outside the outline of every zone.
    nowhere: bool = False

    @property
    def name(self) -> str:
        """The animal's or the group's id; empty for one of them, not known which."""
        return self.animal or self.group or ""


def moments_of(session: Session) -> list[Moment]:
    """The moments of a session in the order of time."""
    if not session.watched:
        return []
    session = replace(session, entries=steadied(session.entries))
    numbered = [(i, e) for i, e in enumerate(session.entries) if e.record.kind in SIGHTINGS]
    if session.method == "focal":
        return list(_focal(session))
    if session.method == "retreat-round":
        return _round(numbered)
    if session.method == "ad-libitum":
        return [_moment(i, e, late=False) for i, e in numbered]
    return _scans(session.entries, numbered)


def treatments_of(session: Session) -> dict[tuple[int, str], object]:
    """What each part of a session was under, as its opening says."""
    return {e.in_part: e.record.get("treatment") for e in session.entries if e.record.kind == "opened"}


SPENT = "spent"


def budgets_of(session: Session) -> list[tuple[Moment, float]]:
    """The time budgets of a session: whose, where or doing what, and the share of the time. They are no moments."""
    if not session.watched:
        return []
    found = []
    for i, entry in enumerate(session.entries):
        if entry.record.kind == SPENT:
            said = replace(_moment(i, entry, late=False), zone=entry.record.get("zone"))
            found.append((said, float(entry.record.get("seconds")) / float(entry.record.get("of_seconds"))))
    return found


def watched_for(declared: Declaration, session: Session) -> dict[tuple[str, str], float]:
    """Hours that somebody was watched for what only happens, by animal or group and behaviour, where a record says so.

    A table of counts writes them as time budgets of a momentary behaviour, in which no time was spent.
    """
    hours: dict[tuple[str, str], float] = defaultdict(float)
    for entry in session.entries:
        record = entry.record
        behaviour = declared.behaviours.get(record.get("behaviour") or "")
        if record.kind == SPENT and behaviour is not None and not behaviour.lasts:
            who = record.get("animal") or record.get("group") or ""
            hours[who, behaviour.id] += float(record.get("of_seconds")) / 3600
    return dict(hours)


def _moment(source: int, entry: Entry, late: bool) -> Moment:
    record = entry.record
    return Moment(
        at=record.at,
        scan=record.get("scan"),
        animal=record.get("animal"),
        group=record.get("group"),
        count=record.get("count"),
        zone=record.get("zone") if record.kind == "seen" else None,
        behaviour=record.get("behaviour"),
        hidden=bool(record.get("hidden")),
        sure=record.get("sure") is not False,
        late=late,
        part=entry.in_part,
        source=source,
        nowhere=bool(record.get("nowhere")),
    )


def _scans(entries: Sequence[Entry], numbered: Sequence[tuple[int, Entry]]) -> list[Moment]:
    """The last answer of each scan for each animal; a scan answered after it was missed is late."""
    missed = {(e.record.get("scan"), *_who(e)) for e in entries if e.record.kind == "missed"}
    answers: dict[tuple[int | None, str, str], list[tuple[int, Entry]]] = defaultdict(list)
    for i, entry in numbered:
        answers[entry.record.get("scan"), *_who(entry)].append((i, entry))
    kept: list[Moment] = []
    for key, given in answers.items():
        scan, kind, name = key
        if scan is not None and name:
            given = _last_answer(given, one=kind == "animal")
        kept += (_moment(i, e, key in missed) for i, e in given)
    return sorted(kept, key=lambda m: (m.at, m.scan or 0))


def _who(entry: Entry) -> tuple[str, str]:
    kind = "group" if entry.record.get("group") else "animal"
    return kind, entry.record.get(kind) or ""


def _round(numbered: Sequence[tuple[int, Entry]]) -> list[Moment]:
    """A round is one check: each animal's last record, and every count of groups and of those not told apart.

    A table's rounds bring scan numbers of their own; within one of them the same holds.
    """
    known: dict[tuple[int, str], tuple[int, Entry]] = {}
    counted: list[tuple[int, Entry]] = []
    for i, entry in numbered:
        if name := entry.record.get("animal"):
            known[entry.record.get("scan") or 1, name] = i, entry
        else:
            counted.append((i, entry))
    found = [
        replace(_moment(i, e, late=False), scan=e.record.get("scan") or 1)
        for i, e in (*known.values(), *counted)
    ]
    return sorted(found, key=lambda m: (m.at, m.scan or 0))


def _last_answer(given: list[tuple[int, Entry]], one: bool) -> list[tuple[int, Entry]]:
    """An animal's last record; a group's last set of counts, which share their time."""
    if one:
        return given[-1:]
    last = given[-1][1].record.at
    return [(i, e) for i, e in given if e.record.at == last]


# A day without a record is a session left open, not a day of watching.
_LONGEST = timedelta(hours=24)


def _focal(session: Session) -> Iterator[Moment]:
    """The state of each followed animal at every tick; `unseen` ends what was known, pauses give nothing."""
    tick = timedelta(seconds=max(session.every_s or DEFAULT_TICK_S, 1.0))
    parts: dict[tuple[int, str], list[tuple[int, Entry]]] = defaultdict(list)
    for i, entry in enumerate(session.entries):
        parts[entry.in_part].append((i, entry))
    for entries in parts.values():
        yield from _focal_part(entries, tick)


def _focal_part(entries: Sequence[tuple[int, Entry]], tick: timedelta) -> Iterator[Moment]:
    opened = entries[0][1].record.at
    state: dict[str, Moment] = {}
    paused = False
    due, asleep = opened, timedelta()
    timed = sorted(((_when(entry, opened), i, entry) for i, entry in entries), key=lambda t: t[0])
    for now, i, entry in timed:
        slept = _slept(entry, opened)
        if slept - asleep >= LEAST_STEP:
            # While the computer slept nobody could record, so nothing is known of that time.
            yield from _ticks(state, due, now - (slept - asleep), tick, paused)
            due, asleep = now, slept
        if now - due > _LONGEST:
            due += (now - due) // tick * tick
        yield from _ticks(state, due, now, tick, paused)
        if due < now:
            due += -((due - now) // tick) * tick
        if entry.record.kind in ("paused", "resumed"):
            paused = entry.record.kind == "paused"
        elif entry.record.kind in SIGHTINGS and entry.record.get("animal"):
            name = entry.record.get("animal")
            state[name] = _repeating(_moment(i, entry, late=False), state.get(name))


def _ticks(
    state: dict[str, Moment], due: datetime, end: datetime, tick: timedelta, paused: bool
) -> Iterator[Moment]:
    """What is known, at each tick from ``due`` up to ``end``."""
    while due < end and not paused:
        yield from (replace(m, at=due, scan=None, group=None, count=None) for m in state.values())
        due += tick


def _slept(entry: Entry, opened: datetime) -> timedelta:
    """How far the wall clock is ahead of the session's own seconds by then: the computer slept, or was set forward."""
    mono = entry.record.mono
    if mono is None or entry.record.entered is not None:
        return timedelta()
    ahead = entry.record.at - opened - timedelta(seconds=mono)
    return ahead if ahead >= LEAST_STEP else timedelta()


def _when(entry: Entry, opened: datetime) -> datetime:
    """The session's own seconds, so that a clock that drifts moves nothing; the clock where they cannot be believed."""
    mono = entry.record.mono
    if mono is None or entry.record.entered is not None or _slept(entry, opened):
        return entry.record.at
    return opened + timedelta(seconds=mono)


def _repeating(new: Moment, before: Moment | None) -> Moment:
    """A record that names no behaviour leaves the behaviour as it was, unless the animal was lost."""
    if new.zone is None or new.behaviour is not None or before is None or before.zone is None:
        return new
    return replace(new, behaviour=before.behaviour)
