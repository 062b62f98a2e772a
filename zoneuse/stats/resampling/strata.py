"""Two sides of a change watched in unequal parts at several times of day: like with like, then weighted."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats


class Levelled(NamedTuple):
    """Units with what their slot alone explains taken off, two ways; both as (units x columns).

    ``sides``: each side's mean is its slots' means weighted alike on both sides, and the spread around it is
    what levels of slots and a step between the sides leave (that of pairs, where each slot has one unit a
    side). ``series``: one level for each slot taken off, the same on both sides, so that order in time and
    rank between sides can be judged. With one slot both are the values themselves.
    ``slots`` is their number; ``worth`` how many units of one slot would tell as much, before and after.
    """

    sides: Floats
    series: Floats
    slots: int
    worth: tuple[float, float]


def adjust_for_strata(values: ArrayLike, after: ArrayLike, slot: ArrayLike) -> Levelled:
    """Take the slots' own levels off, each slot weighted by what it can tell: n before x n after / n.

    ``values`` (units x columns), ``after`` and ``slot`` (units,); each slot needs units on both sides, else
    ValueError. The weights are those of ``permute_phases``, so that change and p speak of the same thing.

    >>> night, day = [[.8], [.8], [.8]], [[.2]]
    >>> found = adjust_for_strata(night + day + night[:1] + day * 3, [0] * 4 + [1] * 4, [0, 0, 0, 1, 0, 1, 1, 1])
    >>> found.sides[:4].mean().round(3), found.sides[4:].mean().round(3)
    (np.float64(0.5), np.float64(0.5))
    """
    v, late, code = np.asarray(values, np.float64), np.asarray(after).astype(bool), np.asarray(slot)
    names = np.unique(code)
    if names.size < 2:
        return Levelled(v, v, 1, (float((~late).sum()), float(late.sum())))
    means, sizes = np.empty((2, names.size, v.shape[1])), np.empty((2, names.size))
    for s, name in enumerate(names):
        cells = [(code == name) & (late == side) for side in (False, True)]
        counts = [int(c.sum()) for c in cells]
        if not all(counts):
            raise ValueError("slot: expected units of both sides in each")
        means[:, s] = [v[c].mean(axis=0) for c in cells]
        sizes[:, s] = counts
    telling = sizes.prod(axis=0) / sizes.sum(axis=0)
    weights = telling / telling.sum()
    whole = np.einsum("s,ask->ak", weights, means)
    side, where = late.astype(int), np.searchsorted(names, code)
    offset = (means - whole[:, None, :]).mean(axis=0)
    # The weighted change is the step of that fit by least squares, so what it leaves has no mean on either side.
    even = v - late[:, None] * (whole[1] - whole[0])
    level = np.stack([even[where == s].mean(axis=0) for s in range(names.size)])
    worth = 1 / (weights**2 / sizes).sum(axis=1)
    return Levelled(
        even - level[where] + whole[side],
        v - offset[where],
        names.size,
        (float(worth[0]), float(worth[1])),
    )
