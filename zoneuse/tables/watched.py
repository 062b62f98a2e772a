"""What each session saw, moment by moment: scans as answered, focal records at each tick, rounds as one check."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from ..journal.fold import Entry
from ..journal.reader import Session
from ..journal.steady import steadied

DEFAULT_TICK_S = 60.0


@dataclass(frozen=True, slots=True)
class Moment:
    """One animal (or one group in one zone) at one moment. ``zone`` is None where it was not found."""

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


def moments_of(session: Session) -> Iterator[Moment]:
    """The moments of a session in the order of time."""
    if not session.watched:
        return iter(())
    session = replace(session, entries=steadied(session.entries))
    if session.method == "focal":
        return _focal(session)
    if session.method == "retreat-round":
        return _round(session)
    if session.method == "ad-libitum":
        return (_moment(e, late=False) for e in session.entries if e.record.kind in ("seen", "unseen"))
    return _scans(session)


def _moment(entry: Entry, late: bool, at: datetime | None = None) -> Moment:
    record = entry.record
    return Moment(
        at=record.at if at is None else at,
        scan=record.get("scan"),
        animal=record.get("animal"),
        group=record.get("group"),
        count=record.get("count"),
        zone=record.get("zone") if record.kind == "seen" else None,
        behaviour=record.get("behaviour"),
        hidden=bool(record.get("hidden")),
        sure=record.get("sure") is not False,
        late=late,
    )


def _scans(session: Session) -> Iterator[Moment]:
    """The last answer of each scan for each animal; a scan answered after it was missed is late."""
    answers: dict[tuple[int | None, str, str], list[Entry]] = defaultdict(list)
    missed = set()
    for entry in session.entries:
        record = entry.record
        who = (
            ("group", record.get("group") or "")
            if record.get("group")
            else ("animal", record.get("animal") or "")
        )
        if record.kind == "missed":
            missed.add((record.get("scan"), *who))
        elif record.kind in ("seen", "unseen"):
            answers[record.get("scan"), *who].append(entry)
    late_keys = missed & answers.keys()
    kept: list[Moment] = []
    for key, entries in answers.items():
        scan, kind, name = key
        if scan is not None and name:
            entries = _last_answer(entries, one=kind == "animal")
        kept += (_moment(e, key in late_keys) for e in entries)
    yield from sorted(kept, key=lambda m: (m.at, m.scan or 0))


def _round(session: Session) -> Iterator[Moment]:
    """A round is one check: each animal's last record, and every count of groups and of those not told apart.

    A table's rounds bring scan numbers of their own; within one of them the same holds.
    """
    known: dict[tuple[int, str], Entry] = {}
    counted: list[Entry] = []
    for entry in session.entries:
        if entry.record.kind not in ("seen", "unseen"):
            continue
        if name := entry.record.get("animal"):
            known[entry.record.get("scan") or 1, name] = entry
        else:
            counted.append(entry)
    found = [
        replace(_moment(e, late=False), scan=e.record.get("scan") or 1) for e in (*known.values(), *counted)
    ]
    yield from sorted(found, key=lambda m: (m.at, m.scan or 0))


def _last_answer(entries: list[Entry], one: bool) -> list[Entry]:
    """An animal's last record; a group's last set of counts, which share their time."""
    if one:
        return entries[-1:]
    last = entries[-1].record.at
    return [e for e in entries if e.record.at == last]


# A day without a record is a session left open, not a day of watching.
_LONGEST = timedelta(hours=24)


def _focal(session: Session) -> Iterator[Moment]:
    """The state of each followed animal at every tick; `unseen` ends what was known, pauses give nothing."""
    tick = timedelta(seconds=max(session.every_s or DEFAULT_TICK_S, 1.0))
    parts: dict[int, list[Entry]] = defaultdict(list)
    for entry in session.entries:
        parts[entry.part].append(entry)
    for entries in parts.values():
        yield from _focal_part(entries, tick)


def _focal_part(entries: list[Entry], tick: timedelta) -> Iterator[Moment]:
    opened = entries[0].record
    state: dict[str, Moment] = {}
    paused = False
    due = opened.at
    for entry in entries:
        record = entry.record
        # Seconds since opening, so that a clock that is set during the session moves nothing.
        now = record.at if record.mono is None else opened.at + timedelta(seconds=record.mono)
        if now - due > _LONGEST:
            due += (now - due) // tick * tick
        while due < now:
            if not paused:
                yield from (_at(m, due) for m in state.values())
            due += tick
        if record.kind in ("paused", "resumed"):
            paused = record.kind == "paused"
        elif record.kind in ("seen", "unseen") and record.get("animal"):
            name = record.get("animal")
            state[name] = _repeating(_moment(entry, late=False), state.get(name))


def _at(moment: Moment, at: datetime) -> Moment:
    return Moment(
        at, None, moment.animal, None, None, moment.zone, moment.behaviour, moment.hidden, moment.sure, False
    )  # fmt: skip


def _repeating(new: Moment, before: Moment | None) -> Moment:
    """A record that names no behaviour leaves the behaviour as it was, unless the animal was lost."""
    if new.zone is None or new.behaviour is not None or before is None or before.zone is None:
        return new
    return Moment(
        new.at, None, new.animal, None, None, new.zone, before.behaviour, new.hidden, new.sure, False
    )  # fmt: skip
