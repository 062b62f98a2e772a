"""Recent units against all before them, where neighbouring units may repeat each other."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..intervals.differences import change_of_mean_shares
from .segmented import variance_inflation

# A dependence below this is within its own error and widens nothing.
_LEAST_LAG = 0.1
# The level at which a difference of a moving window, looked at after every session of a long study, errs in at most
# five of a hundred studies: about a dozen windows that share nothing, each looked at many times. By simulation.
LEVEL_MOVING = 0.0002


class RecentChange(NamedTuple):
    """After minus before, with limits; ``se`` is the error of each change by itself, ``looks`` what both sides are
    worth, ``degrees`` those of the limits."""

    change: Floats
    low: Floats
    high: Floats
    looks: Floats
    se: Floats
    degrees: float


def recent_change(
    before: ArrayLike, after: ArrayLike, confidence: float = 0.95, compared: int = 1
) -> RecentChange:
    """The change of each mean share (columns) from the units before to the recent ones, with limits.

    ``compared`` is how many limits hold at once (Bonferroni). Limits as ``change_of_mean_shares``, wider by what
    the units' lag-1 dependence adds to a mean's variance: pooled over columns and both parts, corrected for its
    bias (Marriott & Pope 1954). ValueError for fewer than two units on a side.

    >>> calm = np.tile([[0.2, 0.8], [0.3, 0.7]], (10, 1))
    >>> found = recent_change(calm, calm[:8] + [0.4, -0.4])
    >>> bool(found.low[0] > 0), bool(found.high[1] < 0)
    (True, True)
    """
    parts = [np.asarray(v, np.float64) for v in (before, after)]
    if min(len(p) for p in parts) < 2:
        raise ValueError("before, after: expected two units or more on each side")
    lag = _lag(parts)
    wider = [np.full(p.shape[1], float(variance_inflation(lag, len(p)))) for p in parts]
    found, *looks = change_of_mean_shares(
        parts[0], parts[1], 1 - (1 - confidence) / compared, inflation=(wider[0], wider[1])
    )
    means = [p.mean(axis=0) for p in parts]
    se = np.sqrt(sum(m * (1 - m) / n for m, n in zip(means, looks, strict=True)))
    return RecentChange(*found, looks[0] + looks[1], se, float(sum(map(len, parts)) - 2))


def _lag(parts: list[Floats]) -> float:
    away = [p - p.mean(axis=0) for p in parts]
    total = sum(float((d**2).sum()) for d in away)
    if total <= 0:
        return 0.0
    lag = sum(float((d[1:] * d[:-1]).sum()) for d in away) / total
    n = sum(len(d) for d in away) / len(away)
    lag = (lag * n + 1) / (n - 4) if n > 6 else lag
    return min(lag, 0.9) if lag > _LEAST_LAG else 0.0
