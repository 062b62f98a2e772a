"""Before, after, control, impact: what changed more where the change was made than where it was not."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..intervals.quantiles import t_quantile


@dataclass(frozen=True, slots=True)
class ControlImpact:
    """Changes of both kinds of enclosure and their difference, by column; ``p`` over ``ways`` of choosing.

    Limits are NaN where one kind has a single enclosure: one case says nothing of how cases differ.
    """

    changed: Floats
    control: Floats
    difference: Floats
    low: Floats
    high: Floats
    p: Floats
    smallest_p: float
    ways: int


def control_impact(change: ArrayLike, treated: ArrayLike, confidence: float = 0.95) -> ControlImpact:
    """Difference of differences, tested by which enclosures were changed (Stewart-Oaten et al. 1986; Green 1979).

    ``change`` (enclosures x columns) is each enclosure's after minus before, ``treated`` (enclosures,) whether
    it was changed. p is exact and two-sided over all choices of as many enclosures; it is a fair test only if
    the changed ones could as well have been others. Limits by Welch's t over enclosures.

    >>> found = control_impact([[.30], [.24], [.27], [.02], [-.03], [.01]], [1, 1, 1, 0, 0, 0])
    >>> found.difference.round(2), found.p, found.ways
    (array([0.27]), array([0.1]), 20)
    """
    moved, mark = np.asarray(change, np.float64), np.asarray(treated).astype(bool)
    if moved.ndim != 2 or mark.shape != (moved.shape[0],):
        raise ValueError("change, treated: expected one row and one truth value for each enclosure")
    number, chosen = mark.size, int(mark.sum())
    if not 0 < chosen < number:
        raise ValueError("treated: expected enclosures of both kinds")
    sets = np.array(list(combinations(range(number), chosen)))
    marks = np.zeros((len(sets), number), bool)
    marks[np.arange(len(sets))[:, None], sets] = True
    contrast = np.where(marks, 1 / chosen, -1 / (number - chosen))
    own = moved[mark].mean(axis=0) - moved[~mark].mean(axis=0)
    # Sums in another order differ in the last digit; ties are counted as reached.
    reached = np.abs(contrast @ moved) >= np.abs(own) - 1e-12
    half = _welch_half(moved[mark], moved[~mark], confidence)
    ways = comb(number, chosen)
    least = (2 if 2 * chosen == number else 1) / ways
    return ControlImpact(
        moved[mark].mean(axis=0), moved[~mark].mean(axis=0), own, own - half, own + half,
        reached.mean(axis=0), least, ways,
    )  # fmt: skip


def _welch_half(one: Floats, other: Floats, confidence: float) -> Floats:
    if min(len(one), len(other)) < 2:
        return np.full(one.shape[1], np.nan)
    parts = [v.var(axis=0, ddof=1) / len(v) for v in (one, other)]
    total = parts[0] + parts[1]
    spent = parts[0] ** 2 / (len(one) - 1) + parts[1] ** 2 / (len(other) - 1)
    free = np.divide(total**2, spent, out=np.full(total.shape, len(one) + len(other) - 2.0), where=spent > 0)
    quantiles = np.array([t_quantile(0.5 + confidence / 2, f) for f in free])
    return np.asarray(quantiles * np.sqrt(total), np.float64)
