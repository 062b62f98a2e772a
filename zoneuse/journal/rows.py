"""A journal file written at once: records from the shell, changes, corrections. All of it is there, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ..study import Declaration, zones_known
from .records import FORMAT, RECORD_METHOD, Record, check_fields
from .writer import new_file_id, new_session_id, write_journal


@dataclass(frozen=True, slots=True)
class RecordToWrite:
    """A record to be written: its kind and fields, and when it happened if that is not now."""

    kind: str
    fields: dict[str, Any]
    at: datetime | None = None


def write_rows(
    declared: Declaration,
    now: datetime,
    rows: Sequence[RecordToWrite],
    *,
    method: str = RECORD_METHOD,
    observer: str | None = None,
    session: str | None = None,
    file: str | None = None,
    treatment: str | dict[str, str] | None = None,
    source: dict[str, str] | None = None,
    timed: dict[str, float] | None = None,
) -> str:
    """Write a session of its own with these rows, opened first and closed last. Returns its id.

    ``session`` and ``file`` are its ids where a row must know them; ``observer`` is the study's unless given;
    ``source`` the table they come from; ``timed`` gives every_s and minutes of scans that were written down on paper.
    Raises RecordError where a row does not fit its kind, OSError where the disk refuses; nothing is written then.
    """
    observer = observer or declared.watching.observer
    session = session or new_session_id(now, observer)
    zone = declared.timezone
    watched = method != RECORD_METHOD
    # Watching that is written down later belongs to the day it was done.
    times = [row.at or now for row in rows] if watched else []
    first, last = min(times, default=now), max(times, default=now)
    opened = {
        "format": FORMAT, "study": declared.title, "session": session, "part": 1, "file": file or new_file_id(),
        "observer": observer, "method": method, "timezone": str(zone), "treatment": treatment, **(timed or {}),
        "zones": zones_known(declared, first) if watched else None, "source": source,
    }  # fmt: skip
    whole = [
        RecordToWrite("opened", opened, first),
        *rows,
        RecordToWrite("closed", {"reason": "finished"}, last),
    ]
    records = []
    for n, row in enumerate(whole, 1):
        at = row.at or now
        fields = {name: value for name, value in row.fields.items() if value is not None}
        check_fields(row.kind, fields)
        entered = None if at == now else now.astimezone(zone)
        # No clock ran beside what is entered later: its own times say how long things took.
        records.append(Record(n, at.astimezone(zone), row.kind, fields, entered, None if timed else 0.0))
    write_journal(declared.folder, records)
    return session
