"""Two sides held against each other by exchanging labels as the design allows, with limits from the same test.

Pairs are flipped, units exchanged within blocks, or over all of them. The limits of a change are the shifts that
the test does not reject (Edgington & Onghena 2007, Randomization Tests, 4th ed., from memory; for pairs the means
of subsets of Hartigan 1969, J. Am. Stat. Assoc. 64:1303, from memory), so that limits and p always agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import comb, prod

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats

Flags = NDArray[np.bool_]
# So many arrangements are worked through one by one; beyond, random ones stand for them.
_MOST = 25_000
_ALIKE = 1e-9


@dataclass(frozen=True, slots=True)
class Relabelled:
    """``change`` = ``after`` - ``before``; ``p`` two-sided over ``arrangements`` of labels, the one seen included.

    ``pivots``, sorted, are the true changes at which another arrangement becomes as extreme as the one seen;
    ``always`` counts arrangements that are so whatever the change (all labels the other way round).
    """

    before: float
    after: float
    p: float
    arrangements: int
    pivots: Floats
    always: int
    se: float

    @property
    def change(self) -> float:
        return self.after - self.before

    @property
    def least(self) -> float:
        """The smallest p it could have come to."""
        return (1 + self.always) / self.arrangements

    def limits(self, level: float) -> tuple[float, float]:
        """The changes the same test does not reject at ``level``; infinite where it could never reject any."""
        spare = int(np.floor(level * self.arrangements + _ALIKE)) - 1 - self.always
        if spare < 0:
            return -np.inf, np.inf
        if spare >= self.pivots.size:
            return self.change, self.change
        low = min(float(self.pivots[spare]), self.change)
        high = max(float(self.pivots[-1 - spare]), self.change)
        # As the test does: a pivot no further from none than rounding is none.
        near = _ALIKE * max(1.0, abs(self.change))
        return (0.0 if 0 < low <= near else low), (0.0 if -near <= high < 0 else high)


def widened(test: Relabelled, p: float) -> Relabelled:
    """The test with its pivots spread about the change until its p is at least ``p``: limits follow the same way.

    Where units repeat each other an exchange is too sure. Spreading all arrangements about what was seen by one
    factor keeps their order and shape, so that limits and p still tell the same (house rule: no source).
    """
    seen = test.change
    if p <= test.p or seen == 0 or not test.pivots.size:
        return test
    # So many pivots must lie on the far side of none; those beyond what was seen cannot be spread there.
    gaps = np.sort((seen - test.pivots) * np.sign(seen))[::-1]
    can = int((gaps > _ALIKE * abs(seen)).sum())
    wanted = min(int(np.ceil(p * test.arrangements - _ALIKE)) - 1 - test.always, can)
    if wanted < 1:
        return test
    factor = max(abs(seen) / float(gaps[wanted - 1]), 1.0) * (1 + _ALIKE)
    return _told(
        test.before, test.after, seen + factor * (test.pivots - seen), test.always,
        arrangements=test.arrangements, se=test.se * factor,
    )  # fmt: skip


def relabel_pairs(before: Floats, after: Floats, *, draws: int = 9_999, seed: int = 1) -> Relabelled:
    """Units seen on both sides, (n,) each: in every pair the labels may be exchanged (Fisher 1935).

    Raises ValueError without a pair.
    """
    difference = np.asarray(after, float) - np.asarray(before, float)
    n = difference.size
    if n == 0:
        raise ValueError("no unit is seen on both sides")
    exact = 2**n <= _MOST
    if exact:
        signs = 1.0 - 2.0 * ((np.arange(1, 2**n)[:, None] >> np.arange(n)) & 1)
    else:
        signs = np.random.default_rng(seed).choice([-1.0, 1.0], (draws, n))
    spread = float(difference.std(ddof=1)) / np.sqrt(n) if n > 1 else np.nan
    seen = float(difference.mean())
    pivots, always = _pivots(seen, signs @ difference / n, signs.mean(axis=1))
    start = float(np.mean(before))
    return _told(start, start + seen, pivots, always, arrangements=len(signs) + 1, se=spread)


def exchanged(
    values: Floats, late: Flags, block: NDArray[np.int64] | None = None, *, draws: int = 9_999, seed: int = 1
) -> Relabelled:
    """Units of one side each: labels are exchanged within each block (over all without blocks).

    ``values`` (n,), ``late`` (n,) marks the second side. The change is the mean over blocks, each by how much
    it tells: n1 n2 / (n1 + n2). Raises ValueError where no block holds both sides.
    """
    values, late = np.asarray(values, float), np.asarray(late, bool)
    of = np.zeros(late.size, np.int64) if block is None else np.asarray(block)
    both = [b for b in np.unique(of) if 0 < late[of == b].sum() < (of == b).sum()]
    if not both:
        raise ValueError("no block holds units of both sides")
    keep = np.isin(of, both)
    values, late, of = values[keep], late[keep], of[keep]
    members = [np.flatnonzero(of == b) for b in both]
    worth = np.array([late[m].sum() * (~late[m]).sum() / m.size for m in members])
    worth /= worth.sum()
    contrasts = _contrasts(late, members, worth, draws, seed)
    own = _contrast(late, members, worth)
    seen = float(own @ values)
    pivots, always = _pivots(seen, contrasts @ values, contrasts @ late.astype(float))
    start = float(-np.minimum(own, 0) @ values)
    return _told(
        start, start + seen, pivots, always, arrangements=len(contrasts) + 1,
        se=_spread(values, late, members, worth),
    )  # fmt: skip


def _spread(values: Floats, late: Flags, members: list[NDArray[np.int64]], worth: Floats) -> float:
    """The standard error of the change: spread within sides and blocks, pooled."""
    parts = [values[m][side] for m in members for side in (late[m], ~late[m])]
    free = sum(len(part) - 1 for part in parts)
    if free < 1:
        return float("nan")
    pooled = sum(float(((part - part.mean()) ** 2).sum()) for part in parts) / free
    each = [w**2 * (1 / late[m].sum() + 1 / (~late[m]).sum()) for w, m in zip(worth, members, strict=True)]
    return float(np.sqrt(pooled * sum(each)))


def _contrast(late: Flags, members: list[NDArray[np.int64]], worth: Floats) -> Floats:
    row = np.zeros(late.size)
    for m, w in zip(members, worth, strict=True):
        side = late[m]
        row[m] = np.where(side, w / side.sum(), -w / (~side).sum())
    return row


def _contrasts(late: Flags, members: list[NDArray[np.int64]], worth: Floats, draws: int, seed: int) -> Floats:
    """(arrangements x n) of the labels, but for the one seen."""
    every = prod(comb(m.size, int(late[m].sum())) for m in members)
    if every <= _MOST:
        rows = np.zeros((every, late.size))
        before = 1
        for m, w in zip(members, worth, strict=True):
            ways = _ways(m.size, int(late[m].sum()))
            own = w * (ways / late[m].sum() - (1 - ways) / (~late[m]).sum())
            rows[:, m] = own[(np.arange(every) // before) % len(ways)]
            before *= len(ways)
        return np.asarray(rows[~np.isclose(rows, _contrast(late, members, worth)).all(axis=1)], np.float64)
    random = np.random.default_rng(seed)
    rows = np.empty((draws, late.size))
    for m, w in zip(members, worth, strict=True):
        own = _contrast(late[m], [np.arange(m.size)], np.array([w]))
        rows[:, m] = random.permuted(np.tile(own, (draws, 1)), axis=1)
    return rows


def _ways(size: int, second: int) -> Floats:
    """(ways x size) every choice of ``second`` among ``size``, as 0 and 1."""
    chosen = np.array(list(combinations(range(size), second)), np.int64)
    rows = np.zeros((len(chosen), size))
    np.put_along_axis(rows, chosen, 1.0, axis=1)
    return rows


def _pivots(seen: float, other: Floats, moves: Floats) -> tuple[Floats, int]:
    """Where each arrangement becomes as extreme as the one seen, if a true change is taken off the second side.

    ``other`` is an arrangement's change, ``moves`` by how much of a true change it moves (the one seen: by all).
    """
    turned, same = 1 + moves, 1 - moves
    always = int((turned < _ALIKE).sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.concatenate(
            [((seen - other) / same)[same >= _ALIKE], ((seen + other) / turned)[turned >= _ALIKE]]
        )
    # Random arrangements may repeat the one seen, which is as extreme as itself whatever the change.
    return np.sort(found), always + int((same < _ALIKE).sum())


def _told(
    before: float, after: float, pivots: Floats, always: int, *, arrangements: int, se: float
) -> Relabelled:
    change = after - before
    near = _ALIKE * max(1.0, abs(change))
    if abs(change) <= near:
        p = 1.0
    else:
        reached = (pivots <= near).sum() if change > 0 else (pivots >= -near).sum()
        p = min(1.0, (1 + always + int(reached)) / arrangements)
    return Relabelled(before, after, p, arrangements, pivots, always, se)


def least_paired(n: int) -> float:
    """The smallest p that n pairs can come to."""
    return min(1.0, 2.0 ** (1 - n))


def least_exchanged(first: int, second: int) -> float:
    """The smallest p of so many units against so many."""
    ways = comb(first + second, first)
    return min(1.0, (2 if first == second else 1) / ways) if min(first, second) else 1.0
