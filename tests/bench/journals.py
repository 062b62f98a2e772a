"""A record to disk beside a bare write and fsync; a million records read back beside pyarrow's JSON reader."""

from __future__ import annotations

import os
import time
import zlib
from collections import deque
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from tests.bench.measure import Line, by_turns, timed
from zoneuse.journal.columns import read_columns
from zoneuse.journal.reader import read_file
from zoneuse.journal.records import Record, encode
from zoneuse.journal.writer import Journal

ZONE = ZoneInfo("Europe/Vienna")
START = datetime(2026, 3, 1, 19, 0, tzinfo=UTC)


def to_disk(folder: Path, records: int = 400) -> list[Line]:
    """Each record's time to be on the disk, by turns with as many bytes written and synchronised bare."""
    journal = Journal(folder, "20260301T190000Z-mk-0000", 1, START, ZONE, started=time.monotonic(),
                      study="Bench", observer="mk", method="scan", timezone="Europe/Vienna")  # fmt: skip
    bare = os.open(folder / "bare", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    line = encode(
        Record(1, START, "seen", {"animal": "a1", "zone": "moss_end", "behaviour": "resting", "scan": 1})
    )
    ours, theirs = [], []
    for scan in range(records):
        began = time.perf_counter()
        journal.append("seen", START + timedelta(seconds=scan), animal="a1", zone="moss_end", behaviour="resting",
                       scan=scan)  # fmt: skip
        ours.append(time.perf_counter() - began)
        began = time.perf_counter()
        os.write(bare, line)
        os.fsync(bare)
        theirs.append(time.perf_counter() - began)
    journal.close()
    os.close(bare)
    rival = "bare write and fsync"
    return [
        Line(
            f"a record to disk, {name}",
            float(np.percentile(ours, part)),
            {rival: float(np.percentile(theirs, part))},
            {rival: 1.3},
        )
        for name, part in (("median", 50), ("p99", 99))
    ]


def write_journal(path: Path, records: int) -> None:
    """One long session of two animals."""
    header = {
        "format": 1,
        "study": "Bench",
        "session": "s",
        "part": 1,
        "observer": "mk",
        "method": "scan",
        "timezone": "Europe/Vienna",
    }
    zones, behaviours = ["moss_end", "cork_bark", "slate", "open"], ["resting", "walking", "alert"]
    with path.open("wb") as out:
        out.write(encode(Record(1, START.astimezone(ZONE), "opened", header, None, 0.0)))
        for n in range(2, records + 1):
            at = (START + timedelta(seconds=n)).astimezone(ZONE)
            fields = {
                "animal": f"a{n % 2}",
                "zone": zones[n % 4],
                "behaviour": behaviours[n % 3],
                "scan": n // 2,
            }
            out.write(encode(Record(n, at, "seen", fields, None, float(n))))


def read_back(folder: Path, records: int = 1_000_000, rounds: int = 3) -> Line:
    """Into columns with every checksum verified, beside a reader that takes the lines as they are."""
    import pyarrow.json as pj

    path = folder / "long.jsonl"
    write_journal(path, records)

    def ours() -> None:
        found = read_file(path, read_columns)
        assert len(found.records) == records and not found.problems

    times = by_turns({"zoneuse": ours, "pyarrow.json": lambda: pj.read_json(path)}, rounds)
    lines = path.read_bytes().split(b"\n")
    sums = timed(lambda: deque(map(zlib.crc32, lines), maxlen=0))
    made = timed(lambda: list(read_file(path, read_columns).records))
    carefully = timed(lambda: read_file(path))
    facts = (
        f"{path.stat().st_size / 2**20:.0f} MB",
        f"zlib.crc32 of each line alone {sums:.2f} s",
        f"with every record made as an object {made:.2f} s",
        f"by the careful reader alone {carefully:.2f} s",
    )
    return Line(f"read back a journal of {records:,} records, checksums verified", times["zoneuse"],
                {"pyarrow.json": times["pyarrow.json"]}, {"pyarrow.json": 3.0}, facts)  # fmt: skip
