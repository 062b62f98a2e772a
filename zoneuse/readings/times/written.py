"""Dates and clock times as people write them, in one column or two: the same reading as for loggers' exports."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

import numpy as np

from .date_order import DateOrder, order_days
from .time_text import DAY_MS, NO_OFFSET, take_apart_texts

_EPOCH = datetime(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class Written:
    """``times``: one for each text, without a zone unless one is written; None where it is no time.

    ``orders``: the orders of day, month and year that still fit where that decides nothing; empty once decided.
    """

    times: tuple[datetime | None, ...]
    orders: tuple[str, ...] = ()


def read_written(dates: Sequence[str], clocks: Sequence[str] | None = None, order: str = "") -> Written:
    """Times from texts, and from a second column of clock times.

    ``order``: DMY, MDY or YMD where the keeper said it. Without, it is decided from all of them, or left open.

    >>> read_written(["25/11/2020", "01/12/2020"], ["7:00 PM", "07:30"]).times[0]
    datetime.datetime(2020, 11, 25, 19, 0)
    """
    date = take_apart_texts(list(dates))
    clock = take_apart_texts(list(clocks)) if clocks is not None else date
    orders = DateOrder()
    orders.add(date, clock.day_ms)
    decided = order or orders.decided()
    if decided is None and date.shapes and all(shape.dotted for shape, _ in date.shapes):
        # Dots are written day first all over the world.
        decided = "DMY" if "DMY" in orders.left else None
    if decided is None and orders.rows and len(orders.left) > 1:
        return Written((None,) * len(dates), orders.left)
    days, good = order_days(date, decided or "DMY")
    good = good & clock.ok
    ms = days * DAY_MS + clock.day_ms
    offsets = np.where(clock.offset_min == NO_OFFSET, date.offset_min, clock.offset_min)
    return Written(
        tuple(
            _time(int(at), int(offset)) if ok else None
            for at, offset, ok in zip(ms, offsets, good, strict=True)
        )
    )


def _time(ms: int, offset: int) -> datetime:
    at = _EPOCH + timedelta(milliseconds=ms)
    return at if offset == NO_OFFSET else at.replace(tzinfo=timezone(timedelta(minutes=offset)))
