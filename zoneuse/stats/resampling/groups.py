"""Do groups of units differ: units exchanged between the groups, the spread of their means as the yardstick."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats

# Main places must persist by this many standard errors before stays replace units (as in ``spells``).
_PERSISTS = 1.0


def groups_differ(
    values: Floats, group: NDArray[np.int64], *, stay: NDArray[np.int64] | None = None, draws: int = 1_999,
    seed: int = 1,
) -> Floats:  # fmt: skip
    """(columns,) p that group means spread as far by luck; ``values`` (units x columns), ``group`` (units,).

    The sum of squares between groups, which orders arrangements as F does (Fisher 1935; (b + 1) / (m + 1) of Phipson
    & Smyth 2010). Units of one ``stay`` (units,), each within one group, are exchanged together, so that a group's
    weight goes with its stays. 1 where no column varies, there are fewer than two groups, or no more stays than groups.
    """
    names, of = np.unique(group, return_inverse=True)
    first, held = np.unique(
        np.arange(of.size) if stay is None else stay, return_index=True, return_inverse=True
    )[1:]
    if names.size < 2 or first.size <= names.size:
        return np.ones(values.shape[1])
    centred = np.zeros((first.size, values.shape[1]))
    np.add.at(centred, held, values - values.mean(axis=0))
    weight, of = np.bincount(held).astype(float), of[first]
    # Stays one group after the other: a group's sum is then that of a stretch, however many groups there are.
    together = np.argsort(of, kind="stable")
    begins = np.concatenate([[0], np.cumsum(np.bincount(of))[:-1]]).astype(np.int64)

    def between(stays: NDArray[np.int64]) -> Floats:
        sums = np.add.reduceat(centred[stays], begins, axis=0)
        size = np.add.reduceat(weight[stays], begins)[:, None]
        return np.asarray((sums**2 / size).sum(axis=0), np.float64)

    seen = between(together)
    random = np.random.default_rng(seed)
    reached, place = np.zeros(values.shape[1]), np.empty(of.size, np.int64)
    for _ in range(draws):
        place[random.permutation(of.size)] = np.arange(of.size)
        reached += between(place[together]) >= seen - 1e-12
    p = (1 + reached) / (draws + 1)
    p[np.ptp(values, axis=0) <= 1e-12] = 1.0
    return np.asarray(p, np.float64)


def stays_in(share: Floats, group: NDArray[np.int64]) -> NDArray[np.int64]:
    """(units,) the stay each unit belongs to: units of a group with one main place after the other are one stay.

    ``share`` (units x places), each group's units in order of time. Each unit is a stay of its own where main places do
    not repeat the one before beyond what each group's own mixture makes likely (one standard error).

    >>> stays_in(np.eye(2)[[0, 0, 0, 1, 1, 1, 0, 0]], np.zeros(8, np.int64))
    array([0, 0, 0, 1, 1, 1, 2, 2])
    """
    main, number = share.argmax(axis=1), np.arange(len(share))
    stay, excess, spread = number.copy(), 0.0, 0.0
    for one in np.unique(group):
        rows = np.flatnonzero(group == one)
        if rows.size < 2:
            continue
        again = main[rows][1:] == main[rows][:-1]
        stay[rows] = rows[np.maximum.accumulate(np.where(np.r_[True, ~again], np.arange(rows.size), 0))]
        times = np.bincount(main[rows]).astype(float)
        by_luck = float((times * (times - 1)).sum()) / (rows.size * (rows.size - 1))
        excess += float(again.sum()) - again.size * by_luck
        spread += again.size * by_luck * (1 - by_luck)
    lasts = excess > _PERSISTS * float(np.sqrt(spread)) and spread > 0
    return np.unique(stay, return_inverse=True)[1] if lasts else number
