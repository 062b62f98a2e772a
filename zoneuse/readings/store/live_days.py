"""The day file of `listen`: a line a reading, each with its checksum, appended at once; an intake once committed.

::

    {"at":"2026-03-04T18:02:11.000Z","logger":"L1","temperature_c":21.4,"id":"9f3c…","crc":"1a2b3c4d"}

The file only grows. The record of an intake says up to which byte it has taken it in (``layout.live``), so what is in
the store already is not read from here again; a line that was cut short by a crash is counted and never believed.
"""

from __future__ import annotations

import contextlib
import functools
import json
import math
import os
import threading
import zlib
from array import array
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from ...study import QUANTITIES, Problem, from_ms, make_folder, read_regular, refuse_elsewhere, sync_folder

FOLDER = "live"
_CRC = b',"crc":"'
_TAIL = len(_CRC) + 10
_MOST_BYTES = 512_000_000
# More than a line has but for the longest; how many damaged lines are named.
_USUAL_LINE, _NAMED = 160, 5


@dataclass(frozen=True, slots=True)
class LiveRow:
    """One reading: when (ms UTC), of which logger, its values, and the id of the packet it came in.

    ``timed``: whether that is the payload's own time, and not the moment it came.
    """

    at_ms: int
    logger: str
    values: Mapping[str, float]
    packet: str = ""
    timed: bool = field(default=False, compare=False)


def day_path(study: Path, at_ms: int) -> Path:
    """The day file that a time falls into, by the days of UTC."""
    return study / "readings" / FOLDER / f"{from_ms(at_ms):%Y-%m-%d}.jsonl"


def encoded(row: LiveRow) -> bytes:
    """A reading as its line, newline included."""
    at = (
        datetime.fromtimestamp(row.at_ms / 1000, UTC)
        .isoformat(timespec="milliseconds")
        .replace("+00:00", "Z")
    )
    line: dict[str, Any] = {"at": at, "logger": row.logger, **row.values}
    if row.packet:
        line["id"] = row.packet
    body = json.dumps(line, ensure_ascii=False, separators=(",", ":"), allow_nan=False)[:-1].encode()
    return body + _CRC + b"%08x" % zlib.crc32(body) + b'"}\n'


def decoded(line: bytes) -> LiveRow | None:
    """The reading in a line (without its newline); None where its checksum does not fit."""
    body = line[:-_TAIL]
    if line[-_TAIL:-10] != _CRC or line[-2:] != b'"}' or line[-10:-2] != b"%08x" % zlib.crc32(body):
        return None
    try:
        said = json.loads(body + b"}")
        at = datetime.fromisoformat(said.pop("at"))
        logger, packet = said.pop("logger"), said.pop("id", "")
        values = {q: float(v) for q, v in said.items() if q in QUANTITIES}
        return LiveRow(round(at.timestamp() * 1000), str(logger), values, str(packet))
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError):
        return None


def append(study: Path, rows: Iterable[LiveRow]) -> None:
    """Append readings, flushed to the disk when this returns. A line that a crash cut short is ended first.

    Raises OSError where the disk refuses: then none of them may be taken for written.
    """
    by_file: dict[Path, list[bytes]] = {}
    for row in rows:
        by_file.setdefault(day_path(study, row.at_ms), []).append(encoded(row))
    for path, lines in by_file.items():
        refuse_elsewhere(study, path.parent)
        make_folder(path.parent)
        new = not path.exists()
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0), 0o644)
        try:
            size = os.fstat(handle).st_size
            torn = size > 0 and os.pread(handle, 1, size - 1) != b"\n" if hasattr(os, "pread") else False
            _write(handle, (b"\n" if torn else b"") + b"".join(lines))
            os.fsync(handle)
        finally:
            os.close(handle)
        if new:
            sync_folder(path.parent)


def _write(handle: int, data: bytes) -> None:
    done = 0
    while done < len(data):
        done += os.write(handle, data[done:])


@dataclass(frozen=True, slots=True)
class Day:
    """What of a day file is not in the store yet: ``file`` its name, columns by logger, and lines that are damaged.

    ``until``: the byte after its last whole line; ``lines``: the numbers of the damaged ones, the first few.
    """

    file: str
    times: Mapping[str, np.ndarray[Any, np.dtype[np.int64]]]
    values: Mapping[str, Mapping[str, np.ndarray[Any, np.dtype[np.float64]]]]
    damaged: int
    since: int
    until: int
    lines: tuple[int, ...] = ()


def read_days(study: Path, taken: Mapping[str, int]) -> list[Day]:
    """The open part of every day file, oldest first; ``taken`` says up to which byte each is in the store."""
    folder = study / "readings" / FOLDER
    if not folder.is_dir():
        return []
    found = []
    for path in sorted(folder.glob("????-??-??.jsonl")):
        try:
            size = path.stat().st_size
            if size > taken.get(path.name, 0):
                found.append(_day(path, path.stat().st_mtime_ns, size, taken.get(path.name, 0)))
        except OSError:
            continue
    return found


@functools.lru_cache(4096)
def _offset(path: Path, changed: int) -> tuple[str, int] | None:
    data = read_regular(path, 32_000_000)
    if b'"live"' not in data:
        return None
    try:
        told = json.loads(data)["layout"]["live"]
        return str(told["file"]), int(told["until"])
    except (ValueError, KeyError, TypeError):
        return None


