"""A table of positions or reads, in pieces: text with any of the usual delimiters, or Parquet."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from ...study import ProblemError, TrackTable, fault, require_regular, to_ms
from .following import LOW, MISSING, SEEN, Codes, Times

_AT_ONCE, _BYTES, _FEW = 1 << 18, 1 << 20, 8
Rows = slice | np.ndarray[Any, np.dtype[np.intp]]
_NONE = ["", "NaN", "nan", "NA", "N/A", "null", "None", "-"]
_NUMBER = r"^\s*[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?\s*$"


@dataclass(frozen=True, slots=True)
class TrackPiece:
    """Rows of one name: times (n,) ms, ``x`` and ``y`` (n,), ``why`` not believed (n,), or antennas' names."""

    name: str
    at: Times
    x: np.ndarray[Any, np.dtype[Any]]
    y: np.ndarray[Any, np.dtype[Any]]
    why: Codes
    antenna: pa.Array | None = None


@dataclass(slots=True)
class UnusableRows:
    """What of the rows could not be used at all."""

    rows: int = 0
    no_time: int = 0
    no_number: int = 0


def needed(table: TrackTable) -> list[str]:
    """The names of the columns that a table must have."""
    every = [*table.columns.values(), *(name for cols in table.wide.values() for name in cols.values())]
    return list(dict.fromkeys(every))


def header_of(path: Path) -> list[str]:
    """The names of a file's columns. Raises ProblemError where it is no table."""
    try:
        require_regular(path)
        if _is_parquet(path):
            with pq.ParquetFile(path.absolute()) as file:
                return list(file.schema_arrow.names)
        line = _first_lines(path)[0]
        return [part.strip().strip('"') for part in line.split(_delimiter(line))]
    except (OSError, pa.ArrowException, UnicodeDecodeError, IndexError) as error:
        raise fault(
            "no-table", path, "", f"cannot be read ({type(error).__name__})", "a table as text in UTF-8, or Parquet",
            remedy="Check the name, and export it again",
        ) from None  # fmt: skip


def _is_parquet(path: Path) -> bool:
    with path.open("rb") as stream:
        return stream.read(4) == b"PAR1"


def _first_lines(path: Path) -> list[str]:
    with path.open("rb") as stream:
        return (
            stream.read(1 << 16)
            .decode("utf-8-sig", "strict" if path.stat().st_size < 1 << 16 else "replace")
            .splitlines()[:2]
        )


def _delimiter(line: str) -> str:
    return max((",", ";", "\t"), key=line.count)


