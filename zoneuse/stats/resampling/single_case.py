"""One animal before and after: overlap of the phases, with and without the trend that was there before."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..intervals.quantiles import normal_quantile


@dataclass(frozen=True, slots=True)
class Overlap:
    """Non-overlap of all pairs with its standard error and limits; .5 is no difference."""

    nap: float
    se: float
    low: float
    high: float


def nap(before: ArrayLike, after: ArrayLike, confidence: float = 0.95) -> Overlap:
    """The share of all pairs (one before, one after) in which the later value is higher, ties by half.

    Parker & Vannest 2009, Behavior Therapy 40:357; standard error of Hanley & McNeil 1982.

    >>> found = nap([4, 3, 4, 3, 4, 7, 5, 2, 3, 2], [5, 9, 7, 9, 7, 5, 9, 11, 11, 10, 9])
    >>> round(found.nap, 7), round(found.se, 7)
    (0.9636364, 0.0348335)
    """
    b, a = np.asarray(before, np.float64), np.asarray(after, np.float64)
    if not b.size or not a.size:
        raise ValueError("before, after: expected at least one value each")
    wins = (a[None, :] > b[:, None]) + 0.5 * (a[None, :] == b[:, None])
    share = float(wins.mean())
    # Chances that two later values beat one earlier, and one later two earlier, as the pairs show them.
    two_later, two_earlier = float((wins.mean(axis=1) ** 2).mean()), float((wins.mean(axis=0) ** 2).mean())
    m, n = b.size, a.size
    variance = share * (1 - share) + (n - 1) * (two_later - share**2) + (m - 1) * (two_earlier - share**2)
    se = float(np.sqrt(max(variance, 0.0) / (m * n)))
    half = normal_quantile(0.5 + confidence / 2) * se
    return Overlap(share, se, max(share - half, 0.0), min(share + half, 1.0))


@dataclass(frozen=True, slots=True)
class TypicalShift:
    """The middle of all differences between a later and an earlier value, with exact limits."""

    shift: float
    low: float
    high: float


def hodges_lehmann(before: ArrayLike, after: ArrayLike, confidence: float = 0.95) -> TypicalShift:
    """The Hodges-Lehmann shift: the median of all pairs' after minus before (Hodges & Lehmann 1963).

    Limits are the differences of those ranks that the distribution of Mann & Whitney's U allows (Hollander & Wolfe
    1973, p. 78), exact up to 50 values a side and normal beyond; infinite where so few values allow none.

    >>> hodges_lehmann([1.0, 2.0, 3.0], [4.0, 5.0, 7.0]).shift
    3.0
    """
    b, a = np.asarray(before, np.float64), np.asarray(after, np.float64)
    if not b.size or not a.size:
        raise ValueError("before, after: expected at least one value each")
    apart = np.sort((a[:, None] - b[None, :]).ravel())
    cut = _rank_of_limit(b.size, a.size, (1 - confidence) / 2)
    if cut == 0:
        return TypicalShift(float(np.median(apart)), -np.inf, np.inf)
    return TypicalShift(float(np.median(apart)), float(apart[cut - 1]), float(apart[-cut]))


def _rank_of_limit(m: int, n: int, tail: float) -> int:
    """How many of the m n sorted differences lie at or beyond a limit; 0 where even one is too many."""
    if max(m, n) > 50:
        half = normal_quantile(1 - tail) * np.sqrt(m * n * (m + n + 1) / 12)
        return max(round(float(m * n / 2 - half)), 0)
    ways = _ways_of_u(m, n)
    return int(np.searchsorted(np.cumsum(ways) / ways.sum(), tail, side="right"))


def _ways_of_u(m: int, n: int) -> Floats:
    """How many orders of m and n values give each value of U, from 0 to m n (Mann & Whitney 1947)."""
    ways = np.zeros(m * n + 1)
    ways[0] = 1.0
    for k in range(1, min(m, n) + 1):
        # One more value: times (1 - x^(M + k)) / (1 - x^k), where M is the larger number.
        more = max(m, n) + k
        ways[more:] -= ways[:-more].copy() if more < ways.size else 0.0
        for first in range(k):
            ways[first::k] = np.cumsum(ways[first::k])
    return ways


def _pairs(values: Floats) -> float:
    """Kendall's S of a series against time: pairs that rise minus pairs that fall."""
    return float(np.sign(values[None, :] - values[:, None])[np.triu_indices(values.size, 1)].sum())


def tau_u(before: ArrayLike, after: ArrayLike) -> float:
    """Difference of the phases less the trend within the first (Parker et al. 2011, Behavior Therapy 42:284).

    Over the pairs between phases, as there; 1 is every pair higher and no trend before.

    >>> round(tau_u([2, 3, 5, 3], [4, 5, 5, 7, 6]), 2)
    0.65
    """
    b, a = np.asarray(before, np.float64), np.asarray(after, np.float64)
    if not b.size or not a.size:
        raise ValueError("before, after: expected at least one value each")
    between = float(np.sign(a[None, :] - b[:, None]).sum())
    return (between - _pairs(b)) / (b.size * a.size)


def log_odds_ratio(before: float, after: float, looks_before: float, looks_after: float) -> float:
    """Log odds of the share after over those before; half a look is added to each count so that 0 and 1 have one."""
    odds = [
        (share * looks + 0.5) / ((1 - share) * looks + 0.5)
        for share, looks in ((before, looks_before), (after, looks_after))
    ]
    return float(np.log(odds[1] / odds[0]))
