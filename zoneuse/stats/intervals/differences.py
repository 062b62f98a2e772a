"""The difference of two shares, from the limits of each."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from .quantiles import normal_quantile, t_quantile, t_tail
from .shares import score_interval

# A share has held where it moved by less than this part of itself, whatever bound in points is asked for (house rule).
HELD_PART = 0.5


class Difference(NamedTuple):
    """After minus before, with limits."""

    change: Floats
    low: Floats
    high: Floats


# An estimate with its lower and upper limit.
Estimate = tuple[ArrayLike, ArrayLike, ArrayLike]


def difference_of_shares(before: Estimate, after: Estimate) -> Difference:
    """Limits of a difference recovered from the limits of its two parts (Newcombe 1998, Stat. Med. 17:873, method 10).

    Made from score-like limits it holds where a share is near 0 or 1. Arrays of any shape that agree.

    >>> found = difference_of_shares((48/80, 0.4904, 0.7003), (56/70, 0.6921, 0.8771))
    >>> [round(float(v), 3) for v in found]
    [0.2, 0.053, 0.334]
    """
    b, bl, bh = (np.asarray(v, np.float64) for v in before)
    a, al, ah = (np.asarray(v, np.float64) for v in after)
    change = a - b
    low = change - np.sqrt((a - al) ** 2 + (bh - b) ** 2)
    high = change + np.sqrt((ah - a) ** 2 + (b - bl) ** 2)
    return Difference(change, low, high)


def change_of_mean_shares(
    before: ArrayLike,
    after: ArrayLike,
    confidence: float = 0.95,
    *,
    slots: int = 1,
    worth: tuple[float, float] | None = None,
    inflation: tuple[ArrayLike, ArrayLike] = (1.0, 1.0),
) -> tuple[Difference, Floats, Floats]:
    """The change of each mean share between two sets of units, with limits, and the looks each set is worth.

    ``before`` and ``after`` are units x zones. The looks a unit is worth are pooled over zones and both sets;
    each mean gets score limits from its looks with t of all units less two, and the difference Newcombe's.
    Where slots were levelled before (``strata.adjust_for_strata``), ``slots`` is how many, each after the
    first costing a degree of freedom, and ``worth`` how many units each side tells as much as. ``inflation``
    (one value or one a zone, before and after) is how many times more each side's means vary because
    neighbouring units repeat each other (``segmented.variance_inflation``).

    >>> one, other = np.tile([0.2, 0.8], (6, 1)), np.tile([0.5, 0.5], (6, 1))
    >>> one[::2, 0], one[::2, 1], other[::2, 0], other[::2, 1] = 0.3, 0.7, 0.4, 0.6
    >>> found, _, _ = change_of_mean_shares(one, other)
    >>> found.change.round(2), bool(found.low[0] < 0.2 < found.high[0])
    (array([ 0.2, -0.2]), True)
    """
    sets = [np.asarray(v, np.float64) for v in (before, after)]
    sizes = [v.shape[0] for v in sets]
    means = [v.mean(axis=0) for v in sets]
    free = sum(sizes) - slots - 1
    within = sum(((v - m) ** 2).sum(axis=0) for v, m in zip(sets, means, strict=True)) / max(free, 1)
    inside = sum(n * (m * (1 - m)) for n, m in zip(sizes, means, strict=True)) / sum(sizes)
    spread, room = float(np.sum(within)), float(np.sum(inside))
    each = room / spread if spread > 0 and room > 0 else 1.0
    quantile = t_quantile(0.5 + confidence / 2, free)
    looks = [
        np.asarray(each * n / np.asarray(times, np.float64) + np.zeros(means[0].shape))
        for n, times in zip(worth or sizes, inflation, strict=True)
    ]
    limits = [score_interval(m, n, quantile) for m, n in zip(means, looks, strict=True)]
    found = difference_of_shares((means[0], *limits[0]), (means[1], *limits[1]))
    return found, looks[0], looks[1]


def chance_of_limits(
    value: float, low: float, high: float, *, none: float = 0.0, compared: int = 1, confidence: float = 0.95
) -> float:
    """The two-sided chance that belongs to limits, over all ``compared``: .05 where they just leave out ``none``.

    From the limit on the side of ``none``, which need not be as far as the other (Altman & Bland 2011, BMJ
    343:d2304, from memory). ``compared``: how many limits hold at once.

    >>> round(chance_of_limits(2.0, 0.0, 4.0), 4), round(chance_of_limits(2.0, 0.0, 4.0, compared=6), 4)
    (0.05, 0.05)
    """
    reach = (value - low) if value > none else (high - value)
    if not np.isfinite(reach) or reach <= 0 or value == none:
        return 1.0
    quantile = normal_quantile(1 - (1 - confidence) / (2 * compared))
    return min(1.0, 2 * compared * t_tail(quantile * abs(value - none) / reach, float("inf")))


def bound_of_held(held_within: float, before: float, after: float) -> float:
    """How far either way a share may have moved and still have held: ``held_within``, and never half of the larger.

    A share of .04 that could as well be .01 is within .10 and has hardly held.
    """
    return min(held_within, HELD_PART * max(before, after))
