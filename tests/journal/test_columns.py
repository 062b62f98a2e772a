"""A long journal read into columns holds what the careful reader reads, record by record and problem by problem.

By hand, thousands: ``python -m tests.journal.test_columns 5000``.
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.differential.studies import make
from zoneuse.journal import columns as in_columns
from zoneuse.journal import reader
from zoneuse.journal.columns import read_columns
from zoneuse.journal.reader import read_file, read_journals

ODD: tuple[tuple[str, Any], ...] = (
    ("zone", None), ("zone", 5), ("animal", "n\u00e4he"), ("animal", 'a"b\\'), ("animal", "\ud800"), ("animal", "null"),
    ("scan", -1), ("scan", 1.0), ("scan", 10**15), ("scan", 10**20), ("scan", True), ("count", 0), ("sure", False),
    ("sure", "x"), ("hidden", True), ("mono", 5), ("mono", -7.25), ("mono", 1e15), ("mono", 1e300), ("extra", 1),
    ("extra", {"is": "seen"}), ("n", 3), ("n", 0), ("n", 2.5), ("n", True), ("is", "happened"), ("is", "missed"),
    ("is", "unseen"), ("is", "unknown"), ("is", None), ("at", "2026-02-30T10:00:00.000+01:00"), ("at", "2026-03-01"),
    ("at", "2026-03-01T10:00:00+01:00"), ("at", "2026-03-01T10:00:00.000Z"), ("at", "2026-03-01T10:00:00.000+24:00"),
    ("at", "1850-03-01T10:00:00.000+01:00"), ("at", "2199-12-31T23:59:59.999-05:00"), ("at", None), ("at", 7),
    ("at", "2026-03-01 10:00:00.123+01:00"), ("at", "1900-01-01T00:30:00.000+01:00"), ("behaviour", ["resting"]),
    ("entered", "2026-03-02T10:00:00.500-03:30"), ("entered", "2026-03-02"), ("entered", None), ("crc", "x"),
    ("is", "seen\u0000"), ("zone", "\u0001"), ("zone", "x" * 300), ("group", "young"), ("from", "2026"), ("zones", 3),
)  # fmt: skip


def sealed(body: bytes) -> bytes:
    return body + b',"crc":"%08x"}' % zlib.crc32(body)


def odd_line(dice: random.Random, line: bytes) -> bytes:
    """A line with one field changed, its checksum right: what another program, or a stranger, may have written."""
    try:
        values = json.loads(line)
    except ValueError:
        return line
    values.pop("crc", None)
    for name, value in dice.sample(ODD, dice.choice([1, 1, 2])):
        values[name] = value
    body = json.dumps(values, ensure_ascii=False, separators=(",", ":"))[:-1].encode(
        "utf-8", "backslashreplace"
    )
    told: Callable[[bytes], bytes] = dice.choice(
        [
            lambda b: b, lambda b: b, lambda b: b, lambda b: b.replace(b":", b" : ", 1), lambda b: b + b',"n":9',
            lambda b: b + b"} {" + b[1:], lambda b: b + b"\xff", lambda b: b"\xef\xbb\xbf" + b, lambda b: b + b'\t',
            lambda b: b.replace(b'"zone"', b'"zon\\u0065"'), lambda b: b"", lambda b: b"[" + b,
            lambda b: b + b',"mono":NaN',
        ]
    )  # fmt: skip
    return sealed(told(body))


def damage(dice: random.Random, data: bytes) -> bytes:
    """The same file after one of the things that happen to files."""
    lines = data.split(b"\n")
    kind = dice.randrange(9)
    if kind == 0:
        return data.replace(b"\n", b"\r\n")
    if kind == 1:
        return data[: dice.randrange(len(data) + 1)]
    if kind == 2 and data:
        place = dice.randrange(len(data))
        return data[:place] + bytes([data[place] ^ 1 << dice.randrange(8)]) + data[place + 1 :]
    if kind == 3:
        lines.insert(dice.randrange(len(lines)), dice.choice(lines))
    elif kind == 4:
        del lines[dice.randrange(len(lines))]
    elif kind == 5:
        dice.shuffle(lines)
    elif kind == 6:
        lines.insert(
            dice.randrange(len(lines)),
            dice.choice([b"", b"{}", b"\x00" * 40, b',"crc":"00000000"}', b"x" * 18]),
        )
    else:
        for _ in range(dice.choice([1, 1, 2, 5])):
            place = dice.randrange(len(lines))
            lines[place] = odd_line(dice, lines[place])
    return b"\n".join(lines)


def compare(folder: Path, dice: random.Random) -> int:
    """Every file of a study as it is and damaged, and the study as it is folded then. Returns how many files."""
    paths = sorted((folder / "journal").glob("*.jsonl"))
    for path in paths:
        if dice.random() < 0.7:
            for _ in range(dice.choice([1, 1, 2, 3])):
                path.write_bytes(damage(dice, path.read_bytes()))
        carefully, quickly = read_file(path), read_file(path, read_columns)
        assert tuple(quickly.records) == tuple(carefully.records), path.read_bytes()
        for one, other in zip(quickly.records, carefully.records, strict=True):
            assert {k: type(v) for k, v in one.fields.items()} == {
                k: type(v) for k, v in other.fields.items()
            }
            assert type(one.n) is int and one.at.tzinfo is other.at.tzinfo
        assert (quickly.opened, quickly.problems) == (carefully.opened, carefully.problems), path.read_bytes()
        for place in range(len(carefully.records)):
            assert quickly.records[place] == carefully.records[place]
    assert read_journals(folder, read_columns) == read_journals(folder)
    return len(paths)


@pytest.fixture(autouse=True)
def _every_file_is_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "LONG_BYTES", 0)
    monkeypatch.setattr(in_columns, "_PIECE_BYTES", 900)


def test_columns_hold_what_the_careful_reader_reads(tmp_path: Path) -> None:
    files = sum(
        compare(make(tmp_path / "study", random.Random(seed)), random.Random(seed)) for seed in range(40)
    )
    assert files > 150


def test_ordinary_lines_take_the_short_way(tmp_path: Path) -> None:
    """Else the comparison above would compare a reader with itself."""
    quick = every = 0
    for seed in range(10):
        folder = make(tmp_path / "study", random.Random(seed))
        for path in (folder / "journal").glob("*.jsonl"):
            lines = path.read_bytes().split(b"\n")
            plain = [line for line in lines if b'"is":"seen"' in line or b'"is":"unseen"' in line]
            found = read_columns(plain)
            quick += len(plain) - len(found.read_carefully) - len(found.damaged)
            every += len(plain)
    assert quick > 0.95 * every > 100


if __name__ == "__main__":
    reader.LONG_BYTES, in_columns._PIECE_BYTES = 0, 900
    many, files = int(sys.argv[1]), 0
    with tempfile.TemporaryDirectory() as base:
        for seed in range(many):
            try:
                files += compare(make(Path(base) / "study", random.Random(seed)), random.Random(seed))
            except Exception:
                print("seed", seed)
                raise
    print(many, "studies,", files, "files: read alike")
