"""Written times of a whole column to numbers, by arrays: rows of one shape are read together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .time_shapes import KNOWN, TimeShape, plain_spaces, shape_of

DAY_MS = 86_400_000
NO_OFFSET = -(1 << 30)
_WORD = np.uint64(8)
# Odd random weights: two different shapes of one length get one key with a chance of 2^-64.
_WEIGHTS = np.random.default_rng(7).integers(1, 1 << 62, 12, dtype=np.uint64) * np.uint64(2) + np.uint64(1)
_LONGEST = 96
# Rows at a time: their scratch arrays then stay in the processor's cache.
_BLOCK = 16_384

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class TimeParts:
    """A column of written times, taken apart. All arrays are (n,).

    ``first, second, third``: the date's numbers in the order written (year, month, day where ``year`` is
    KNOWN); ``dated``: whether there is a date. ``day_ms``: ms since midnight. ``offset_min``: the offset
    written with the time, or NO_OFFSET. ``ok``: False where the text is no time. ``shapes``: the shapes met,
    with how many rows each has.
    """

    first: Ints
    second: Ints
    third: Ints
    year: Ints
    day_ms: Ints
    offset_min: Ints
    dated: Mask
    ok: Mask
    shapes: tuple[tuple[TimeShape, int], ...]


def take_apart(data: NDArray[np.uint8], offsets: Ints) -> TimeParts:
    """Take written times apart. ``data``: all texts' UTF-8 bytes; ``offsets``: (n + 1,) their bounds."""
    n = len(offsets) - 1
    parts = TimeParts(
        first=np.zeros(n, np.int64),
        second=np.ones(n, np.int64),
        third=np.ones(n, np.int64),
        year=np.zeros(n, np.int64),
        day_ms=np.zeros(n, np.int64),
        offset_min=np.full(n, NO_OFFSET, np.int64),
        dated=np.zeros(n, np.bool_),
        ok=np.zeros(n, np.bool_),
        shapes=(),
    )
    shapes: dict[TimeShape, int] = {}
    lengths = np.diff(offsets)
    for start in range(0, n, _BLOCK):
        here = lengths[start : start + _BLOCK]
        for length in np.flatnonzero(np.bincount(np.minimum(here, _LONGEST + 1))):
            if 0 < length <= _LONGEST:
                rows = np.flatnonzero(here == length) + start
                _same_length(data, offsets[:-1], rows, int(length), parts, shapes=shapes)
    return replace(parts, shapes=tuple(shapes.items()))


def take_apart_texts(texts: list[str]) -> TimeParts:
    """The same for a list of texts.

    >>> parts = take_apart_texts(["03.04.2026 14:05", "no"])
    >>> parts.ok.tolist(), int(parts.day_ms[0]) // 60_000
    ([True, False], 845)
    """
    encoded = [plain_spaces(text.strip()).encode() for text in texts]
    offsets = np.zeros(len(encoded) + 1, np.int64)
    offsets[1:] = np.cumsum([len(e) for e in encoded])
    return take_apart(np.frombuffer(b"".join(encoded), np.uint8), offsets)


