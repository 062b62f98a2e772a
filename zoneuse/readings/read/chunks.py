"""Rows of an export as arrays: whole blocks at once where they are clean, line by line where they are not."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv
from numpy.typing import NDArray

from ..arrow_arrays import Times, Values, all_finite, float64s, int64s, one_chunk, present
from ..blocks import Block
from ..layout import CALENDAR, GAPS, SPACES, Layout
from ..recognise.splitting import MISSING
from ..times.number_parts import TEXT_ROLES, combine, parts_of_texts
from ..times.time_text import TimeParts, take_apart
from .even_rows import read_even
from .rows import FileRow, Refused, read_rows

_THREADS = 2
_PIECES = 16
# Rows few enough to be read one by one at once: below this the attempts cost more than they save.
_SMALL = 1024
_NULLS = sorted({word for m in MISSING for word in (m, m.upper(), m.capitalize())} | {"NaN", "N/A", "#N/A"})


@dataclass(slots=True)
class Chunk:
    """``n`` rows in file order. ``times``: written times taken apart, or None where ``stamp`` (plain local or
    UTC ms, or numbers of a numeric time) is given. ``values``: (n,) per value column, as written. ``names``:
    what the long file's name column says. ``labels``: the label cells of each row, by column. ``events``:
    (row, column, text)."""

    lines: Times
    times: tuple[TimeParts, ...] | None
    stamp: NDArray[np.float64] | Times | None
    values: list[Values]
    labels: dict[int, tuple[NDArray[np.int32], list[str]]]
    events: list[tuple[int, int, str]] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
    blank: int = 0
    again: int = 0
    beside: int = 0
    oddities: Counter[str] = field(default_factory=Counter)

    def __len__(self) -> int:
        return len(self.lines)


def label_columns(layout: Layout) -> tuple[int, ...]:
    """Columns whose texts matter for each row: which logger, which quantity, whether it is wanted."""
    long = (
        () if layout.long is None else (layout.long.name, *([layout.long.unit] if layout.long.unit else []))
    )
    return tuple(
        dict.fromkeys((*layout.by, *(c for c, _ in layout.where), *long, *layout.labels, *layout.steady))
    )


def value_columns(layout: Layout) -> tuple[int, ...]:
    return (layout.long.value,) if layout.long else tuple(v.column for v in layout.values)


def read_chunks(block: Block, layout: Layout) -> Iterator[Chunk]:
    """The rows of one block, in order. Lines above the first reading are passed over."""
    data, first = block.data, block.first_line
    if first < layout.first_line:
        skip = layout.first_line - first
        if skip >= block.lines:
            return
        at = 0
        for _ in range(skip):
            at = data.index(b"\n", at) + 1
        data, first = data[at:], layout.first_line
    yield from _pieces(data, first, block.first_line + block.lines - first, layout, _PIECES)


def all_chunks(blocks: Iterable[Block], layout: Layout) -> Iterator[Chunk]:
    """The rows of a whole file, in order. Blocks are read in two threads, and a few at most are in memory."""
    # A small file is done before a thread has started.
    several = iter(blocks)
    first = next(several, None)
    if first is None:
        return
    yield from read_chunks(first, layout)
    with ThreadPoolExecutor(_THREADS) as pool:
        waiting: deque[Future[list[Chunk]]] = deque()
        for block in several:
            waiting.append(pool.submit(_chunk_list, block, layout))
            if len(waiting) > _THREADS:
                yield from waiting.popleft().result()
        while waiting:
            yield from waiting.popleft().result()


def _chunk_list(block: Block, layout: Layout) -> list[Chunk]:
    return list(read_chunks(block, layout))


def _pieces(data: bytes, first: int, count: int, layout: Layout, split: int) -> Iterator[Chunk]:
    if not data:
        return
    chunk = _even_chunk(data, first, count, layout)
    if chunk is None:
        chunk = fast_chunk(data, first, count, layout)
    if chunk is not None:
        yield chunk
        return
    if count <= _SMALL:
        yield slow_chunk(data, first, layout)
        return
    # A damaged row costs its own few lines, not the whole block: cut, and try each part again.
    at, line = 0, first
    for part in range(split):
        wanted = (part + 1) * len(data) // split
        end = len(data) if part == split - 1 else data.rfind(b"\n", at, max(at, wanted)) + 1
        if end <= at:
            continue
        piece = data[at:end]
        lines = piece.count(b"\n")
        yield from _pieces(piece, line, lines, layout, split)
        line += lines
        at = end


def _as_tabs(data: bytes, delimiter: str) -> bytes:
    """Cells separated by spaces, by tabs instead."""
    if delimiter == SPACES:
        return b"\n".join(b"\t".join(line.split()) for line in data.split(b"\n"))
    lines = (line.strip() for line in data.split(b"\n"))
    return b"\n".join(b"\t".join(p.strip() for p in line.split(b"  ") if p.strip()) for line in lines)


def _even_chunk(data: bytes, first: int, count: int, layout: Layout) -> Chunk | None:
    """All rows at once where they are written digit under digit, None where not."""
    even = read_even(data, count, layout) if count > _SMALL and not label_columns(layout) else None
    if even is None or layout.events:
        return None
    times, values = even
    return Chunk(np.arange(first, first + count, dtype=np.int64), None, times, values, {})


def fast_chunk(data: bytes, first: int, count: int, layout: Layout) -> Chunk | None:
    """All rows of ``count`` lines at once, or None where any of them is out of line with the layout."""
    delimiter = layout.delimiter
    if delimiter in (SPACES, GAPS):
        data, delimiter = _as_tabs(data, delimiter), "\t"
    try:
        table = pacsv.read_csv(
            pa.py_buffer(data),
            read_options=pacsv.ReadOptions(
                column_names=[str(c) for c in range(layout.width)],
                use_threads=False,
                block_size=min(len(data) + 1, (1 << 31) - 1),
            ),
            parse_options=pacsv.ParseOptions(delimiter=delimiter),
            convert_options=_conversion(layout),
        )
    except (pa.ArrowInvalid, pa.ArrowKeyError, pa.ArrowNotImplementedError):
        return None
    lines = _line_numbers(data, first, count, table.num_rows)
    times, stamp = _fast_times(table, layout)
    if times is None and stamp is None:
        return None
    values = [float64s(one_chunk(table[str(c)])) for c in value_columns(layout)]
    if any(np.isinf(v).any() for v in values if not all_finite(v)):
        return None
    labels = _fast_labels(table, layout)
    if labels is None:
        return None
    events = _fast_events(table, layout)
    return Chunk(lines, times, stamp, values, labels, events, blank=count - table.num_rows)


def _fast_labels(table: pa.Table, layout: Layout) -> dict[int, tuple[NDArray[np.int32], list[str]]] | None:
    """The label cells by column, None where one is missing."""
    labels = {}
    for column in label_columns(layout):
        coded = one_chunk(table[str(column)])
        if coded.null_count:
            # A place may be called "open", which elsewhere is a word for no value: read with care.
            return None
        labels[column] = (_codes(coded.indices), [v or "" for v in coded.dictionary.to_pylist()])
    return labels


def _fast_events(table: pa.Table, layout: Layout) -> list[tuple[int, int, str]]:
    """The marks: row, column and text."""
    events: list[tuple[int, int, str]] = []
    for column in layout.events:
        texts = one_chunk(table[str(column)])
        if texts.null_count < len(texts):
            here = np.flatnonzero(present(texts))
            events += [(int(row), column, texts[int(row)].as_py().strip()) for row in here]
    return events


def _conversion(layout: Layout) -> pacsv.ConvertOptions:
    types: dict[str, pa.DataType] = {}
    for i, column in enumerate(layout.time.columns):
        numeric = bool(layout.time.roles) and layout.time.roles[i] not in TEXT_ROLES
        types[str(column)] = pa.float64() if numeric else _time_type(layout)
    types |= {str(c): pa.float64() for c in value_columns(layout)}
    types |= {str(c): pa.dictionary(pa.int32(), pa.string()) for c in label_columns(layout)}
    types |= {str(c): pa.string() for c in layout.events}
    return pacsv.ConvertOptions(
        column_types=types,
        include_columns=list(types),
        null_values=_NULLS,
        strings_can_be_null=True,
        quoted_strings_can_be_null=True,
        decimal_point=layout.decimal,
    )


def _time_type(layout: Layout) -> pa.DataType:
    if layout.time.kind != CALENDAR:
        return pa.float64()
    if layout.time.iso:
        return pa.timestamp(
            "ms" if layout.time.fraction_digits <= 3 else "ns", tz="UTC" if layout.time.iso == "utc" else None
        )
    return pa.string()


def _taken_apart(column: pa.StringArray) -> TimeParts:
    offsets, letters = column.buffers()[1:]
    bounds = np.frombuffer(offsets, np.int32, len(column) + 1 + column.offset)[column.offset :]
    return take_apart(np.frombuffer(letters or b"", np.uint8), bounds.astype(np.int64))


def _fast_times(
    table: pa.Table, layout: Layout
) -> tuple[tuple[TimeParts, ...] | None, NDArray[np.float64] | Times | None]:
    columns = [one_chunk(table[str(c)]) for c in layout.time.columns]
    if any(c.null_count for c in columns):
        return None, None
    if layout.time.kind != CALENDAR:
        return None, float64s(columns[0])
    if layout.time.iso:
        stamp = int64s(columns[0])
        return None, stamp if layout.time.fraction_digits <= 3 else stamp // 1_000_000
    texts: dict[int, TimeParts] = {}
    numbers = {}
    for i, column in enumerate(columns):
        if pa.types.is_float64(column.type):
            numbers[i] = float64s(column)
            continue
        texts[i] = _taken_apart(column)
        if not texts[i].ok.all():
            return None, None
    if not layout.time.roles:
        return tuple(texts.values()), None
    both = combine(layout.time.roles, texts, numbers)
    return (both, None) if all(p.ok.all() for p in both) else (None, None)


def _codes(indices: pa.Array) -> NDArray[np.int32]:
    return np.frombuffer(indices.buffers()[1], np.int32, len(indices) + indices.offset)[indices.offset :]


def _line_numbers(data: bytes, first: int, count: int, rows: int) -> Times:
    if count == rows:
        return np.arange(first, first + rows, dtype=np.int64)
    full = [number for number, line in enumerate(data.split(b"\n"), first) if line]
    return np.array(full[:rows], np.int64)


def _slow_times(
    good: Sequence[FileRow], layout: Layout
) -> tuple[tuple[TimeParts, ...] | None, NDArray[np.float64] | Times | None]:
    """The rows' times taken apart, or their stamps."""
    if layout.time.kind == CALENDAR and not layout.time.iso:
        columns = range(len(layout.time.columns))
        return parts_of_texts(layout.time.roles, [[r.times[i] for r in good] for i in columns]), None
    stamps = [r.stamp for r in good]
    return None, np.array(stamps, np.int64) if layout.time.iso else np.array(stamps, np.float64)


