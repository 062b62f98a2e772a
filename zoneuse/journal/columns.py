"""Long journals into columns: plain lines by pyarrow with their checksums verified, all else by `records.decode`.

What stands here decides only which lines are beyond doubt. One that is unusual in any way (another kind, a field more,
an escape, a null, a value out of bounds, a checksum that does not fit) is read, or refused, by the one careful reader.
"""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from itertools import repeat
from operator import itemgetter
from typing import Any, overload

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.json as pj
from numpy.typing import NDArray

from ..study import YEARS
from .records import KINDS, Record, RecordError, decode

# Kinds whose fields are single values of one type each: nearly every line of a long session.
_PLAIN = ("seen", "unseen", "missed")
_TEXTS = ("animal", "group", "zone", "behaviour")
_COUNTS = ("scan", "count")
_FLAGS = ("sure", "hidden")
_FIELDS = (*_TEXTS, *_COUNTS, *_FLAGS)
_SCHEMA = pa.schema(
    [("n", pa.int64()), ("at", pa.string()), ("entered", pa.string()), ("mono", pa.float64()), ("is", pa.string())]
    + [(name, pa.string()) for name in _TEXTS]
    + [(name, pa.int64()) for name in _COUNTS]
    + [(name, pa.bool_()) for name in _FLAGS]
    + [("crc", pa.string())]
)  # fmt: skip
# A piece in which one line is odd goes through the careful reader as a whole.
_PIECE_BYTES = 8_000_000
_TAIL = 18  # ,"crc":"12345678"}
_HEAD = b'{"n":'
_KIND = b',"is":"'
_LARGEST = 10**15
_SOME_TIME = "2026-03-04T18:02:11.123+01:00"
_AT_LETTERS = len(_SOME_TIME)
_FIRST_MS, _LAST_MS = (
    int(datetime(year, 1, 1, tzinfo=UTC).timestamp()) * 1000 for year in (YEARS[0], YEARS[-1] + 1)
)

Bits = NDArray[np.bool_]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Piece:
    """Records of some lines, as columns; ``rows`` are their places among all lines."""

    rows: Whole
    table: pa.Table


@dataclass(frozen=True, slots=True)
class RecordColumns(Sequence[Record]):
    """The records of a long file in order of their lines, each made when it is asked for.

    ``lines`` (k): the number of each record's line. ``read_carefully``: records by their place, as `decode` read them.
    ``damaged``: line number and what was found.
    """

    lines: Whole
    n: Whole
    pieces: tuple[_Piece, ...]
    read_carefully: Mapping[int, Record]
    damaged: tuple[tuple[int, str], ...]

    def __len__(self) -> int:
        return len(self.lines)

    @property
    def in_order(self) -> bool:
        """Whether each record's number is above that of the line before, so that none stands twice."""
        return bool((np.diff(self.n) > 0).all())

    def __iter__(self) -> Iterator[Record]:
        return iter(self.records())

    @overload
    def __getitem__(self, place: int) -> Record: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Record]: ...
    def __getitem__(self, place: int | slice) -> Record | Sequence[Record]:
        if isinstance(place, slice):
            return self.records()[place]
        wanted = range(len(self))[place]
        if wanted in self.read_carefully:
            return self.read_carefully[wanted]
        for piece in self.pieces:
            inside = int(np.searchsorted(piece.rows, wanted))
            if inside < len(piece.rows) and piece.rows[inside] == wanted:
                return _made(piece.table.slice(inside, 1))[0]
        raise IndexError(place)  # pragma: no cover: every place is in a piece or was read carefully

    def records(self) -> list[Record]:
        """All of them, made anew."""
        found: list[Any] = [None] * len(self)
        for place, record in self.read_carefully.items():
            found[place] = record
        for piece in self.pieces:
            made = _made(piece.table)
            first, last = int(piece.rows[0]), int(piece.rows[-1])
            if last - first + 1 == len(made):
                found[first : last + 1] = made
            else:
                for place, record in zip(piece.rows.tolist(), made, strict=True):
                    found[place] = record
        return found


def read_columns(lines: Sequence[bytes]) -> RecordColumns:
    """The records in a file's lines (without their ends; empty ones are passed over)."""
    numbers = np.flatnonzero(np.fromiter(map(len, lines), np.int64, len(lines)))
    whole = [lines[i] for i in numbers.tolist()] if len(numbers) < len(lines) else list(lines)
    fast, tables = _beyond_doubt(whole)
    careful: dict[int, Record] = {}
    damaged: list[tuple[int, str]] = []
    refused = np.zeros(len(whole), bool)
    for i in np.flatnonzero(~fast).tolist():
        try:
            careful[i] = decode(whole[i])
        except RecordError as error:
            damaged.append((int(numbers[i]) + 1, str(error)))
            refused[i] = True
    # Places among the records that there are, not among the lines.
    place_of = np.cumsum(~refused) - 1
    n = np.zeros(len(whole), np.int64)
    for rows, table in tables:
        n[rows] = table["n"].to_numpy()
    for i, record in careful.items():
        n[i] = record.n
    return RecordColumns(
        numbers[~refused] + 1,
        n[~refused],
        tuple(_Piece(place_of[rows], table) for rows, table in tables if len(rows)),
        {int(place_of[i]): record for i, record in careful.items()},
        tuple(damaged),
    )


