"""A straight line that a few odd points do not bend: the median of all pairwise slopes."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..intervals.quantiles import normal_quantile


class SenLine(NamedTuple):
    """``slope`` with its limits, and the ``intercept`` at x = 0."""

    slope: float
    low: float
    high: float
    intercept: float


def theil_sen(x: ArrayLike, y: ArrayLike, confidence: float = 0.95) -> SenLine:
    """The line of Theil and Sen (Sen 1968, J. Am. Stat. Assoc. 63:1379, eq. 2.6, limits by his normal form).

    ``x`` and ``y`` (n,), at least two different x. The intercept is the median of y - slope x. Limits take the
    points as independent of each other.

    >>> x, y = [1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]
    >>> [round(float(v), 2) for v in theil_sen(x, y, 0.93)]
    [4.0, 3.71, 4.38, 6.0]
    """
    xs, ys = np.asarray(x, np.float64), np.asarray(y, np.float64)
    one, other = np.triu_indices(len(xs), 1)
    apart = xs[other] - xs[one]
    there = apart != 0
    if not there.any():
        raise ValueError("at least two different x are needed")
    slopes = np.sort((ys[other] - ys[one])[there] / apart[there])
    slope = float(np.median(slopes))
    n, pairs = len(xs), len(slopes)
    ties = np.unique(xs, return_counts=True)[1]
    variance = (n * (n - 1) * (2 * n + 5) - float((ties * (ties - 1) * (2 * ties + 5)).sum())) / 18
    half = normal_quantile(0.5 + confidence / 2) * math.sqrt(variance)
    # As scipy rounds: the ranks of the limits among the sorted slopes.
    low = max(round((pairs - half) / 2) - 1, 0)
    high = min(round((pairs + half) / 2), pairs - 1)
    return SenLine(slope, float(slopes[low]), float(slopes[high]), float(np.median(ys - slope * xs)))
