"""Whether 3/4 is 3 April or 4 March: decided from a whole file, or left open.

Two things decide: a number that cannot be a month, and the step of the logger: across midnight the right
order goes on by one step, the wrong one leaps by a month or a year.
"""

from __future__ import annotations

import numpy as np

from ..layout import ORDERS
from .time_shapes import KNOWN, UNKNOWN, YEAR_LAST
from .time_text import DAY_MS, Ints, Mask, TimeParts, days_since_1970, full_year

# A few damaged rows do not rule an order out; one row in a hundred does.
_DAMAGED = 0.01
_SURE_ROWS = 1000


def order_days(parts: TimeParts, order: str) -> tuple[Ints, Mask]:
    """Days since 1970 of dates read in one order, and which of them exist.

    Dates whose order is written out (year first, or a month's name) do not depend on it.
    """
    a, b, c = parts.first, parts.second, parts.third
    known, last = parts.year == KNOWN, parts.year == YEAR_LAST
    if order == "YMD":
        year, month, day = np.where(known, a, full_year(a)), b, c
    else:
        month_first = order == "MDY"
        year = np.where(known, a, full_year(c))
        month = np.where(known, b, a if month_first else b)
        day = np.where(known, c, b if month_first else a)
    days, exists = days_since_1970(year, month, day)
    if order == "YMD":
        exists = exists & ~last
    return days, exists & parts.ok & parts.dated


class DateOrder:
    """Collects the dates of a file, part by part, until their order is decided."""

    def __init__(self) -> None:
        self.rows = 0
        self._wrong = dict.fromkeys(ORDERS, 0)
        self._near = dict.fromkeys(ORDERS, 0)
        self._turns = 0
        self._possible: tuple[str, ...] = ORDERS

    def add(self, parts: TimeParts, day_ms: Ints) -> None:
        """Take in the next rows; ``day_ms`` is the clock time, from this column or another."""
        use = parts.ok & parts.dated & (parts.year != KNOWN)
        if not use.any():
            return
        if not (parts.year[use] == UNKNOWN).any():
            self._possible = ORDERS[:2]
        self.rows += int(use.sum())
        packed = (parts.first * 10_000 + parts.second) * 10_000 + parts.third
        packed, clock = packed[use], day_ms[use]
        turn = np.flatnonzero(np.diff(packed) != 0)
        same_day = np.abs(np.diff(clock))[np.diff(packed) == 0]
        step = float(np.median(same_day)) if len(same_day) else 0.0
        self._turns += len(turn) if step else 0
        for order in ORDERS:
            days, exists = order_days(parts, order)
            self._wrong[order] += int((~exists[use]).sum())
            at = days[use] * DAY_MS + clock
            leap = np.abs(at[turn + 1] - at[turn])
            # Across midnight by the usual step, or two missed ones: a month's leap never is.
            self._near[order] += int((leap <= 3 * step).sum()) if step else 0

    @property
    def left(self) -> tuple[str, ...]:
        """The orders under which (nearly) every date exists."""
        return tuple(o for o in self._possible if self._wrong[o] <= _DAMAGED * self.rows)

    def settled(self) -> bool:
        """Whether more rows cannot change much: one order left, after many rows."""
        return len(self.left) <= 1 and self.rows >= _SURE_ROWS

    def decided(self) -> str | None:
        """The order, or None where two still fit (or none does)."""
        left = self.left
        if len(left) == 1:
            return left[0]
        near = sorted(((self._near[o], o) for o in left), reverse=True)
        if len(near) > 1 and near[0][0] >= 1 and near[1][0] == 0 and near[0][0] >= 0.5 * self._turns:
            return near[0][1]
        return None