def _beyond_doubt(lines: Sequence[bytes]) -> tuple[Bits, list[tuple[Whole, pa.Table]]]:
    """Which lines are plain records, and those as tables by their places."""
    fast = np.zeros(len(lines), bool)
    tables = []
    for start, stop in _pieces(lines):
        found = _read_piece(lines[start:stop])
        if found is not None:
            rows = found[0] + start
            fast[rows] = True
            tables.append((rows, found[1]))
    return fast, tables


def _pieces(lines: Sequence[bytes]) -> Iterator[tuple[int, int]]:
    ends = np.cumsum(np.fromiter(map(len, lines), np.int64, len(lines)))
    start = 0
    while start < len(lines):
        before = int(ends[start - 1]) if start else 0
        stop = max(start + 1, int(np.searchsorted(ends, before + _PIECE_BYTES)))
        yield start, stop
        start = stop


def _read_piece(lines: Sequence[bytes]) -> tuple[Whole, pa.Table] | None:
    """Places and table of the plain records among some lines; None where anything about them is unusual."""
    data = b"\n".join(lines) + b"\n"
    rows = np.flatnonzero(_could_be_plain(lines, data))
    if not len(rows):
        return None
    if len(rows) < len(lines):
        data = b"\n".join([lines[i] for i in rows.tolist()]) + b"\n"
    try:
        if not data.isascii():
            data.decode()
        table = pj.read_json(
            io.BytesIO(data),
            parse_options=pj.ParseOptions(explicit_schema=_SCHEMA, unexpected_field_behavior="error"),
        )
        return _sound_rows(rows, table) if len(table) == len(rows) else None
    except (pa.ArrowException, UnicodeDecodeError):
        return None


def _could_be_plain(lines: Sequence[bytes], data: bytes) -> Bits:
    """Which lines have a checksum that fits, a plain kind, and nothing two readers of JSON could see otherwise.

    ``data`` are the lines, each with its newline.
    """
    sizes = np.fromiter(map(len, lines), np.int64, len(lines))
    letters, starts = np.frombuffer(data, np.uint8), np.concatenate([[0], np.cumsum(sizes + 1)])
    good = sizes > _TAIL + len(_HEAD)
    # A short line has no such places; it is looked at where it stands and counts for nothing.
    head = letters[np.minimum(starts[:-1, None] + np.arange(len(_HEAD)), len(letters) - 1)]
    tail = letters[np.maximum((starts[1:, None] - 1) - np.arange(_TAIL, 0, -1), 0)]
    good &= (head == np.frombuffer(_HEAD, np.uint8)).all(axis=1)
    good &= (tail[:, :8] == np.frombuffer(b',"crc":"', np.uint8)).all(axis=1)
    good &= (tail[:, 16:18] == np.frombuffer(b'"}', np.uint8)).all(axis=1)
    good &= _checksums(lines) == _written(tail[:, 8:16])
    good &= _of_plain_kind(data, letters, starts)
    # An escape or a null is for the careful reader; few pieces hold one.
    for odd in (b"\\", b"null"):
        if odd in data:
            good &= ~np.fromiter((odd in line for line in lines), bool, len(lines))
    return good


def _checksums(lines: Sequence[bytes]) -> NDArray[np.int64]:
    bodies = map(itemgetter(slice(0, -_TAIL)), lines)
    return np.fromiter(map(zlib.crc32, bodies), np.int64, len(lines))