def _same_length(
    data: NDArray[np.uint8],
    starts: Ints,
    rows: NDArray[np.intp],
    length: int,
    parts: TimeParts,
    *,
    shapes: dict[TimeShape, int],
) -> None:
    first = int(starts[rows[0]])
    if int(starts[rows[-1]]) - first == (len(rows) - 1) * length and len(rows) == rows[-1] - rows[0] + 1:
        letters = data[first : first + len(rows) * length].reshape(len(rows), length)
    else:
        letters = data[starts[rows][:, None] + np.arange(length)]
    wide = np.zeros((len(rows), -(-length // 8) * 8), np.uint8)
    # Every digit as 0: what is left is the row's shape, eight letters to a machine word.
    np.copyto(wide[:, :length], letters)
    digit = (letters - np.uint8(48)) < 10
    wide[:, :length][digit] = 48
    words = wide.view(np.uint64)
    key = (words * _WEIGHTS[: words.shape[1]]).sum(axis=1, dtype=np.uint64)
    if (key == key[0]).all():
        _same_shape(letters, rows, parts, shapes)
        return
    _, place, which = np.unique(key, return_index=True, return_inverse=True)
    order = np.argsort(which, kind="stable")
    bounds = np.searchsorted(which[order], np.arange(len(place) + 1))
    for low, high in pairwise(bounds):
        chosen = order[low:high]
        _same_shape(letters[chosen], rows[chosen], parts, shapes)


def _same_shape(
    letters: NDArray[np.uint8], rows: NDArray[np.intp], parts: TimeParts, shapes: dict[TimeShape, int]
) -> None:
    shape = shape_of(bytes(letters[0]).decode("latin-1"))
    if shape is None:
        shape = _shape_beyond_ascii(bytes(letters[0]))
    if shape is None:
        return
    ok = np.ones(len(rows), np.bool_)
    if shape.date:
        for name, span in zip(("first", "second", "third"), shape.date, strict=True):
            getattr(parts, name)[rows] = _number(letters, span)
        if shape.month:
            parts.second[rows] = shape.month
        if shape.year == KNOWN and shape.date[0][1] - shape.date[0][0] == 2:
            parts.first[rows] = full_year(parts.first[rows])
        parts.year[rows] = shape.year
        parts.dated[rows] = True
    if shape.clock:
        parts.day_ms[rows] = _day_ms(letters, shape, ok)
    if shape.utc:
        parts.offset_min[rows] = 0
    elif shape.sure_zone is not None:
        parts.offset_min[rows] = shape.sure_zone
    if shape.offset_sign:
        hours, *minutes = (_number(letters, span) for span in shape.offset)
        total = hours * 60 + (minutes[0] if minutes else 0)
        parts.offset_min[rows] = shape.offset_sign * total
        ok &= total <= 15 * 60
    parts.ok[rows] = ok
    shapes[shape] = shapes.get(shape, 0) + int(ok.sum())


def _shape_beyond_ascii(letters: bytes) -> TimeShape | None:
    """The shape of a text with letters of several bytes, its spans in bytes."""
    try:
        text = letters.decode()
    except UnicodeDecodeError:
        return None
    shape = shape_of(text)
    if shape is None or text.isascii():
        return shape
    at = [len(text[:i].encode()) for i in range(len(text) + 1)]

    def spans(some: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
        return tuple((at[a], at[b]) for a, b in some)

    fraction = spans((shape.fraction,))[0] if shape.fraction else None
    return TimeShape(
        spans(shape.date), shape.year, shape.month, spans(shape.clock), fraction, shape.half,
        spans(shape.offset), shape.offset_sign, shape.utc, shape.zone_name, shape.dotted, shape.dashed,
    )  # fmt: skip


def _number(letters: NDArray[np.uint8], span: tuple[int, int]) -> Ints:
    value = np.zeros(len(letters), np.int64)
    for column in range(*span):
        value = value * 10 + (letters[:, column] - np.uint8(48))
    return value


def _day_ms(letters: NDArray[np.uint8], shape: TimeShape, ok: Mask) -> Ints:
    hour, *rest = (_number(letters, span) for span in shape.clock)
    minute = rest[0] if rest else np.zeros(len(hour), np.int64)
    second = rest[1] if len(rest) > 1 else np.zeros(len(hour), np.int64)
    if shape.half:
        ok &= (hour >= 1) & (hour <= 12)
        hour = hour % 12 + (12 if shape.half == "pm" else 0)
    # 24:00 is the midnight that ends the day; 60 is a leap second, held as the next.
    end_of_day = (hour == 24) & (minute == 0) & (second == 0)
    ok &= ((hour <= 23) | end_of_day) & (minute <= 59) & (second <= 59)
    ms = ((hour * 60 + minute) * 60 + second) * 1000
    if shape.fraction:
        digits = shape.fraction[1] - shape.fraction[0]
        ms = ms + _number(letters, shape.fraction) * 1000 // 10**digits
    return ms


def full_year(two_digits: Any) -> Any:
    """26 is 2026, 99 is 1999: no logger's file is older than 1970."""
    return np.where(
        two_digits < 70, two_digits + 2000, np.where(two_digits < 100, two_digits + 1900, two_digits)
    )


def days_since_1970(year: Ints, month: Ints, day: Ints) -> tuple[Ints, Mask]:
    """Days since 1970-01-01 of calendar dates, and which of them exist.

    By the days-from-civil algorithm (H. Hinnant 2013, chrono-compatible low-level date algorithms).

    >>> days_since_1970(np.array([1970, 2026]), np.array([1, 2]), np.array([2, 30]))
    (array([    1, 20514]), array([ True, False]))
    """
    shifted = year - (month <= 2)
    era = shifted // 400
    year_of_era = shifted - era * 400
    day_of_year = (153 * (month + np.where(month > 2, -3, 9)) + 2) // 5 + day - 1
    days = era * 146_097 + year_of_era * 365 + year_of_era // 4 - year_of_era // 100 + day_of_year - 719_468
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    lengths = np.array([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    month_ok = (month >= 1) & (month <= 12)
    longest = lengths[np.where(month_ok, month, 0)] + ((month == 2) & leap)
    return days, month_ok & (day >= 1) & (day <= longest) & (year >= 1970) & (year <= 2200)
