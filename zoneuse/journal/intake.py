"""Take in a table of past sightings: good rows become journal files, bad ones are named, none comes twice."""

from __future__ import annotations

import hashlib
from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from ..study.clock import spoken_time
from ..study.model import METHODS, Animal, Declaration, Group
from ..study.names import UnknownNameError, find_behaviour, find_who, find_zone, home, zones_known
from ..study.problems import Problem
from .fold import Entry, Place, reference
from .local_times import EXPECTED, in_utc, read_clock_time
from .reader import LONGEST, Journals, Session
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
    """One good row. ``zone`` is None where it was looked for and not found; without ``who`` a round looked there."""

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
        if not self.who:
            return "checked"
        return "happened" if self.momentary else "seen" if self.zone else "unseen"

    @property
    def key(self) -> RowKey:
        by_zone = self.group or not self.who
        apart = f"event {self.behaviour}" if self.momentary else self.zone or "" if by_zone else ""
        return self.session, self.observer, self.at, self.who, apart


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of taking a table in."""

    rows: int
    sessions: int
    skipped: int
    refused: tuple[Problem, ...]
    files: tuple[Path, ...]
    corrected: int = 0
    taken_back: int = 0


def understand(
    declared: Declaration, table: TableFile, long_sessions: Collection[str] = ()
) -> tuple[list[Sighting], list[Problem]]:
    """The good rows of a table in the order of the file, and what is wrong with the others.

    A session that seems to last for days is refused whole unless ``long_sessions`` names it: one mistyped month
    makes one.
    """
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
                good.append(_sighting(declared, line, rows[line], at, session, observer=observer))
            except _RowError as error:
                refuse(line, error.column, error.found, error.expected)
    good, too_long = _without_long(declared, table.path, good, long_sessions)
    refused += too_long
    return good, sorted(refused, key=lambda p: int(p.place.split(",")[0].split()[1]))


# So many times as long as study.toml says a session of a table is asked about, as is any longer than a day.
_FAR_BEYOND, _AT_LEAST = 30, timedelta(hours=12)


def _without_long(
    declared: Declaration, path: Path, good: Sequence[Sighting], confirmed: Collection[str]
) -> tuple[list[Sighting], list[Problem]]:
    """The rows but for those of sessions that seem to last for days, and a problem for each of these."""
    minutes = declared.watching.minutes if declared.watching.says_minutes else None
    usual = None if minutes is None else max(minutes * _FAR_BEYOND * timedelta(minutes=1), _AT_LEAST)
    limit = LONGEST if usual is None else min(LONGEST, usual)
    spans: dict[SessionKey, list[Sighting]] = defaultdict(list)
    for sighting in good:
        spans[sighting.session, sighting.observer].append(sighting)
    problems, left = [], set()
    for (session, observer), rows in spans.items():
        ordered = sorted(rows, key=lambda s: s.at)
        lasts = ordered[-1].at - ordered[0].at
        if lasts <= limit or session in confirmed:
            continue
        left.add((session, observer))
        problems.append(_too_long(declared, path, session, ordered))
    return [s for s in good if (s.session, s.observer) not in left], problems


def _too_long(declared: Declaration, path: Path, session: str, ordered: Sequence[Sighting]) -> Problem:
    """Names the rows on the far side of the widest gap, as few as may be: there the slip will be."""
    cut = max(range(1, len(ordered)), key=lambda i: ordered[i].at - ordered[i - 1].at)
    few = min(ordered[:cut], ordered[cut:], key=len)
    lines = ", ".join(str(s.line) for s in few[:5]) + (" …" if len(few) > 5 else "")
    zone = declared.timezone
    lasts = ordered[-1].at - ordered[0].at
    long = f"{lasts.days} days" if lasts.days > 1 else f"{lasts.total_seconds() / 3600:.0f} hours"
    rest = ordered[-1] if few[0] is ordered[0] else ordered[0]
    return Problem(
        "long-session", str(path), f"line {few[0].line}, column at",
        f"session {session} would last {long}: {len(few)} of its {len(ordered)} rows (line {lines}) are from "
        f"{spoken_time(few[0].at, zone)}, the others from {spoken_time(rest.at, zone)}",
        "rows of one sitting in a session",
        f"Correct the time, give the rows sessions of their own, or confirm it with --long-session {session}",
    )  # fmt: skip


def _observer(declared: Declaration, row: Mapping[str, str]) -> str:
    return row.get("observer") or declared.watching.observer


class _RowError(ValueError):
    def __init__(self, column: str, found: str, expected: str) -> None:
        super().__init__(found)
        self.column, self.found, self.expected = column, found, expected


def _sighting(
    declared: Declaration, line: int, row: Mapping[str, str], at: datetime, session: str, *, observer: str
) -> Sighting:
    method = row.get("method") or "scan"
    if method not in METHODS:
        raise _RowError("method", f"found {method[:40]!r}", "one of " + ", ".join(METHODS))
    nobody = method == "retreat-round" and not row.get("animal") and not row.get("group") and row["zone"]
    one, where = (None, None) if nobody else _who(declared, row, at)
    group = isinstance(one, Group)
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
        line, at, session, observer, method, one.id if one else "", group, _count(row, group),
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


def take_in(
    declared: Declaration,
    table: TableFile,
    journals: Journals,
    now: datetime,
    long_sessions: Collection[str] = (),
) -> Taken:
    """Write the good rows that are not there yet, one journal file for each session they belong to.

    A row that was corrected since stays corrected, one that was taken back stays out. A session whose rows are
    partly there (a table that has grown) goes on in its next part. Raises OSError where the disk refuses; what was
    written counts, and running again completes it.
    """
    good, refused = understand(declared, table, long_sessions)
    there = _already_there(journals)
    fresh: dict[SessionKey, list[Sighting]] = defaultdict(list)
    known: dict[SessionKey, str] = {}
    fates: Counter[str] = Counter()
    for sighting in good:
        key = sighting.session, sighting.observer
        first = there.setdefault(sighting.key, _Known(sighting))
        if first.session is not None:
            known[key] = first.session
        if first.sighting is sighting:
            fresh[key].append(sighting)
        elif first.fate:
            fates[first.fate] += 1
        elif (first.sighting.zone, first.sighting.count) == (sighting.zone, sighting.count):
            fates["skipped"] += 1
        else:
            refused.append(_contradiction(table, sighting, first.sighting))
    files = [
        _write(declared, table, key, rows, journals.sessions.get(known.get(key, "")), now=now)
        for key, rows in fresh.items()
    ]
    return Taken(
        sum(map(len, fresh.values())), len(files), fates["skipped"], tuple(refused), tuple(files),
        fates[CORRECTED], fates[TAKEN_BACK],
    )  # fmt: skip


CORRECTED, TAKEN_BACK = "corrected", "taken back"


@dataclass(frozen=True, slots=True)
class _Known:
    """A row there is already: of this table (``session`` None), or taken in before. ``fate``: corrected, taken back."""

    sighting: Sighting
    session: str | None = None
    fate: str = ""


def _already_there(journals: Journals) -> dict[RowKey, _Known]:
    """Rows taken in before, as they stood in the table; not those that went out with their table."""
    there: dict[RowKey, _Known] = {}
    for session in journals.sessions.values():
        name = session.source.get("session")
        if not isinstance(name, str):
            continue
        # What stands in for a row is no row of the table; the row it corrects lies among the void.
        own = [(e, "") for e in session.entries if e.written is None]
        gone = [
            (e, CORRECTED if e.place in journals.replaced else TAKEN_BACK)
            for e in session.void
            if e.place not in session.undone
        ]
        for entry, fate in (*gone, *own):
            if entry.record.kind in ("seen", "unseen", "happened", "checked"):
                sighting = _from_entry(session, name, entry)
                there[sighting.key] = _Known(sighting, session.id, fate)
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
    *,
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
    if not sighting.who:
        return {"zone": sighting.zone}
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
    whole: list[Place | str] = []
    for session in journals.sessions.values():
        parts = {e.in_part: e.record for e in session.entries if e.record.kind == "opened"}
        mine = {
            part for part, opened in parts.items() if (opened.get("source") or {}).get("sha256") == sha256
        }
        if mine and mine == set(parts):
            whole.append(session.id)
        else:
            whole += [e.place for e in session.entries if e.in_part in mine]
    if whole:
        rows = [
            Row(
                "took-back",
                {"of": reference(of) if isinstance(of, Place) else {"session": of}, "undo": sha256},
            )
            for of in whole
        ]
        write_rows(declared, now, rows)
    return len({of.session if isinstance(of, Place) else of for of in whole})