def _written(digits: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Checksums as they are written, -1 where that is none."""
    values = _HEX[digits]
    found = (values << np.arange(28, -1, -4)).sum(axis=1)
    return np.asarray(np.where((values < 0).any(axis=1), -1, found), np.int64)


def _hex_values() -> NDArray[np.int64]:
    values = np.full(256, -1, np.int64)
    for value, letter in enumerate(b"0123456789abcdef"):
        values[letter] = value
    return values


_HEX = _hex_values()


def _of_plain_kind(data: bytes, letters: NDArray[np.uint8], starts: Whole) -> Bits:
    """Which lines seem to be of a plain kind. A guess that only chooses: the kind itself is read by pyarrow."""
    array = pa.LargeBinaryArray.from_buffers(
        pa.large_binary(), len(starts) - 1, [None, pa.py_buffer(starts.astype(np.int64)), pa.py_buffer(data)]
    )
    where = pc.find_substring(array, _KIND).to_numpy()
    found = np.zeros(len(where), bool)
    for kind in _PLAIN:
        word = np.frombuffer(f'{kind}"'.encode(), np.uint8)
        places = np.minimum(
            (starts[:-1] + where + len(_KIND))[:, None] + np.arange(len(word)), len(letters) - 1
        )
        found |= (letters[places] == word).all(axis=1)
    return np.asarray(found & (where >= 0), bool)


def _sound_rows(rows: Whole, table: pa.Table) -> tuple[Whole, pa.Table]:
    """The rows whose values are what `records.decode` takes, with their times as milliseconds UTC."""
    ms, sound = _instants(table["at"])
    whole = table.drop_columns(["crc", "at", "entered"]).append_column("at", pa.array(ms))
    if table["entered"].null_count < len(table):
        written, fits = _instants(table["entered"])
        absent = table["entered"].is_null().to_numpy()
        whole = whole.append_column("entered", pa.array(written, mask=absent))
        sound &= fits | absent
    sound &= _within(table["n"], 1, absent_fits=False) & _within(table["mono"], -_LARGEST, absent_fits=True)
    for name in _COUNTS:
        sound &= _within(table[name], 0, absent_fits=True)
    sound &= _has_what_it_must(table)
    return (rows, whole) if sound.all() else (rows[sound], whole.filter(pa.array(sound)))


def _instants(texts: pa.ChunkedArray) -> tuple[Whole, Bits]:
    """Milliseconds UTC, and which of the texts are times written as zoneuse writes them, in years beyond doubt.

    Raises ArrowException where one is no time.
    """
    usual = pc.fill_null(pc.equal(pc.binary_length(texts), _AT_LETTERS), False)
    ms = pc.cast(pc.if_else(usual, texts, _SOME_TIME), pa.timestamp("ms", "UTC")).cast(pa.int64()).to_numpy()
    return ms, usual.to_numpy() & (ms >= _FIRST_MS) & (ms < _LAST_MS)


def _within(column: pa.ChunkedArray, least: int, *, absent_fits: bool) -> Bits:
    if column.null_count == len(column):
        return np.full(len(column), absent_fits)
    fits = pc.and_(pc.greater_equal(column, least), pc.less(column, _LARGEST))
    return np.asarray(pc.fill_null(fits, absent_fits).to_numpy(), bool)


def _has_what_it_must(table: pa.Table) -> Bits:
    found = np.zeros(len(table), bool)
    for kind in _PLAIN:
        fits = pc.fill_null(pc.equal(table["is"], kind), False)
        for name in KINDS[kind].must:
            fits = pc.and_(fits, table[name].is_valid())
        found |= fits.to_numpy()
    return found


def _made(table: pa.Table) -> list[Record]:
    """Records of a table's rows, equal to those `decode` makes of their lines."""
    at = _datetimes(table["at"])
    entered = _datetimes(table["entered"]) if "entered" in table.column_names else repeat(None)
    fields = _fields(table)
    rows = zip(
        _values(table["n"]), at, _texts(table["is"]), fields, entered, _values(table["mono"]), strict=False
    )
    return list(map(Record._make, rows))


def _datetimes(ms: pa.ChunkedArray) -> list[datetime | None]:
    seconds = pc.divide(ms.cast(pa.float64()), 1000.0)
    if not seconds.null_count:
        return list(map(partial(datetime.fromtimestamp, tz=UTC), seconds.to_numpy().tolist()))
    return [None if s is None else datetime.fromtimestamp(s, UTC) for s in seconds.to_pylist()]


def _values(column: pa.ChunkedArray) -> list[Any]:
    # Numbers go many times faster by numpy, which has no place for one that is absent.
    return list(column.to_numpy().tolist()) if not column.null_count else list(column.to_pylist())


def _texts(column: pa.ChunkedArray) -> list[str | None]:
    encoded = column.combine_chunks().dictionary_encode()
    words = [*encoded.dictionary.to_pylist(), None]
    places = pc.fill_null(encoded.indices, len(words) - 1).to_numpy()
    return [words[i] for i in places.tolist()]


def _fields(table: pa.Table) -> list[dict[str, Any]]:
    """Fields of each row, those that are there."""
    names = [name for name in _FIELDS if table[name].null_count < len(table)]
    columns = {name: (_texts if name in _TEXTS else _values)(table[name]) for name in names}
    present = np.zeros(len(table), np.int64)
    for bit, name in enumerate(names):
        present |= table[name].is_valid().to_numpy().astype(np.int64) << bit
    shapes = np.unique(present).tolist()
    if len(shapes) == 1:
        return _dicts([n for bit, n in enumerate(names) if shapes[0] >> bit & 1], columns, len(table))
    found: list[Any] = [None] * len(table)
    for shape in shapes:
        own = [name for bit, name in enumerate(names) if shape >> bit & 1]
        rows = np.flatnonzero(present == shape).tolist()
        picked = {name: [columns[name][i] for i in rows] for name in own}
        for row, made in zip(rows, _dicts(own, picked, len(rows)), strict=True):
            found[row] = made
    return found


def _dicts(names: Sequence[str], columns: Mapping[str, Sequence[Any]], count: int) -> list[dict[str, Any]]:
    if not names:
        return [{} for _ in range(count)]
    return [dict(zip(names, row, strict=True)) for row in zip(*(columns[n] for n in names), strict=True)]
