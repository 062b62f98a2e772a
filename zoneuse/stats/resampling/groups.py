"""Do groups of units differ: units exchanged between the groups, the spread of their means as the yardstick."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats


def groups_differ(values: Floats, group: NDArray[np.int64], *, draws: int = 1_999, seed: int = 1) -> Floats:
    """(columns,) p that group means spread as far by luck; ``values`` (units x columns), ``group`` (units,).

    The sum of squares between groups, which orders arrangements as F does (Fisher 1935; (b + 1) / (m + 1) of Phipson
    & Smyth 2010). 1 where no column varies or there are fewer than two groups.
    """
    names, of = np.unique(group, return_inverse=True)
    columns = values.shape[1]
    if names.size < 2 or values.shape[0] <= names.size:
        return np.ones(columns)
    # Units one group after the other: a group's sum is then that of a stretch, however many groups there are.
    together = np.argsort(of, kind="stable")
    size = np.bincount(of)[:, None].astype(float)
    begins = np.concatenate([[0], np.cumsum(size[:-1, 0])]).astype(np.int64)
    centred = values - values.mean(axis=0)

    def between(units: NDArray[np.int64]) -> Floats:
        sums = np.add.reduceat(centred[units], begins, axis=0)
        return np.asarray((sums**2 / size).sum(axis=0), np.float64)

    seen = between(together)
    random = np.random.default_rng(seed)
    reached, place = np.zeros(columns), np.empty(of.size, np.int64)
    for _ in range(draws):
        place[random.permutation(of.size)] = np.arange(of.size)
        reached += between(place[together]) >= seen - 1e-12
    p = (1 + reached) / (draws + 1)
    p[np.ptp(values, axis=0) <= 1e-12] = 1.0
    return np.asarray(p, np.float64)
