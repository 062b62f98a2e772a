"""Rows that are all written alike, digit under digit, read as columns of digits: a third of the work of a CSV reader.

Loggers that write ISO times and a fixed number of decimals fill whole files with such rows. Every letter of a block is
looked at: a row that is longer, or has anything but a digit where the first one has one, leaves the block to others.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrow_arrays import Times, Values
from ..layout import CALENDAR, Layout

_TIME = re.compile(rb"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d)?(Z?)")
_EPOCH = date(1970, 1, 1).toordinal()
_DAY_S = 86_400
# More digits than this do not fit into 32 bits.
_MOST_DIGITS = 9
# Few enough rows at once that their letters stay in a core's cache while column after column is read.
_AT_ONCE = 16_384
# Days are made out one by one; where they change this often there is nothing to gain.
_ROWS_A_DAY = 16

_DATE = len("2026-04-03")
_TO_THE_SECOND = len("2026-04-03T14:05:06")

Digits = NDArray[np.uint8]


def _word(letters: bytes) -> int:
    """Eight letters as one number, as they lie in memory: the first is the lowest byte."""
    return int.from_bytes(letters, "little")


# A clock as one number: exclusive or with the first leaves the digits, and nothing of the marks between them. Added
# to six a digit stays below sixteen, nothing else does. Two digits are then one number in the first one's byte.
_MIDNIGHT, _SIX, _NO_DIGITS = (
    _word(b"00:00:00"),
    _word(b"\6\6\0\6\6\0\6\6"),
    _word(b"\xf0\xf0\xff" * 2 + b"\xf0\xf0"),
)
_FIRST = _word(b"\xff\0\0\xff\0\0\xff\0")
# What an hour, minute or second that does not exist sets the highest bit of its byte by.
_BEYOND, _HIGHEST = _word(bytes([128 - 24, 0, 0, 128 - 60, 0, 0, 128 - 60])), _word(b"\x80\0\0\x80\0\0\x80")


def read_even(data: bytes, count: int, layout: Layout) -> tuple[Times, list[Values]] | None:
    """The times (ms, as the layout's ISO times) and values of ``count`` lines; None where they are not all alike."""
    width = data.find(b"\n") + 1
    if width == 0 or width * count != len(data) or not _simple(layout):
        return None
    cells = data[: width - 1].split(layout.delimiter.encode())
    shape = _TIME.fullmatch(cells[layout.time.columns[0]]) if len(cells) == layout.width else None
    if shape is None or bool(shape[2]) != (layout.time.iso == "utc"):
        return None
    times = np.empty(count, np.int64)
    values = [np.empty(count, np.float64) for _ in layout.values]
    for first in range(0, count, _AT_ONCE):
        part = slice(first, min(first + _AT_ONCE, count))
        block = _EvenBlock(data, width, first * width, part.stop - first)
        if not _fill(block, cells, layout, times[part], [v[part] for v in values]):
            return None
    return times, values


def _fill(
    block: _EvenBlock, cells: Sequence[bytes], layout: Layout, times: Times, values: Sequence[Values]
) -> bool:
    """Read a part of the rows, written as ``cells`` are, into these places. False where one is written otherwise."""
    starts = [0]
    for cell in cells:
        starts.append(starts[-1] + len(cell) + 1)
    column, mark = layout.time.columns[0], layout.decimal.encode()
    # What stands between the cells, and at the end; in a number, and in the time behind its date, whose own letters
    # are looked at with each new date.
    fixed = [at - 1 for at in starts[1:]]
    fixed += [starts[v.column] + at for v in layout.values if (at := cells[v.column].find(mark)) >= 0]
    fixed += [
        starts[column] + at
        for at, letter in enumerate(cells[column])
        if at >= _DATE and not 48 <= letter <= 57
    ]
    if not block.same(fixed) or not block.times(starts[column], cells[column], times):
        return False
    return all(
        block.numbers(starts[v.column], cells[v.column], mark, into)
        for v, into in zip(layout.values, values, strict=True)
    )


def _simple(layout: Layout) -> bool:
    """Whether every column is either the ISO time or a value."""
    taken = {*layout.time.columns, *(v.column for v in layout.values)}
    plain = layout.time.kind == CALENDAR and bool(layout.time.iso) and len(layout.delimiter) == 1
    return plain and layout.long is None and layout.delimiter != " " and len(taken) == layout.width


class _EvenBlock:
    """``count`` lines of ``width`` bytes each, their ends included, from byte ``begin`` on."""

    def __init__(self, data: bytes, width: int, begin: int, count: int) -> None:
        self.data, self.width, self.begin, self.count = data, width, begin, count

    def _letters(self, at: int, kind: str = "u1") -> NDArray[Any]:
        """What stands from place ``at`` on in each line, as numbers of that kind."""
        return np.ndarray((self.count,), f"<{kind}", self.data, self.begin + at, (self.width,))

    def same(self, places: Iterable[int]) -> bool:
        """Whether each line has the letters there that the file's block begins with; eight letters at a glance."""
        left = sorted(places)
        while left:
            begin = min(left[0], self.width - 8)
            mask = sum(255 << 8 * (at - begin) for at in left if at < begin + 8)
            if ((self._letters(begin, "u8") & mask) != _word(self.data[begin : begin + 8]) & mask).any():
                return False
            left = [at for at in left if at >= begin + 8]
        return True

    def _digits(self, at: int) -> Digits | None:
        found = np.bitwise_xor(self._letters(at), 48, dtype=np.uint8)
        return found if found.max() <= 9 else None

    def _days(self, at: int) -> NDArray[np.int64] | None:
        """Days since 1970 of the dates from ``at`` on."""
        century, late = self._letters(at, "u2"), self._letters(at + 2, "u8")
        begins = np.r_[0, np.flatnonzero(late[1:] != late[:-1]) + 1]
        if len(begins) > 1 + self.count // _ROWS_A_DAY or (century != century[0]).any():
            return None
        try:
            days = [self._day(int(row) * self.width + self.begin + at) for row in begins]
        except ValueError:
            return None
        return np.repeat(np.array(days, np.int64), np.diff(np.r_[begins, self.count]))

    def _day(self, byte: int) -> int:
        """Raises ValueError where no date stands there."""
        return date.fromisoformat(self.data[byte : byte + 10].decode("ascii")).toordinal() - _EPOCH

    def _clock(self, at: int, seconds: bool) -> NDArray[np.int64] | None:
        """Seconds since midnight of the clocks from ``at`` on, with seconds or without."""
        if seconds:
            word = self._letters(at, "u8") ^ _MIDNIGHT
        else:
            word = (self._letters(at - 3, "u8") >> 24) ^ (_MIDNIGHT & _word(b"\xff" * 5))
        wrong = word + _SIX
        wrong |= word
        wrong &= _NO_DIGITS
        if wrong.max():
            return None
        pairs = word * 10
        pairs += word >> 8
        pairs &= _FIRST
        if ((pairs + _BEYOND) & _HIGHEST).max():
            return None
        # One multiplication for hours and minutes, which stand 24 bits apart.
        clock = (((pairs & 0xFF0000FF) * ((3600 << 24) + 60)) >> 24) & 0x1FFFF
        clock += pairs >> 48
        return np.asarray(clock.view(np.int64))

    def times(self, at: int, first: bytes, into: Times) -> bool:
        """Read the times from ``at`` on, written as the first, as ms."""
        days, clock = self._days(at), self._clock(at + _DATE + 1, len(first) >= _TO_THE_SECOND)
        if days is None or clock is None:
            return False
        days *= _DAY_S
        days += clock
        np.multiply(days, 1000, out=into)
        return True

    def numbers(self, at: int, first: bytes, decimal: bytes, into: Values) -> bool:
        """Read the numbers from ``at`` on, written as the first: digits, with decimals or without."""
        whole, mark, part = first.partition(decimal)
        if not whole.isdigit() or (mark and not part.isdigit()) or len(whole) + len(part) > _MOST_DIGITS:
            return False
        total = np.zeros(self.count, np.int32)
        for place in (*range(at, at + len(whole)), *range(at + len(whole) + 1, at + len(first))):
            digits = self._digits(place)
            if digits is None:
                return False
            total *= 10
            total += digits
        # Both are exact, so that the quotient is the double nearest to what is written.
        np.divide(total, 10.0 ** len(part), out=into)
        return True
