"""Ticks taken in before, read back for the picture: only those that a session on record names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from ...journal import Journals, Session
from ...readings.store import crc_of
from ...study import Problem

_COLUMNS = ("at", "animal", "x", "y")


@dataclass(frozen=True, slots=True)
class Kept:
    """Ticks on record by the id of their ``[tracks.ID]``: columns at, animal, x, y; and the files left out."""

    tables: Mapping[str, pa.Table]
    problems: tuple[Problem, ...] = ()


def on_record(journals: Journals) -> Iterator[Session]:
    """Sessions with anything in them that was not taken back."""
    for session in journals.sessions.values():
        if session.watched and any(e.record.kind in ("seen", "unseen") for e in session.entries):
            yield session


def kept_ticks(study: Path, journals: Journals) -> Kept:
    """The ticks of every file that a session names. A file that is damaged is named and left out: the sessions hold
    all that answers count, the picture alone is poorer."""
    named = {
        str(s.source["ticks"]): (str(s.source.get("tracks", "")), s.source.get("ticks_crc"))
        for s in on_record(journals)
        if s.source.get("ticks")
    }
    found: dict[str, list[pa.Table]] = {}
    problems = []
    for name, (table, crc) in sorted(named.items()):
        if not name.isalnum():
            continue
        path = study / "tracks" / f"{name}.parquet"
        try:
            if crc is not None and crc_of(path) != crc:
                problems.append(_damaged(path, "is damaged: its checksum does not fit"))
                continue
            with pq.ParquetFile(path.absolute()) as file:
                found.setdefault(table, []).append(file.read(list(_COLUMNS)).cast(_schema()))
        except (OSError, pa.ArrowException) as error:
            problems.append(_damaged(path, f"cannot be read ({type(error).__name__})"))
    return Kept({table: pa.concat_tables(some) for table, some in found.items()}, tuple(problems))


def _damaged(path: Path, found: str) -> Problem:
    return Problem(
        "damaged-tracks", str(path), "", f"{found}, and the picture leaves it out",
        "the file as it was written", "The answers do not need it. To have it again: zoneuse tracks FILE --undo, then "
        "zoneuse tracks FILE, with the table it came from",
    )  # fmt: skip


def _schema() -> pa.Schema:
    return pa.schema([
        ("at", pa.timestamp("ms", "UTC")), ("animal", pa.string()), ("x", pa.float32()), ("y", pa.float32()),
    ])  # fmt: skip