def damaged_lines(study: Path) -> list[Problem]:
    """Lines of the day files, as far as they are not in the store, whose checksums do not fit."""
    return [
        Problem(
            "damaged-live", str(study / "readings" / FOLDER / day.file),
            f"line {', '.join(map(str, day.lines))}{' …' if day.damaged > len(day.lines) else ''}",
            f"{day.damaged} {'line is' if day.damaged == 1 else 'lines are'} damaged, and left out",
            "lines as they were written", "The rest counts. Restore the file from a copy to have them again",
        )
        for day in read_days(study, live_taken(study))
        if day.damaged
    ]  # fmt: skip


def live_offset(record: Path) -> tuple[str, int] | None:
    """The day file and the byte up to which an intake's record has taken it in; None for every other record."""
    try:
        return _offset(record, record.stat().st_mtime_ns)
    except OSError:
        return None


def live_taken(study: Path) -> dict[str, int]:
    """Up to which byte each day file is in the store, or was before its intake was undone."""
    folder = study / "readings" / "taken-in"
    if not (study / "readings" / FOLDER).is_dir() or not folder.is_dir():
        return {}
    found: dict[str, int] = {}
    for path in folder.glob("????????.json"):
        if (told := live_offset(path)) is not None:
            found[told[0]] = max(found.get(told[0], 0), told[1])
    return found


def last_written(study: Path) -> datetime | None:
    """When the newest day file was last written to; None where there is none."""
    folder = study / "readings" / FOLDER
    try:
        return max(datetime.fromtimestamp(p.stat().st_mtime, UTC) for p in folder.glob("????-??-??.jsonl"))
    except (OSError, ValueError):
        return None


def newest_packets(study: Path, most: int) -> list[str]:
    """The ids of the newest packets on the disk, oldest first, whether their day is in the store or not."""
    folder = study / "readings" / FOLDER
    found: list[str] = []
    for path in sorted(folder.glob("????-??-??.jsonl"), reverse=True) if folder.is_dir() else ():
        with contextlib.suppress(OSError):
            rows = map(decoded, read_regular(path, _MOST_BYTES)[-most * _USUAL_LINE :].split(b"\n"))
            found[:0] = [row.packet for row in rows if row is not None and row.packet]
        if len(found) >= most:
            break
    return found[-most:]


class _Decoded:
    """The lines of a day file from byte ``since`` on, as columns; what is appended later is decoded alone."""

    def __init__(self, since: int, before: int) -> None:
        self.since, self.lines, self.length, self.crc = since, before, 0, 0
        self.times: dict[str, array[int]] = {}
        self.values: dict[str, dict[str, array[float]]] = {}
        self.damaged: list[int] = []

    def begins(self, data: bytes) -> bool:
        """Whether the bytes are those decoded before, and more."""
        return len(data) >= self.length and zlib.crc32(memoryview(data)[: self.length]) == self.crc

    def add(self, whole: bytes) -> None:
        # Lines end with a line feed alone: a damaged byte may be any other sign that ends a line.
        for line in whole.split(b"\n")[:-1]:
            self.lines += 1
            row = decoded(line)
            if row is not None:
                self._put(row)
            elif line:
                self.damaged.append(self.lines)
        self.length += len(whole)
        self.crc = zlib.crc32(whole, self.crc)

    def _put(self, row: LiveRow) -> None:
        times = self.times.setdefault(row.logger, array("q"))
        columns = self.values.setdefault(row.logger, {})
        for quantity in row.values.keys() - columns.keys():
            columns[quantity] = array("d", [math.nan]) * len(times)
        times.append(row.at_ms)
        for quantity, column in columns.items():
            column.append(row.values.get(quantity, math.nan))

    def columns(self, logger: str) -> tuple[np.ndarray[Any, np.dtype[np.int64]], dict[str, Any]]:
        times = np.array(self.times[logger], np.int64)
        order = np.argsort(times, kind="stable")
        held = self.values[logger]
        return times[order], {q: np.array(held[q], float)[order] for q in QUANTITIES if q in held}


_KEPT: dict[Path, _Decoded] = {}
_MOST_KEPT = 8
_ONE = threading.Lock()


@functools.lru_cache(16)
def _day(path: Path, changed: int, size: int, since: int) -> Day:
    data = read_regular(path, _MOST_BYTES)
    before, data = data[:since].count(b"\n"), data[since:]
    whole = data[: data.rfind(b"\n") + 1]
    with _ONE:
        held = _KEPT.pop(path, None)
        if held is None or held.since != since or not held.begins(whole):
            held = _Decoded(since, before)
        held.add(whole[held.length :])
        _KEPT[path] = held
        if len(_KEPT) > _MOST_KEPT:
            del _KEPT[next(iter(_KEPT))]
        damaged, columns = list(held.damaged), {logger: held.columns(logger) for logger in held.times}
    # A crash cuts a line short; a whole one with another sign behind it is damaged.
    tail = data[len(whole) :]
    if tail and decoded(tail[:-1]) is not None:
        damaged.append(before + whole.count(b"\n") + 1)
    times = {logger: both[0] for logger, both in columns.items()}
    values = {logger: both[1] for logger, both in columns.items()}
    return Day(path.name, times, values, len(damaged), since, since + len(whole), tuple(damaged[:_NAMED]))