def slow_chunk(data: bytes, first: int, layout: Layout) -> Chunk:
    """The same rows read one by one: what cannot be used is refused with its line and reason."""
    texts = data.decode("utf-8", errors="replace").split("\n")[:-1]
    wanted = label_columns(layout)
    rows = read_rows(texts, first, layout, value_columns(layout), wanted)
    good = [r for r in rows if r.refused is None and not r.blank and not r.again]
    labels = {c: _coded([r.labels[i] for r in good]) for i, c in enumerate(wanted)}
    values = [np.array([r.values[i] for r in good], np.float64) for i in range(len(value_columns(layout)))]
    times, stamp = _slow_times(good, layout)
    chunk = Chunk(np.array([r.line for r in good], np.int64), times, stamp, values, labels)
    for i, row in enumerate(good):
        chunk.events += [(i, column, text) for column, text in row.events]
        chunk.oddities.update(row.oddities)
    for row in rows:
        chunk.refused += [row.refused] if row.refused is not None else []
        chunk.blank += row.blank
        chunk.again += row.again
        chunk.beside += row.beside
    return chunk


def _coded(texts: Sequence[str]) -> tuple[NDArray[np.int32], list[str]]:
    names = list(dict.fromkeys(texts))
    place = {name: i for i, name in enumerate(names)}
    return np.array([place[t] for t in texts], np.int32), names
