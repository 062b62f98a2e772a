"""A chunk's written times as numbers: UTC where the file says so, else local time still to be placed."""

from __future__ import annotations

from datetime import timedelta, tzinfo
from pathlib import Path

import numpy as np

from zoneuse.study import fault

from ...study import from_ms
from ..arrow_arrays import Times
from ..blocks import Encoding, read_blocks
from ..layout import (
    CALENDAR,
    ELAPSED,
    EPOCH,
    SERIAL,
    TZ_OVER_EACH,
    Layout,
    LeftOpen,
    UndecidedError,
)
from ..times.date_order import DateOrder, order_days
from ..times.local_time import Mask
from ..times.time_text import DAY_MS, NO_OFFSET
from .chunks import Chunk, read_chunks

# Clocks are changed at a quarter of an hour, wherever they are.
_QUARTER_MS = 900_000
_YEAR_2200_MS = 7_258_118_400_000
_SERIAL_EPOCH_DAYS = 25_569  # 1970-01-01 counted from 1899-12-30, as spreadsheets count


def chunk_times(chunk: Chunk, layout: Layout) -> tuple[Times, Mask, bool]:
    """Times (n,) in ms, which of them are real, and whether they are UTC already (else local)."""
    time = layout.time
    if chunk.times is not None:
        return _calendar_times(chunk, layout)
    assert chunk.stamp is not None
    if time.kind == CALENDAR:
        stamp = np.asarray(chunk.stamp, np.int64)
        # pyarrow also reads years no logger has seen.
        if len(stamp) and stamp.min() >= 0 and stamp.max() < _YEAR_2200_MS:
            return stamp, np.ones(len(stamp), np.bool_), time.iso == "utc"
        return stamp, (stamp >= 0) & (stamp < _YEAR_2200_MS), time.iso == "utc"
    numbers = np.asarray(chunk.stamp, np.float64)
    if time.kind == EPOCH:
        ms = np.floor(numbers * time.per_unit_ms + 1e-6)
    elif time.kind == ELAPSED:
        ms = np.rint(numbers * time.per_unit_ms) + time.start_ms
    else:
        assert time.kind == SERIAL
        # Days as decimal fractions carry rounding: the second they mean is the nearest one.
        ms = np.rint((numbers - _SERIAL_EPOCH_DAYS) * 86_400) * 1000
    good = (ms >= 0) & (ms < _YEAR_2200_MS)
    return np.where(good, ms, 0).astype(np.int64), good, time.kind != SERIAL


def _calendar_times(chunk: Chunk, layout: Layout) -> tuple[Times, Mask, bool]:
    assert chunk.times is not None
    date, *clock = chunk.times
    days, good = order_days(date, layout.time.order)
    day_ms = clock[0].day_ms if clock else date.day_ms
    if clock:
        # A date that has a clock of its own says something else than the clock beside it.
        good = good & clock[0].ok & (date.day_ms == 0)
    ms = days * DAY_MS + day_ms
    if not layout.time.own_offset:
        own = (clock[0] if clock else date).offset_min
        if layout.time.zone_from == "--tz":
            # Rows with an offset of their own among others without, for which --tz was given.
            ms = _shown_in(layout.time.zone, ms, own)
        elif layout.time.zone_from != TZ_OVER_EACH:
            # One row with an offset among others without: it cannot be read as they are.
            good = good & (own == NO_OFFSET)
        return ms, good, False
    offset = (clock[0] if clock else date).offset_min
    good = good & (offset != NO_OFFSET)
    return ms - np.where(offset == NO_OFFSET, 0, offset) * 60_000, good, True


def _shown_in(zone: tzinfo | None, local_ms: Times, offset_min: Times) -> Times:
    """The times with an offset of their own as the clocks of ``zone`` showed them; the others as they are."""
    own = np.flatnonzero(offset_min != NO_OFFSET)
    if not len(own) or zone is None:
        return local_ms
    utc = local_ms[own] - offset_min[own] * 60_000
    hours, which = np.unique(utc // _QUARTER_MS, return_inverse=True)
    shift = [from_ms(int(h) * _QUARTER_MS).astimezone(zone).utcoffset() or timedelta() for h in hours]
    found = local_ms.copy()
    found[own] = utc + np.array([s // timedelta(milliseconds=1) for s in shift], np.int64)[which]
    return found


def _all_dates(path: Path, layout: Layout) -> tuple[DateOrder, bool]:
    """What the file's dates leave open, and whether all are written with points."""
    order = DateOrder()
    dotted = True
    for block in read_blocks(path, Encoding(layout.encoding, layout.bom)):
        for chunk in read_chunks(block, layout):
            if chunk.times is None or len(chunk) == 0:
                continue
            date, *clock = chunk.times
            order.add(date, clock[0].day_ms if clock else date.day_ms)
            halves = any(s.half for part in chunk.times for s, _ in part.shapes)
            dotted = dotted and not halves and all(s.dotted for s, _ in date.shapes)
        if order.settled():
            break
    return order, dotted


def settle_dates(path: Path, layout: Layout, given: str | None) -> str:
    """The order of day and month, decided from the whole file.

    ``given``: the order the keeper states; it is refused where the file contradicts it. Raises
    UndecidedError where two orders fit.
    """
    order, dotted = _all_dates(path, layout)
    if given:
        if order.rows and given not in order.left:
            raise fault(
                "date-order", path, "", f"dates cannot be read as {given}: many of them would not exist",
                " or ".join(order.left) or "real dates", remedy="Leave out --dates",
            )  # fmt: skip
        return given
    if not order.rows:
        return "DMY"
    if not order.left:
        raise fault("dates", path, "", "many of its dates do not exist in any order", "real dates",
                    remedy="Look at the file's dates")  # fmt: skip
    decided = order.decided()
    if decided is None and dotted and set(order.left) == {"DMY", "MDY"}:
        decided = "DMY"  # 03.04.2026: with points, a full year and 24 hours the day is always first
    if decided is None:
        raise UndecidedError((_which_order(order.left, path),))
    return decided


def _which_order(left: tuple[str, ...], path: Path) -> LeftOpen:
    words = {"DMY": "day first (3/4 is 3 April)", "MDY": "month first (3/4 is 4 March)", "YMD": "year first"}
    asks = f"The dates can be read {' or '.join(words[o] for o in left)}, and nothing in the file decides it"
    return LeftOpen("dates", asks, " or ".join(f"--dates {o}" for o in left), left)
