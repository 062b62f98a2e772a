"""The top of a fitted parabola: where it is, how surely, and whether there is one.

The curve is ``b x + c x^2`` (the linear predictor of a choice model in one quantity). Its top lies at
-b/(2c), if c is below zero. All functions take the two coefficients, their 2 x 2 covariance and the
degrees of freedom of that covariance (clusters minus one; infinite for a normal quantile).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..intervals.quantiles import t_quantile, t_tail

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PeakInterval:
    """The top of a parabola, its limits and its standard error; all NaN where the curve does not bend down."""

    peak: float
    low: float
    high: float
    se: float


def delta_peak(
    coef: ArrayLike, cov: ArrayLike, degrees: float = float("inf"), confidence: float = 0.95
) -> PeakInterval:
    """The top with symmetric limits from a linear approximation (the delta method).

    Too short where the bend is uncertain: use ``fieller_peak`` there.

    >>> found = delta_peak([2.0, -0.5], [[0.04, 0.0], [0.0, 0.0001]])
    >>> round(found.peak, 3), round(found.low, 3), round(found.high, 3)
    (2.0, 1.6, 2.4)
    """
    (b, c), v = np.asarray(coef, np.float64), np.asarray(cov, np.float64)
    if not (c < 0) or not np.isfinite(v).all():
        return PeakInterval(*(float("nan"),) * 4)
    peak = -b / (2 * c)
    slope = np.array([-1 / (2 * c), b / (2 * c**2)])
    se = float(np.sqrt(slope @ v @ slope))
    half = t_quantile(0.5 + confidence / 2, degrees) * se
    return PeakInterval(float(peak), float(peak - half), float(peak + half), se)


def fieller_peak(
    coef: ArrayLike, cov: ArrayLike, degrees: float = float("inf"), confidence: float = 0.95
) -> tuple[Span, ...]:
    """All places x at which a level curve, b + 2cx = 0, is not ruled out (Fieller 1954, JRSS B 16:175).

    One closed span where the bend is sure; two open-ended spans or the whole line where it is not. The set
    speaks of a turning point of either kind: whether it is a top is ``lind_mehlum_test``' question.

    >>> (span,) = fieller_peak([2.0, -0.5], [[0.04, 0.0], [0.0, 0.0001]])
    >>> round(span[0], 3), round(span[1], 3)
    (1.603, 2.403)
    >>> fieller_peak([0.1, -0.01], [[0.04, 0.0], [0.0, 0.01]])
    ((-inf, inf),)
    """
    (b, c), v = np.asarray(coef, np.float64), np.asarray(cov, np.float64)
    if not (np.isfinite(v).all() and np.isfinite(b) and np.isfinite(c)):
        return ((-np.inf, np.inf),)
    t2 = t_quantile(0.5 + confidence / 2, degrees) ** 2
    if not np.isfinite(t2):
        return ((-np.inf, np.inf),)
    square = 4 * (c**2 - t2 * v[1, 1])
    line = 4 * (b * c - t2 * v[0, 1])
    constant = b**2 - t2 * v[0, 0]
    inside = line**2 - 4 * square * constant
    if square == 0:
        return ((-np.inf, np.inf),)
    if inside <= 0:
        # A closed set always holds the estimate itself, so without roots nothing is ruled out.
        return ((-np.inf, np.inf),)
    root = np.sqrt(inside)
    ends = sorted(((-line - root) / (2 * square), (-line + root) / (2 * square)))
    first, last = float(ends[0]), float(ends[1])
    return ((first, last),) if square > 0 else ((-np.inf, first), (last, np.inf))


def cut_to_offered(spans: tuple[Span, ...], low: float, high: float) -> tuple[Span, ...]:
    """The part of a set of spans inside what was offered; empty if none of it is.

    >>> cut_to_offered(((-np.inf, 3.0), (8.0, np.inf)), 0.0, 10.0)
    ((0.0, 3.0), (8.0, 10.0))
    """
    cut = ((max(first, low), min(last, high)) for first, last in spans)
    return tuple((first, last) for first, last in cut if first <= last)


@dataclass(frozen=True, slots=True)
class TwoEnds:
    """The slopes at both ends of what was offered, and the one-sided chances of slopes as steep by luck.

    ``p_top`` is small only if the curve rises at the low end and falls at the high one, ``p_rising`` only if
    it rises at both.
    """

    slope_low: float
    slope_high: float
    p_up_low: float
    p_up_high: float

    @property
    def p_top(self) -> float:
        """Rises, then falls: a peak inside what was offered."""
        return max(self.p_up_low, 1 - self.p_up_high)

    @property
    def p_rising(self) -> float:
        """Rises at both ends."""
        return max(self.p_up_low, self.p_up_high)


def lind_mehlum_test(
    coef: ArrayLike, cov: ArrayLike, low: float, high: float, degrees: float = float("inf")
) -> TwoEnds:
    """The test of Lind & Mehlum (2010, Oxford Bull. Econ. Stat. 72:109): is there a top between two ends?

    ``low`` and ``high`` are places where much was offered on both sides (the 5th and 95th percentile). A
    negative square term alone claims a top where a curve merely levels off.

    >>> ends = lind_mehlum_test([2.0, -0.5], [[0.04, 0.0], [0.0, 0.0001]], 0.0, 5.0)
    >>> ends.slope_low, ends.slope_high, bool(ends.p_top < 0.001)
    (2.0, -3.0, True)
    """
    (b, c), v = np.asarray(coef, np.float64), np.asarray(cov, np.float64)
    slopes, tails = [], []
    for x in (low, high):
        weight = np.array([1.0, 2 * x])
        slope, error = float(b + 2 * c * x), float(np.sqrt(max(weight @ v @ weight, 0.0)))
        slopes.append(slope)
        tails.append(t_tail(slope / error, degrees) if error > 0 and degrees >= 1 else 0.5)
    return TwoEnds(slopes[0], slopes[1], tails[0], tails[1])


def largest_ratio(coef: ArrayLike, cov: ArrayLike, low: float, high: float, degrees: float) -> float:
    """The largest ratio of fitted choice between two values from ``low`` to ``high``, at the end of its 90 % band.

    >>> round(largest_ratio([0.0, 0.0], [[0.01, 0.0], [0.0, 0.0]], 0.0, 1.0, float("inf")), 3)  # exp(1.645 * 0.1)
    1.179
    """
    b, v = np.asarray(coef, np.float64), np.asarray(cov, np.float64)
    x = np.linspace(low, high, 21)
    one, two = np.triu_indices(x.size, 1)
    pairs = np.column_stack([x[two] - x[one], x[two] ** 2 - x[one] ** 2])
    error = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", pairs, v, pairs), 0.0))
    largest = float((np.abs(pairs @ b) + t_quantile(0.95, degrees) * error).max())
    return float(np.exp(min(largest, 700.0)))
