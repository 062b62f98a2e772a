"""Are animals crowded, spread out or neither: counts over the retreats of one check."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special


@dataclass(frozen=True, slots=True)
class Dispersion:
    """Fisher's index of dispersion with both tails, and Morisita's index (1: as by chance)."""

    mean: float
    ratio: float
    index: float
    degrees: int
    p_crowded: float
    p_even: float
    morisita: float


def dispersion(counts: ArrayLike) -> Dispersion:
    """Dispersion of counts over retreats of one size (Fisher 1925; Morisita 1959, Mem. Fac. Sci. Kyushu E2:215).

    Raises ValueError for fewer than two retreats or nobody found.

    >>> found = dispersion([0, 0, 1, 7, 2, 0, 0, 8])
    >>> round(found.index, 6), round(found.morisita, 7)
    (34.444444, 2.6143791)
    """
    seen = np.asarray(counts, np.float64)
    total, size = float(seen.sum()), seen.size
    if seen.ndim != 1 or size < 2 or total <= 0 or (seen < 0).any():
        raise ValueError("counts: expected the numbers found in at least two retreats, with someone found")
    mean = total / size
    ratio = float(seen.var(ddof=1)) / mean
    index = (size - 1) * ratio
    pairs = float((seen * (seen - 1)).sum())
    return Dispersion(
        mean=mean,
        ratio=ratio,
        index=index,
        degrees=size - 1,
        p_crowded=float(special.chdtrc(size - 1, index)),
        p_even=float(special.chdtr(size - 1, index)),
        morisita=size * pairs / (total * (total - 1)) if total > 1 else float("nan"),
    )


@dataclass(frozen=True, slots=True)
class Crowding:
    """Chance that two found animals share a retreat, against placing each by itself; Monte Carlo tails."""

    shared: float
    expected: float
    p_crowded: float
    p_even: float


def crowding(counts: ArrayLike, capacity: ArrayLike, draws: int = 1999, seed: int = 1) -> Crowding:
    """Crowding over checks (rows) and retreats (columns), each animal placed anew by capacity share.

    Pairs sharing are summed over checks. Checks of the same animals repeat each other: give checks that are
    far apart, or one a day, or read p as that of a single check.

    >>> found = crowding([[7, 3, 1, 1, 0, 0]], [1, 1, 1, 1, 1, 1])
    >>> round(found.shared, 3), round(found.expected, 3)
    (0.364, 0.167)
    """
    seen = np.atleast_2d(np.asarray(counts, np.int64))
    room = np.asarray(capacity, np.float64)
    if seen.shape[1] != room.size or (seen < 0).any() or (room <= 0).any():
        raise ValueError(
            "counts: expected checks x retreats; capacity: one number above zero for each retreat"
        )
    share = room / room.sum()
    size = seen.sum(axis=1)
    possible = float((size * (size - 1)).sum())
    if possible <= 0:
        raise ValueError("counts: expected at least one check with two animals found")
    found = float((seen * (seen - 1)).sum())
    rng = np.random.default_rng(seed)
    drawn = np.zeros(draws)
    for total in size:
        each = rng.multinomial(total, share, draws)
        drawn += (each * (each - 1)).sum(axis=1)
    return Crowding(
        shared=found / possible,
        expected=float((share**2).sum()),
        p_crowded=float((1 + (drawn >= found).sum()) / (draws + 1)),
        p_even=float((1 + (drawn <= found).sum()) / (draws + 1)),
    )