def _ahead(batches: Iterator[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
    """The same, each read while the one before is worked on."""
    with ThreadPoolExecutor(1) as reader:
        coming = reader.submit(next, batches, None)
        while (batch := coming.result()) is not None:
            coming = reader.submit(next, batches, None)
            yield batch


def _texts_by(table: TrackTable) -> set[str]:
    return {table.columns[name] for name in ("animal", "antenna") if name in table.columns}


def _batches(path: Path, table: TrackTable, counts: UnusableRows) -> Iterator[pa.RecordBatch]:
    names = needed(table)
    if _is_parquet(path):
        with pq.ParquetFile(path.absolute(), pre_buffer=False) as file:
            yield from file.iter_batches(_AT_ONCE, columns=names)
        return
    lines = _first_lines(path)
    mark = _delimiter(lines[0])
    comma = mark == ";" and len(lines) > 1 and re.search(r"\d,\d", lines[1]) is not None
    texts = {
        *_texts_by(table),
        *([table.columns["at"]] if table.at_is == "iso" and "at" in table.columns else []),
    }
    done = 0
    try:
        for batch in _csv(
            path, mark, names, {n: pa.string() if n in texts else pa.float64() for n in names}, comma
        ):
            done += batch.num_rows
            yield batch
    except pa.ArrowInvalid:
        # Somewhere stands a word for a number: once more from where it stopped, a cell at a time.
        for batch in _csv(path, mark, names, {n: pa.string() for n in names}, comma):
            if done >= batch.num_rows:
                done -= batch.num_rows
                continue
            batch, done = batch.slice(done), 0
            yield _numbers(batch, names, texts, counts)


def _csv(
    path: Path, mark: str, names: list[str], types: dict[str, Any], comma: bool
) -> Iterator[pa.RecordBatch]:
    def short(row: Any) -> str:
        return "skip"

    reader = pa_csv.open_csv(
        path.absolute(),
        read_options=pa_csv.ReadOptions(block_size=_BYTES),
        parse_options=pa_csv.ParseOptions(delimiter=mark, invalid_row_handler=short),
        convert_options=pa_csv.ConvertOptions(
            include_columns=names, column_types=types, null_values=_NONE, strings_can_be_null=True,
            decimal_point="," if comma else ".",
        ),
    )  # fmt: skip
    with reader:
        yield from reader


def _numbers(
    batch: pa.RecordBatch, names: list[str], texts: set[str], counts: UnusableRows
) -> pa.RecordBatch:
    columns = []
    for name in names:
        column = batch.column(name)
        if name not in texts:
            column = pc.replace_substring(column, ",", ".")
            good = pc.match_substring_regex(column, _NUMBER)
            counts.no_number += int(pc.sum(pc.invert(good)).as_py() or 0)
            column = pc.cast(pc.utf8_trim_whitespace(pc.if_else(good, column, None)), pa.float64())
        columns.append(column)
    return pa.RecordBatch.from_arrays(columns, names)


def pieces(
    path: Path, table: TrackTable, start: datetime | None, zone: ZoneInfo, counts: UnusableRows
) -> Iterator[TrackPiece]:
    """The rows of a file, some at a time, an animal each. Raises ProblemError where its times cannot be told."""
    for batch in _ahead(_batches(path, table, counts)):
        counts.rows += batch.num_rows
        at, timed = _times(batch, table, start, zone, path)
        if not timed.all():
            counts.no_time += int((~timed).sum())
        if table.wide:
            for name, columns in table.wide.items():
                yield _positions(name, batch, columns, (at, timed), table)
            continue
        every = np.ones(batch.num_rows, np.bool_) if timed.all() else timed
        for name, rows in _by_name(batch, table):
            if "antenna" in table.columns:
                yield _reads(name, batch, rows, (at, every), table)
            else:
                yield _positions(name, batch, table.columns, (at, every), table, rows=rows)


def _reads(name: str, batch: pa.RecordBatch, rows: Rows, times: Any, table: TrackTable) -> TrackPiece:
    at, timed = times
    mine = np.arange(batch.num_rows)[rows]
    mine = mine[timed[mine]]
    nothing = np.full(len(mine), np.nan)
    reads = batch.column(table.columns["antenna"]).cast(pa.string()).take(pa.array(mine))
    return TrackPiece(name, at[mine], nothing, nothing, np.zeros(len(mine), np.uint8), reads)


def _by_name(batch: pa.RecordBatch, table: TrackTable) -> list[tuple[str, Rows]]:
    """The names of a batch and their rows, in order."""
    if "animal" not in table.columns:
        return [("", slice(None))]
    column = batch.column(table.columns["animal"])
    if pa.types.is_floating(column.type):
        column = column.cast(pa.int64(), safe=False)
    coded = column if pa.types.is_dictionary(column.type) else column.dictionary_encode()
    names = [str(n).strip() for n in coded.dictionary.to_pylist()]
    codes = pc.fill_null(coded.indices, -1).to_numpy(zero_copy_only=False)
    if len(names) == 1 and (codes == 0).all():
        return [(names[0], slice(None))]
    shown = ["", *names]
    if len(names) <= _FEW:
        each = [np.flatnonzero(codes == k - 1) for k in range(len(shown))]
    else:
        order = np.argsort(codes, kind="stable")
        edges = np.searchsorted(codes[order], np.arange(-1, len(names) + 1))
        each = [order[edges[k] : edges[k + 1]] for k in range(len(shown))]
    return [(name, rows) for name, rows in zip(shown, each, strict=True) if len(rows)]


def _positions(
    name: str, batch: pa.RecordBatch, columns: Any, times: Any, table: TrackTable, *, rows: Rows = slice(None)
) -> TrackPiece:
    at, timed = times[0][rows], times[1][rows]
    x, y = (_floats(batch.column(columns[axis]))[rows] for axis in ("x", "y"))
    why = np.zeros(len(at), np.uint8)
    if "confidence" in columns and table.least_confidence is not None:
        sure = _floats(batch.column(columns["confidence"]))[rows]
        why[~(sure >= table.least_confidence)] = LOW
    why[~np.isfinite(x + y)] = MISSING
    if timed.all():
        return TrackPiece(name, at, x, y, why)
    return TrackPiece(name, at[timed], x[timed], y[timed], why[timed])


def _floats(column: pa.Array) -> np.ndarray[Any, np.dtype[Any]]:
    if pa.types.is_dictionary(column.type) or pa.types.is_string(column.type):
        column = column.cast(pa.string()).cast(pa.float64())
    found = column.to_numpy(zero_copy_only=False)
    return np.asarray(found if found.dtype.kind == "f" else found.astype(np.float64))


def _times(
    batch: pa.RecordBatch, table: TrackTable, start: datetime | None, zone: ZoneInfo, path: Path
) -> tuple[Times, np.ndarray[Any, np.dtype[np.bool_]]]:
    """ms UTC of each row, and which rows have a time."""
    if "frame" in table.columns or table.at_is != "iso":
        per = 1000 / (table.rate or 1) if "frame" in table.columns else (1000 if table.at_is == "s" else 1)
        number = _floats(batch.column(table.columns.get("frame") or table.columns["at"]))
        there = np.isfinite(number)
        if not there.all():
            number = np.where(there, number, 0)
        if start is None:
            raise fault("no-start", path, "", "its times count from a start that is not given", "that time",
                        remedy='Give --start "2026-03-01 19:30"; nothing was taken in')  # fmt: skip
        ms = number * per
        np.rint(ms, out=ms)
        return ms.astype(np.int64) + to_ms(start), there
    column = batch.column(table.columns["at"])
    try:
        stamps = _stamps(column, zone)
    except (pa.ArrowInvalid, ValueError) as error:
        raise fault(
            "no-time", path, table.columns["at"], f"holds what is no one time ({str(error)[:80]})",
            "times such as 2026-03-01T19:30:00.040, with an offset where the clocks went back",
            remedy='Say at_is = "s" or "ms" in study.toml if they count from a start; else export them as ISO 8601',
        ) from None  # fmt: skip
    there = np.asarray(pc.is_valid(stamps).to_numpy(zero_copy_only=False), np.bool_)
    ms = pc.fill_null(stamps.cast(pa.timestamp("ms", "UTC"), safe=False).cast(pa.int64()), 0)
    return ms.to_numpy(zero_copy_only=False), there


def _stamps(column: pa.Array, zone: ZoneInfo) -> pa.Array:
    """Times with their zone: text is read as ISO 8601, what has no offset in the study's zone."""
    if not pa.types.is_timestamp(column.type):
        text = column.cast(pa.string())
        first = next((t for t in text.to_pylist() if t), "")
        away = re.search(r"(Z|[+-]\d\d:?\d\d)$", first.strip()) is not None
        text = pc.utf8_trim_whitespace(text)
        try:
            column = text.cast(pa.timestamp("us", "UTC") if away else pa.timestamp("us"))
        except pa.ArrowInvalid:
            column = pa.array(_one_by_one(text.to_pylist(), zone), pa.timestamp("us", "UTC"))
    if column.type.tz is None:
        column = pc.assume_timezone(column, str(zone), ambiguous="raise", nonexistent="raise")
    return column


def _one_by_one(texts: Sequence[str | None], zone: ZoneInfo) -> list[datetime | None]:
    found: list[datetime | None] = []
    for text in texts:
        at = None
        with contextlib.suppress(ValueError, TypeError):
            at = datetime.fromisoformat(text or "")
        found.append(at if at is None or at.tzinfo else at.replace(tzinfo=zone))
    return found


def choose(path: Path, tables: Sequence[TrackTable], asked: str | None) -> TrackTable:
    """The declared table that a file is: the one asked for, or the only one whose columns it has.

    Raises ProblemError where none fits, or several do.
    """
    header = header_of(path)
    if asked is not None:
        tables = [t for t in tables if t.id == asked]
    fits = [t for t in tables if set(needed(t)) <= set(header)]
    if len(fits) == 1:
        return fits[0]
    if fits:
        raise fault("which-table", path, "header", f"fits {', '.join(t.id for t in fits)}", "one of them",
                    remedy="Say which with --as NAME")  # fmt: skip
    lacking = [f"{t.id} lacks {', '.join(sorted(set(needed(t)) - set(header)))}" for t in tables]
    raise fault(
        "columns", path, "header", f"has {', '.join(header[:12])}{' …' if len(header) > 12 else ''}; "
        + ("; ".join(lacking) or "study.toml declares no [tracks.NAME]"),
        "the columns of a table declared as [tracks.NAME] in study.toml",
        remedy="Name its columns there: docs/tracks.md shows how",
    )  # fmt: skip


__all__ = [
    "MISSING",
    "SEEN",
    "ProblemError",
    "TrackPiece",
    "UnusableRows",
    "choose",
    "header_of",
    "needed",
    "pieces",
]
