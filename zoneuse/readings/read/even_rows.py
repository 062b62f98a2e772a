"""Rows that are all written alike, digit under digit, read as columns of digits: a third of the work of a CSV reader.

Loggers that write ISO times and a fixed number of decimals fill whole files with such rows. Every letter of a block is
looked at: a row that is longer, or has anything but a digit where the first one has one, leaves the block to others.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

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
    column = layout.time.columns[0]
    # What stands between the cells, and at the end.
    if not all(block.same(at - 1) for at in starts[1:]) or not block.times(
        starts[column], cells[column], times
    ):
        return False
    return all(
        block.numbers(starts[v.column], cells[v.column], layout.decimal.encode(), into)
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

    def _letters(self, at: int, kind: str = "u1") -> NDArray[np.unsignedinteger]:
        """What stands from place ``at`` on in each line, as numbers of that kind."""
        return np.ndarray((self.count,), f"<{kind}", self.data, self.begin + at, (self.width,))

    def same(self, at: int) -> bool:
        """Whether each line has the letter there that the file's block begins with."""
        return bool((self._letters(at) == self.data[at]).all())

    def _digits(self, at: int) -> Digits | None:
        found = np.bitwise_xor(self._letters(at), 48, dtype=np.uint8)
        return found if found.max() <= 9 else None

    def _two(self, at: int, most: int) -> Digits | None:
        """Two digits, up to ``most``."""
        tens, ones = self._digits(at), self._digits(at + 1)
        if tens is None or ones is None:
            return None
        found: Digits = tens * np.uint8(10) + ones
        return found if found.max() <= most else None

    def _days(self, at: int) -> NDArray[np.int64] | None:
        """Days since 1970 of the dates from ``at`` on."""
        month, day = self._letters(at, "u8"), self._letters(at + 8, "u2")
        begins = np.flatnonzero((month[1:] != month[:-1]) | (day[1:] != day[:-1])) + 1
        begins = np.r_[0, begins]
        if len(begins) > 1 + self.count // _ROWS_A_DAY:
            return None
        try:
            days = [self._day(int(row) * self.width + self.begin + at) for row in begins]
        except ValueError:
            return None
        return np.repeat(np.array(days, np.int64), np.diff(np.r_[begins, self.count]))

    def _day(self, byte: int) -> int:
        """Raises ValueError where no date stands there."""
        return date.fromisoformat(self.data[byte : byte + 10].decode("ascii")).toordinal() - _EPOCH

    def times(self, at: int, first: bytes, into: Times) -> bool:
        """Read the times from ``at`` on, written as the first, as ms."""
        # The dates' own letters are looked at with each new date.
        between = (i for i, letter in enumerate(first) if i >= _DATE and not 48 <= letter <= 57)
        if not all(self.same(at + i) for i in between):
            return False
        days, hours, minutes = self._days(at), self._two(at + 11, 23), self._two(at + 14, 59)
        seconds = self._two(at + 17, 59) if len(first) >= _TO_THE_SECOND else np.zeros(1, np.uint8)
        if days is None or hours is None or minutes is None or seconds is None:
            return False
        clock = hours.astype(np.int32) * 3600
        clock += minutes.astype(np.int32) * 60
        clock += seconds
        days *= _DAY_S
        days += clock
        np.multiply(days, 1000, out=into)
        return True

    def numbers(self, at: int, first: bytes, decimal: bytes, into: Values) -> bool:
        """Read the numbers from ``at`` on, written as the first: digits, with decimals or without."""
        whole, mark, part = first.partition(decimal)
        if not whole.isdigit() or (mark and not part.isdigit()) or len(whole) + len(part) > _MOST_DIGITS:
            return False
        if mark and not self.same(at + len(whole)):
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
