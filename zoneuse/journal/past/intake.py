"""Take in a table of past sightings: good rows become journal files, bad ones are named, none comes twice."""

from __future__ import annotations

import hashlib
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from zoneuse.study import Declaration, Problem, zones_known

from ..fold import Place, reference
from ..reader import Journals, Session
from ..records import FORMAT, Record
from ..rows import RecordToWrite, write_rows
from ..writer import new_file_id, new_session_id, table_session_id, write_journal
from .rows import SessionKey, Sighting, record_fields, understand
from .table import TableFile
from .under import under
from .versions import CORRECTED, TAKEN_BACK, Compared, RowChange, compare


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of taking a table in. ``changed``: rows that differ from what is here; ``gone``: no longer in it."""

    rows: int
    sessions: int
    skipped: int
    refused: tuple[Problem, ...]
    files: tuple[Path, ...]
    corrected: int = 0
    taken_back: int = 0
    changed: tuple[RowChange, ...] = ()
    gone: tuple[RowChange, ...] = ()
    replaced: int = 0


def take_in(
    declared: Declaration,
    table: TableFile,
    journals: Journals,
    now: datetime,
    *,
    long_sessions: Collection[str] = (),
    replace: bool = False,
) -> Taken:
    """Write the good rows that are not there yet, one journal file for each session they belong to.

    A row that was corrected since stays corrected, one that was taken back stays out. A session whose rows are
    partly there (a table that has grown) goes on in its next part. Rows that say something else than before wait
    for ``replace``, as do those that stand no longer in a session of the table. Raises OSError where the disk
    refuses; what was written counts, and running again completes it.
    """
    good, refused = understand(declared, table, long_sessions)
    found = compare(table, good, journals)
    by_session: dict[SessionKey, list[Sighting]] = defaultdict(list)
    for sighting in found.fresh:
        by_session[sighting.session, sighting.observer].append(sighting)
    files = [
        _write(declared, table, key, rows, journals.sessions.get(found.sessions.get(key, "")), now=now)
        for key, rows in by_session.items()
    ]
    replaced = 0
    if replace and (found.changed or found.gone):
        replaced = _replace_rows(declared, table, (*found.changed, *found.gone), now)
    return _taken(found, refused, files, replaced)


def _taken(found: Compared, refused: list[Problem], files: list[Path], replaced: int) -> Taken:
    fates: Counter[str] = Counter(found.fates)
    return Taken(
        sum(s.rows for s in found.fresh), len(files), fates[""], (*refused, *found.refused), tuple(files),
        fates[CORRECTED], fates[TAKEN_BACK], found.changed, found.gone, replaced,
    )  # fmt: skip


def _opening(
    declared: Declaration, table: TableFile, key: SessionKey, rows: Sequence[Sighting], old: Session | None
) -> dict[str, Any]:
    """What the first record of a session's file says."""
    name, observer = key
    header: dict[str, Any] = {
        "format": FORMAT, "study": declared.title,
        "session": old.id if old else _session_id(declared, rows[0].at, key, table),
        "part": old.parts + 1 if old else 1, "file": new_file_id(),
        "observer": observer, "method": rows[0].method, "zones": zones_known(declared, rows[0].at),
        "timezone": str(declared.timezone),
        "source": {"name": table.path.name, "sha256": table.sha256, "session": name, **_kept(table)},
    }  # fmt: skip
    if rows[0].method == "focal":
        # How often a state is read off what was followed, as the study declares it.
        header["every_s"] = declared.watching.every_s
    if what := under(rows):
        header["treatment"] = what
    return header


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
    header = _opening(declared, table, key, rows, old)
    local = declared.timezone
    records = [Record(1, rows[0].at.astimezone(local), "opened", header, now.astimezone(local))]
    for sighting in rows:
        fields = record_fields(sighting, scans.get(sighting.at))
        records.append(
            Record(
                len(records) + 1, sighting.at.astimezone(local), sighting.kind, fields, now.astimezone(local)
            )
        )
    end = max(s.until or s.at for s in rows).astimezone(local)
    records.append(Record(len(records) + 1, end, "closed", {"reason": "finished"}, now.astimezone(local)))
    return write_journal(declared.folder, records)


def _kept(table: TableFile) -> dict[str, Any]:
    """How the table was read, to be offered for the next one with this header."""
    kept = table.read_as.kept()
    gaps = {"by_gaps": True} if table.by_gaps else {}
    return {**gaps, "header": list(table.header), "read_as": kept} if kept else gaps


def _session_id(declared: Declaration, at: datetime, key: SessionKey, table: TableFile) -> str:
    """With digits of the table and its session, so that two tables never share one."""
    name, observer = key
    digest = hashlib.sha256(f"{table.sha256} {name} {observer}".encode()).hexdigest()[:6]
    return table_session_id(declared.folder, at, observer, digest)


def _replace_rows(
    declared: Declaration, table: TableFile, changes: Sequence[RowChange], now: datetime
) -> int:
    """Let the table's rows count instead of the old ones, and take back what stands in it no longer.

    All in one journal file, whole or not at all. Returns how many rows it was. Raises OSError where the disk
    refuses.
    """
    observer = declared.watching.observer
    session, file = new_session_id(now, observer), new_file_id()
    source = {"name": table.path.name, "sha256": table.sha256}
    rows: list[RecordToWrite] = []
    for change in changes:
        back = {"of": reference(change.place), "source": source}
        if change.new is not None:
            scan = change.scan if change.new.at == change.old.at else None
            rows.append(RecordToWrite(change.new.kind, _fields(change.new, scan), change.new.at))
            # The journal's opening is its record 1.
            back["replaces"] = reference(Place(session, 1, len(rows) + 1, file))
        rows.append(RecordToWrite("took-back", back))
    write_rows(declared, now, rows, observer=observer, session=session, file=file)
    return len(changes)


def _fields(new: Sighting, scan: int | None) -> dict[str, object]:
    return {name: value for name, value in record_fields(new, scan).items() if value is not None}
