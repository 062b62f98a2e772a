"""The readers, each fed any bytes at all: what comes back is a reading or a fault in words, never anything else."""

from __future__ import annotations

import functools
import json
import re
import shutil
import zlib
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from tests.making import TWO_ZONES, VIENNA, study_folder
from zoneuse.journal.against import check_journals
from zoneuse.journal.past.rows import understand
from zoneuse.journal.past.table import read_table
from zoneuse.journal.reader import read_journals
from zoneuse.journal.records import encode
from zoneuse.readings.layout import Hints, UndecidedError
from zoneuse.readings.read.clock_column import settle_dates
from zoneuse.readings.read.intake import stage
from zoneuse.readings.recognise.understand import understand as understand_layout
from zoneuse.readings.store.store import intakes, read
from zoneuse.study.model import Declaration
from zoneuse.study.problems import ProblemError
from zoneuse.study.toml.file import load_declaration, read_declaration

NOW = datetime(2026, 5, 1, tzinfo=UTC)


@functools.cache
def _declared(folder: Path) -> Declaration:
    return load_declaration(study_folder(folder, TWO_ZONES))


def layout(data: bytes, folder: Path) -> None:
    """A logger's export."""
    path = folder / "L1.csv"
    path.write_bytes(data)
    try:
        staged = stage(folder, path, ("L1", "L2"), VIENNA, Hints(logger="L1"), intaken=[])
    except (UndecidedError, ProblemError) as error:
        assert str(error)
        return
    staged.commit(NOW)
    found = read(folder, "L1", intaken=intakes(folder)[0])
    assert len(found.times) <= staged.kept
    shutil.rmtree(folder / "readings")


def understood(data: bytes, folder: Path) -> None:
    """A logger's export, only as far as its layout: many times faster than taking it in."""
    path = folder / "L1.csv"
    path.write_bytes(data)
    try:
        found = understand_layout(path, ("L1", "L2"), VIENNA, Hints(logger="L1"))
        settle_dates(path, found, None)
    except (UndecidedError, ProblemError) as error:
        assert str(error)
    else:
        assert json.dumps(found.record())


def journal(data: bytes, folder: Path) -> None:
    """A journal as it lies on the disk. Where the first byte is even its checksums are made to fit."""
    declared, place = _declared(folder), folder / "journal"
    place.mkdir(exist_ok=True)
    if data[:1] and data[0] % 2 == 0:
        data = b"".join(map(_fitting, data[1:].split(b"\n")))
    (place / "one.jsonl").write_bytes(data)
    found = read_journals(folder)
    for entry in found.entries():
        # What was read can be written again: it is a whole record, with times.
        assert encode(entry.record)
    for problem in found.problems:
        assert str(problem) and problem.file
    check_journals(declared, found)


def _fitting(line: bytes) -> bytes:
    body = re.sub(rb',"crc":"[^"]*"}$', b"", line)
    body = body[:-1] if body.endswith(b"}") else body
    return body + b',"crc":"%08x"}\n' % zlib.crc32(body)


def table(data: bytes, folder: Path) -> None:
    """A table of past sightings."""
    declared, path = _declared(folder), folder / "old.csv"
    path.write_bytes(data)
    try:
        read_rows = read_table(path)
    except ProblemError as error:
        assert str(error)
        return
    good, refused = understand(declared, read_rows)
    assert len(good) + len(refused) == len(read_rows.rows)


def study(data: bytes, folder: Path) -> None:
    """A study.toml."""
    (folder / "study.toml").write_bytes(data)
    try:
        declared, problems = read_declaration(folder)
    except ProblemError as error:
        assert str(error)
        return
    assert (declared is None) == any(not p.hint for p in problems)
    for problem in problems:
        assert problem.file and problem.found and (problem.place or problem.remedy)


READERS: dict[str, Callable[[bytes, Path], None]] = {
    "layout": layout, "understood": understood, "journal": journal, "table": table, "study": study,
}  # fmt: skip
