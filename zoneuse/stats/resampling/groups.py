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
    member = np.zeros((names.size, values.shape[0]))
    member[of, np.arange(of.size)] = 1.0
    size = member.sum(axis=1)[:, None]
    centred = values - values.mean(axis=0)

    def between(marks: Floats) -> Floats:
        return np.asarray(((marks @ centred) ** 2 / size).sum(axis=0), np.float64)

    seen = between(member)
    random = np.random.default_rng(seed)
    reached = np.zeros(columns)
    for _ in range(draws):
        reached += between(member[:, random.permutation(of.size)]) >= seen - 1e-12
    p = (1 + reached) / (draws + 1)
    p[np.ptp(values, axis=0) <= 1e-12] = 1.0
    return np.asarray(p, np.float64)
