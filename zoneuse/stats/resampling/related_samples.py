"""The same blocks under several conditions: Friedman's, Cochran's and McNemar's tests."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..special import special


@dataclass(frozen=True, slots=True)
class Ranked:
    """Friedman's chi-square with its p, the rank sums, and Kendall's W (1: all blocks rank alike)."""

    chi_square: float
    degrees: int
    p: float
    rank_sums: Floats
    concordance: float


def friedman(values: ArrayLike) -> Ranked:
    """Do conditions (columns) differ, each block (row) ranked by itself (Friedman 1937, JASA 32:675; ties: mean ranks).

    W after Kendall & Babington Smith (1939). p is NaN where every block is tied throughout. Raises
    ValueError for fewer than two blocks or conditions, or missing values.

    >>> found = friedman([[1, 2, 3], [1, 3, 2], [1, 2, 3], [2, 1, 3]])
    >>> round(found.chi_square, 6), found.rank_sums
    (4.5, array([ 5.,  8., 11.]))
    """
    table = np.asarray(values, np.float64)
    if table.ndim != 2 or min(table.shape) < 2 or not np.isfinite(table).all():
        raise ValueError("values: expected at least two blocks x two conditions without missing values")
    blocks, conditions = table.shape
    less = (table[:, None, :] < table[:, :, None]).sum(axis=2)
    equal = (table[:, None, :] == table[:, :, None]).sum(axis=2)
    ranks = less + (equal + 1) / 2
    sums = ranks.sum(axis=0)
    # With mean ranks the sum of t^3 - t over ties equals the sum over cells of t^2 - 1.
    ties = 1 - float((equal**2 - 1).sum()) / (blocks * conditions * (conditions**2 - 1))
    plain = 12 * float((sums**2).sum()) / (blocks * conditions * (conditions + 1)) - 3 * blocks * (
        conditions + 1
    )
    chi = plain / ties if ties > 1e-12 else float("nan")
    return Ranked(
        chi,
        conditions - 1,
        float(special.chdtrc(conditions - 1, chi)),
        sums,
        chi / (blocks * (conditions - 1)),
    )


def cochran(successes: ArrayLike) -> tuple[float, float]:
    """Cochran's Q and its p: do conditions (columns) differ in successes (0 or 1) over the same blocks (rows).

    Cochran 1950, Biometrika 37:256. NaN where no block tells conditions apart.

    >>> q, p = cochran([[1, 1, 0], [1, 0, 0], [1, 1, 0], [0, 0, 1]])
    >>> round(q, 6), round(p, 6)
    (1.5, 0.472367)
    """
    table = np.asarray(successes, np.float64)
    conditions = table.shape[1]
    rows, columns = table.sum(axis=1), table.sum(axis=0)
    bottom = float((conditions * rows - rows**2).sum())
    if bottom <= 0:
        return float("nan"), float("nan")
    q = (conditions - 1) * float((conditions * columns**2).sum() - columns.sum() ** 2) / bottom
    return q, float(special.chdtrc(conditions - 1, q))


@dataclass(frozen=True, slots=True)
class Discordant:
    """McNemar's chi-square without and with correction for continuity, and the exact two-sided p."""

    chi_square: float
    corrected: float
    p_exact: float


def mcnemar(one_only: int, other_only: int) -> Discordant:
    """Blocks in which only one of two, or only the other, was a success (McNemar 1947, Psychometrika 12:153).

    The exact p is binomial. Without such blocks the chi-squares are NaN and p is 1.

    >>> round(mcnemar(1, 8).p_exact, 7)
    0.0390625
    """
    total, apart = one_only + other_only, abs(one_only - other_only)
    if not total:
        return Discordant(float("nan"), float("nan"), 1.0)
    exact = min(1.0, 2 * float(special.bdtr(min(one_only, other_only), total, 0.5)))
    return Discordant(apart**2 / total, max(apart - 1, 0) ** 2 / total, exact)
