"""Take in a table of past sightings: good rows become journal files, bad ones are named, none comes twice."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ..study.model import METHODS, Animal, Declaration, Group
from ..study.names import UnknownNameError, find_behaviour, find_who, find_zone, home, zones_known
from ..study.problems import Problem
from .fold import Entry
from .local_times import EXPECTED, in_utc, read_clock_time
from .reader import Journals, Session
from .records import FORMAT, Record
from .rows import Row, write_rows
from .table_file import TableFile
from .writer import new_file_id, new_session_id, write_journal

SessionKey = tuple[str, str]
"""A session as a table names it, and its observer."""
RowKey = tuple[str, str, datetime, str, str]
"""Session, observer, time, who, and what tells rows of one moment apart (a group's zone, an event)."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """One good row. ``zone`` is None where the animal was looked for and not found."""

    line: int
    at: datetime
    session: str
    observer: str
    method: str
    who: str
    group: bool
    count: int | None
    zone: str | None
    behaviour: str | None
    momentary: bool

    @property
    def kind(self) -> str:
        return "happened" if self.momentary else "seen" if self.zone else "unseen"

    @property
    def key(self) -> RowKey:
        apart = f"event {self.behaviour}" if self.momentary else self.zone or "" if self.group else ""
        return self.session, self.observer, self.at, self.who, apart


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of taking a table in."""

    rows: int
    sessions: int
    skipped: int
    refused: tuple[Problem, ...]
    files: tuple[Path, ...]


def understand(declared: Declaration, table: TableFile) -> tuple[list[Sighting], list[Problem]]:
    """The good rows of a table in the order of the file, and what is wrong with the others."""
    refused: list[Problem] = []
    clock: dict[int, datetime] = {}
    by_session: dict[SessionKey, list[int]] = defaultdict(list)
    rows = dict(table.rows)

    def refuse(line: int, column: str, found: str, expected: str, remedy: str = "") -> None:
        refused.append(
            Problem("row", str(table.path), f"line {line}, column {column}", found, expected, remedy)
        )

    for line, row in rows.items():
        try:
            clock[line] = read_clock_time(row["at"])
        except ValueError:
            refuse(line, "at", f"found {row['at'][:40]!r}", EXPECTED)
            continue
        if row["session"]:
            by_session[row["session"], _observer(declared, row)].append(line)
        else:
            refuse(line, "session", "is empty", "a name or number for the session")
    good: list[Sighting] = []
    for (session, observer), lines in by_session.items():
        for line, at in zip(lines, in_utc([clock[i] for i in lines], declared.timezone), strict=True):
            if isinstance(at, str):
                refuse(line, "at", at, "a time that existed once")
                continue
            try:
                good.append(_sighting(declared, line, rows[line], at, session, observer))
            except _RowError as error:
                refuse(line, error.column, error.found, error.expected)
    return good, sorted(refused, key=lambda p: int(p.place.split(",")[0].split()[1]))


def _observer(declared: Declaration, row: Mapping[str, str]) -> str:
    return row.get("observer") or declared.watching.observer


class _RowError(ValueError):
    def __init__(self, column: str, found: str, expected: str) -> None:
        super().__init__(found)
        self.column, self.found, self.expected = column, found, expected


def _sighting(
    declared: Declaration, line: int, row: Mapping[str, str], at: datetime, session: str, observer: str
) -> Sighting:
    one, where = _who(declared, row, at)
    group = isinstance(one, Group)
    method = row.get("method") or "scan"
    if method not in METHODS:
        raise _RowError("method", f"found {method[:40]!r}", "one of " + ", ".join(METHODS))
    zone = None
    try:
        if row["zone"]:
            zone = find_zone(declared, row["zone"], where, at)
    except UnknownNameError as error:
        raise _RowError("zone", str(error), "a zone's id, key or place, or nothing for not found") from None
    if zone is not None and not any(p.span.holds(at) for p in zone.present):
        raise _RowError(
            "zone", f"{zone.id} was not there at that time", "a zone that was; see its present dates"
        )
    behaviour = None
    try:
        if row.get("behaviour"):
            behaviour = find_behaviour(declared, row["behaviour"])
    except UnknownNameError as error:
        raise _RowError("behaviour", str(error), "a behaviour's id or key, or nothing") from None
    momentary = behaviour is not None and not behaviour.lasts
    return Sighting(
        line, at, session, observer, method, one.id, group, _count(row, group),
        zone.id if zone else None, behaviour.id if behaviour else None, momentary,
    )  # fmt: skip


def _who(declared: Declaration, row: Mapping[str, str], at: datetime) -> tuple[Animal | Group, str]:
    column = "group" if row.get("group") else "animal"
    name = row.get(column, "")
    if not name:
        raise _RowError("animal", "is empty", "an animal's id or key")
    try:
        one = find_who(declared, name, at)
    except UnknownNameError as error:
        raise _RowError(column, str(error), "an id or key of study.toml") from None
    where = home(one, at)
    if where is None:
        raise _RowError(
            column, f"{one.id} lived in no enclosure at that time", "a time within its present and lives"
        )
    return one, where


def _count(row: Mapping[str, str], group: bool) -> int | None:
    text = row.get("count", "")
    if not group:
        if text not in ("", "1"):
            raise _RowError("count", f"found {text[:20]!r}", "nothing for a single animal")
        return None
    if not text.isdecimal() or int(text) < 1 or len(text) > 6:
        raise _RowError("count", f"found {text[:20]!r}", "how many of the group, from 1")
    return int(text)


def take_in(declared: Declaration, table: TableFile, journals: Journals, now: datetime) -> Taken:
    """Write the good rows that are not there yet, one journal file for each session they belong to.

    A session whose rows are partly there (a table that has grown) goes on in its next part. Raises OSError
    where the disk refuses; what was written counts, and running again completes it.
    """
    good, refused = understand(declared, table)
    there = _already_there(journals)
    fresh: dict[SessionKey, list[Sighting]] = defaultdict(list)
    known: dict[SessionKey, str] = {}
    skipped = 0
    for sighting in good:
        key = sighting.session, sighting.observer
        first = there.setdefault(sighting.key, (sighting, None))
        same = (first[0].zone, first[0].count) == (sighting.zone, sighting.count)
        if first[1] is not None:
            known[key] = first[1]
        if first[0] is sighting:
            fresh[key].append(sighting)
        elif same:
            skipped += 1
        else:
            refused.append(_contradiction(table, sighting, first[0]))
    files = [
        _write(declared, table, key, rows, journals.sessions.get(known.get(key, "")), now)
        for key, rows in fresh.items()
    ]
    return Taken(sum(map(len, fresh.values())), len(files), skipped, tuple(refused), tuple(files))


def _already_there(journals: Journals) -> dict[RowKey, tuple[Sighting, str | None]]:
    there: dict[RowKey, tuple[Sighting, str | None]] = {}
    for session in journals.sessions.values():
        name = session.source.get("session")
        if not isinstance(name, str):
            continue
        for entry in session.entries:
            if entry.record.kind in ("seen", "unseen", "happened"):
                sighting = _from_entry(session, name, entry)
                there[sighting.key] = sighting, session.id
    return there


def _from_entry(session: Session, name: str, entry: Entry) -> Sighting:
    record = entry.record
    who = record.get("animal") or record.get("group") or ""
    momentary = record.kind == "happened"
    return Sighting(
        0, record.at, name, session.observer, session.method, who, record.get("group") is not None,
        record.get("count"), record.get("zone"), record.get("behaviour"), momentary,
    )  # fmt: skip


def _contradiction(table: TableFile, row: Sighting, first: Sighting) -> Problem:
    def where(one: Sighting) -> str:
        counted = f"{one.count} in " if one.count else ""
        return f"{counted}{one.zone or 'not found'}"

    earlier = f"line {first.line}" if first.line else "what was taken in before"
    return Problem(
        "row-twice", str(table.path), f"line {row.line}, column zone",
        f"{row.who} is {where(row)}, but {earlier} has it then as {where(first)}", "one place at a time",
        "Correct the table, or the earlier record with: zoneuse mend",
    )  # fmt: skip


def _write(
    declared: Declaration,
    table: TableFile,
    key: SessionKey,
    rows: list[Sighting],
    old: Session | None,
    now: datetime,
) -> Path:
    rows = sorted(rows, key=lambda s: (s.at, s.line))
    scans = {e.record.at: e.record.get("scan") for e in (old.entries if old else ()) if e.record.get("scan")}
    last = max(scans.values(), default=0)
    method = rows[0].method
    if method == "scan" or method == "retreat-round":
        for at in sorted({s.at for s in rows if not s.momentary} - scans.keys()):
            last += 1
            scans[at] = last
    else:
        scans = {}
    name, observer = key
    session = old.id if old else _session_id(rows[0].at, observer, table, name)
    part = old.parts + 1 if old else 1
    header: dict[str, Any] = {
        "format": FORMAT, "study": declared.title, "session": session, "part": part, "file": new_file_id(),
        "observer": observer, "method": method, "zones": zones_known(declared, rows[0].at),
        "timezone": str(declared.timezone),
        "source": {"name": table.path.name, "sha256": table.sha256, "session": name},
    }  # fmt: skip
    local = declared.timezone
    records = [Record(1, rows[0].at.astimezone(local), "opened", header, now.astimezone(local))]
    for sighting in rows:
        fields = _fields(sighting, scans.get(sighting.at))
        records.append(
            Record(
                len(records) + 1, sighting.at.astimezone(local), sighting.kind, fields, now.astimezone(local)
            )
        )
    end = rows[-1].at.astimezone(local)
    records.append(Record(len(records) + 1, end, "closed", {"reason": "finished"}, now.astimezone(local)))
    return write_journal(declared.folder, records)


def _session_id(at: datetime, observer: str, table: TableFile, name: str) -> str:
    """As a new session's, with digits of the table and its session, so that two tables never share one."""
    stem = new_session_id(at, observer).rsplit("-", 1)[0]
    digest = hashlib.sha256(f"{table.sha256} {name} {observer}".encode()).hexdigest()[:6]
    return f"{stem}-{digest}-{new_session_id(at, observer)[-4:]}"


def _fields(sighting: Sighting, scan: int | None) -> dict[str, Any]:
    fields: dict[str, Any] = {"group" if sighting.group else "animal": sighting.who}
    if sighting.count is not None:
        fields["count"] = sighting.count
    if sighting.zone is not None:
        fields["zone"] = sighting.zone
    if sighting.behaviour is not None and sighting.kind != "unseen":
        fields["behaviour"] = sighting.behaviour
    if scan is not None and not sighting.momentary:
        fields["scan"] = scan
    return fields


def undo(declared: Declaration, sha256: str, journals: Journals, now: datetime) -> int:
    """Take back everything that came from a file; returns how many sessions or parts of one that was."""
    whole: list[dict[str, Any]] = []
    for session in journals.sessions.values():
        parts = {e.part: e.record for e in session.entries if e.record.kind == "opened"}
        mine = {
            part for part, opened in parts.items() if (opened.get("source") or {}).get("sha256") == sha256
        }
        if mine and mine == set(parts):
            whole.append({"session": session.id})
        else:
            whole += [
                {"session": session.id, "part": e.part, "n": e.record.n}
                for e in session.entries
                if e.part in mine
            ]
    if whole:
        write_rows(declared, now, [Row("took-back", {"of": of}) for of in whole])
    return len({of["session"] for of in whole})
