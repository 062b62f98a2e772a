"""A journal file written at once: records from the shell, changes, corrections. All of it is there, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ..study.model import Declaration
from .records import FORMAT, RECORD_METHOD, Record, check_fields
from .writer import new_session_id, write_whole


@dataclass(frozen=True, slots=True)
class Row:
    """A record to be written: its kind and fields, and when it happened if that is not now."""

    kind: str
    fields: dict[str, Any]
    at: datetime | None = None


def write_rows(
    declared: Declaration,
    now: datetime,
    rows: Sequence[Row],
    *,
    method: str = RECORD_METHOD,
    observer: str | None = None,
    session: str | None = None,
) -> str:
    """Write a session of its own with these rows, opened first and closed last. Returns its id.

    ``session`` is its id where a row must know it; ``observer`` the study's usual one unless given. Raises
    RecordError where a row does not fit its kind, OSError where the disk refuses; nothing is written then.
    """
    observer = observer or declared.watching.observer
    session = session or new_session_id(now, observer)
    opened = {
        "format": FORMAT, "study": declared.title, "session": session, "part": 1,
        "observer": observer, "method": method, "timezone": str(declared.timezone),
    }  # fmt: skip
    zone = declared.timezone
    # Watching that is written down later belongs to the day it was done.
    times = [row.at or now for row in rows] if method != RECORD_METHOD else []
    first, last = min(times, default=now), max(times, default=now)
    whole = [Row("opened", opened, first), *rows, Row("closed", {"reason": "finished"}, last)]
    records = []
    for n, row in enumerate(whole, 1):
        at = row.at or now
        fields = {name: value for name, value in row.fields.items() if value is not None}
        check_fields(row.kind, fields)
        entered = None if at == now else now.astimezone(zone)
        records.append(Record(n, at.astimezone(zone), row.kind, fields, entered, 0.0))
    write_whole(declared.folder, session, 1, records)
    return session
