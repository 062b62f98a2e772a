"""How much longer each litre lasted: a straight line of days on what was poured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..intervals.quantiles import t_quantile


@dataclass(frozen=True, slots=True)
class PouredLine:
    """days = start + per_litre * litres, with the limits of ``per_litre``; ``most``: the largest amount poured."""

    start: float
    per_litre: float
    low: float
    high: float
    most: float
    pours: int

    def days(self, litres: float) -> float:
        return self.start + self.per_litre * litres

    def litres(self, days: float) -> float:
        """What would last that long; infinite where more water does not last longer."""
        return (days - self.start) / self.per_litre if self.per_litre > 0 else float("inf")


def poured_line(litres: ArrayLike, days: ArrayLike, level: float = 0.95) -> PouredLine | None:
    """Least squares with the limits of Student's t (any textbook, such as Draper & Smith 1998, 1.4).

    ``litres``, ``days``: (n,) what was poured and how long it lasted. None for fewer than three different amounts.

    >>> found = poured_line([1, 2, 3], [4.0, 8.0, 12.0])
    >>> (found.per_litre, found.days(2.5))
    (4.0, 10.0)
    """
    x, y = np.asarray(litres, np.float64), np.asarray(days, np.float64)
    known = ~np.isnan(x) & ~np.isnan(y)
    x, y = x[known], y[known]
    if len(np.unique(x)) < 3:
        return None
    spread = float(((x - x.mean()) ** 2).sum())
    slope = float(((x - x.mean()) * (y - y.mean())).sum()) / spread
    start = float(y.mean() - slope * x.mean())
    left = y - start - slope * x
    se = float(np.sqrt((left**2).sum() / (len(x) - 2) / spread))
    half = t_quantile(0.5 + level / 2, len(x) - 2) * se
    return PouredLine(round(start, 9), round(slope, 9), slope - half, slope + half, float(x.max()), len(x))
