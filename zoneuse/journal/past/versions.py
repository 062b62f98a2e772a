"""What of a table is here already: rows as before, new ones, changed ones, and those that stand in it no longer."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from zoneuse.study import Problem

from ..fold import Entry, Place
from ..reader import Journals, Session
from .sighting import RowKey, SessionKey, Sighting
from .table import TableFile
from .under import otherwise, recorded_under

CORRECTED, TAKEN_BACK = "corrected", "taken back"


@dataclass(frozen=True, slots=True)
class RowChange:
    """A row that differs from what is here: ``old`` as it counts at ``place``; ``new`` None where it is gone."""

    place: Place
    old: Sighting
    new: Sighting | None
    scan: int | None = None


@dataclass(frozen=True, slots=True)
class Compared:
    """A table held against what was taken in before. ``sessions``: the sessions here of those it names.

    ``fates`` has one entry for each row that is here already: "" as it stands, or corrected or taken back since.
    """

    fresh: tuple[Sighting, ...]
    fates: tuple[str, ...]
    changed: tuple[RowChange, ...]
    gone: tuple[RowChange, ...]
    refused: tuple[Problem, ...]
    sessions: Mapping[SessionKey, str]

    @property
    def as_before(self) -> int:
        """How many sessions of the table are here and bring nothing new."""
        moved = {(s.session, s.observer) for s in self.fresh}
        moved |= {(c.old.session, c.old.observer) for c in (*self.changed, *self.gone)}
        return len(self.sessions.keys() - moved)


@dataclass(frozen=True, slots=True)
class _Known:
    """A row there is already: of this table (``session`` ""), or taken in before, as its table has it now."""

    sighting: Sighting
    session: str = ""
    place: Place | None = None
    scan: int | None = None
    fate: str = ""


def compare(table: TableFile, good: Sequence[Sighting], journals: Journals) -> Compared:
    """Which rows are new, and which contradict what is here. A row is the same by session, observer, time and who."""
    there = _already_there(journals)
    before = dict(there)
    fresh, fates, changed, refused = [], [], [], []
    sessions: dict[SessionKey, str] = {}
    stood_under = recorded_under(journals)
    for sighting in good:
        first = there.setdefault(sighting.key, _Known(sighting))
        if problem := otherwise(table.path, sighting, first.place, stood_under):
            refused.append(problem)
            sessions[sighting.session, sighting.observer] = first.session
            continue
        if first.session:
            sessions[sighting.session, sighting.observer] = first.session
        if first.sighting is sighting:
            fresh.append(sighting)
        elif first.fate:
            fates += [first.fate] * sighting.rows
        elif _same(first.sighting, sighting):
            fates += [""] * sighting.rows
            there[sighting.key] = _Known(sighting)
        elif first.place is not None:
            changed.append(RowChange(first.place, first.sighting, sighting, first.scan))
            # A second row of the table for this moment contradicts the first, not what was here.
            there[sighting.key] = _Known(sighting)
        else:
            refused.append(_contradiction(table, sighting, first.sighting))
    gone = _gone(good, before, set(sessions.values()))
    fresh, moved, gone = _moved(fresh, gone, sessions)
    return Compared(
        tuple(fresh), tuple(fates), (*changed, *moved), tuple(gone), tuple(refused), sessions
    )  # fmt: skip


def _same(one: Sighting, other: Sighting) -> bool:
    mine, theirs = ((s.zone, s.count, s.behaviour, s.seconds, s.of_seconds) for s in (one, other))
    return mine == theirs


def _gone(good: Sequence[Sighting], before: Mapping[RowKey, _Known], sessions: set[str]) -> list[RowChange]:
    """What is here of the table's sessions and stands in it no longer."""
    kept = {s.key for s in good}
    return [
        RowChange(known.place, known.sighting, None, known.scan)
        for key, known in before.items()
        if known.session in sessions and key not in kept and not known.fate and known.place is not None
    ]


def _moved(
    fresh: list[Sighting], gone: list[RowChange], sessions: Mapping[SessionKey, str]
) -> tuple[list[Sighting], list[RowChange], list[RowChange]]:
    """Rows whose time was changed, or a group's zone: gone at one key and new at another, pair by pair in time."""
    lost: dict[tuple[str, str, str], list[RowChange]] = defaultdict(list)
    for change in sorted(gone, key=lambda c: c.old.at):
        lost[change.old.session, change.old.observer, change.old.who].append(change)
    stay, moved = [], []
    for sighting in sorted(fresh, key=lambda s: (s.at, s.line)):
        waiting = lost.get((sighting.session, sighting.observer, sighting.who))
        if waiting and (sighting.session, sighting.observer) in sessions:
            old = waiting.pop(0)
            moved.append(RowChange(old.place, old.old, sighting, old.scan))
        else:
            stay.append(sighting)
    return sorted(stay, key=lambda s: s.line), moved, [c for several in lost.values() for c in several]


def _already_there(journals: Journals) -> dict[RowKey, _Known]:
    """Rows taken in before, as their table has them now; not those that went out with their table."""
    there: dict[RowKey, _Known] = {}
    for session in journals.sessions.values():
        name = session.source.get("session")
        if not isinstance(name, str):
            continue
        for known in _of_session(journals, session, name):
            there[known.sighting.key] = known
    return there


def _of_session(journals: Journals, session: Session, name: str) -> Iterator[_Known]:
    gone = [e for e in session.void if e.place not in session.undone]
    # What stands in for a row is no row of the table; the row it corrects lies among the void.
    own = [e for e in session.entries if e.written is None]
    for entry in (*gone, *own):
        if (
            entry.record.kind not in ("seen", "unseen", "happened", "checked", "spent")
            or entry.written is not None
        ):
            continue
        last, fate = _as_the_table_has_it(journals, entry)
        if last is not None:
            scan = entry.record.get("scan")
            yield _Known(_from_entry(session, name, last), session.id, last.place, scan, fate)


def _as_the_table_has_it(journals: Journals, entry: Entry) -> tuple[Entry | None, str]:
    """The row after the later versions that replaced it, and what a person made of that; None where it is gone."""
    last, seen = entry, {entry.place}
    while backs := journals.backs.get(last.place, ()):
        by_table = bool(backs[-1].record.get("source"))
        instead = journals.replaced.get(last.place)
        if not by_table:
            return last, CORRECTED if instead is not None else TAKEN_BACK
        following = None if instead is None or instead in seen else journals.written(instead)
        if following is None:
            return None, ""
        last = following
        seen.add(last.place)
    return last, ""


def _from_entry(session: Session, name: str, entry: Entry) -> Sighting:
    record = entry.record
    who = record.get("animal") or record.get("group") or ""
    momentary = record.kind == "happened"
    return Sighting(
        0, record.at, name, session.observer, session.method, who, record.get("group") is not None,
        record.get("count"), record.get("zone"), record.get("behaviour"), momentary,
        seconds=record.get("seconds"), of_seconds=record.get("of_seconds"),
    )  # fmt: skip


def _contradiction(table: TableFile, row: Sighting, first: Sighting) -> Problem:
    where = f"{row.who} is {where_words(row)}, but line {first.line} has it then as {where_words(first)}"
    return Problem(
        "row-twice", str(table.path), f"line {row.line}, column zone", where, "one place at a time",
        "Correct the table",
    )  # fmt: skip


def where_words(one: Sighting) -> str:
    counted = f"{one.count} in " if one.count else ""
    doing = f", {one.behaviour}" if one.behaviour else ""
    return f"{counted}{one.zone or 'not found'}{doing}"
