"""Ticks taken in before, read back for the picture: only those that a session on record names."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from ...journal.reader import Journals, Session

_COLUMNS = ("at", "animal", "zone", "why", "x", "y")


def on_record(journals: Journals) -> Iterator[Session]:
    """Sessions with anything in them that was not taken back."""
    for session in journals.sessions.values():
        if session.watched and any(e.record.kind in ("seen", "unseen") for e in session.entries):
            yield session


def kept_ticks(study: Path, journals: Journals) -> pa.Table | None:
    """Every tick on record, columns at, animal, zone, why, x, y; None where there are none. Damaged files are left out:
    the sessions hold all that answers count, the picture alone is poorer."""
    named = {
        str(s.source.get("ticks")) for s in journals.sessions.values() if s.watched and s.source.get("ticks")
    }
    found = []
    for name in sorted(named):
        if not name.isalnum():
            continue
        path = study / "tracks" / f"{name}.parquet"
        try:
            with pq.ParquetFile(path.absolute()) as file:
                table = file.read(list(_COLUMNS))
        except (OSError, pa.ArrowException):
            continue
        found.append(table.cast(_schema()))
    return pa.concat_tables(found) if found else None


def _schema() -> pa.Schema:
    return pa.schema([
        ("at", pa.timestamp("ms", "UTC")), ("animal", pa.string()), ("zone", pa.string()), ("why", pa.uint8()),
        ("x", pa.float32()), ("y", pa.float32()),
    ])  # fmt: skip
