"""Before against after by exchanging which units came before and which after, like with like."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats

Bools = NDArray[np.bool_]

# Up to this many arrangements all are looked at, and p is exact.
MOST_EXACT = 25_000
# Changes that differ by no more are the same: sums in another order differ in the last digit.
TIED = 1e-12
# Choices among so few are read off the bits of all numbers; among more, one by one.
_BY_BITS = 18


@dataclass(frozen=True, slots=True)
class Shift:
    """``change`` is after minus before for each column; ``p`` two-sided; ``smallest`` the least p could be.

    ``reach`` (arrangements x columns) is how far either way each arrangement looked at moves each column, the one at
    hand among them.
    """

    change: Floats
    p: Floats
    smallest: float
    exact: bool
    arrangements: int
    reach: Floats


def _codes(stratum: ArrayLike | None, units: int) -> NDArray[np.intp]:
    """A code from 0 for each unit's stratum; one for all where none are given."""
    if stratum is None:
        return np.zeros(units, np.intp)
    return np.asarray(np.unique(np.asarray(stratum), return_inverse=True)[1], np.intp)


def permute_phases(
    values: ArrayLike,
    after: ArrayLike,
    stratum: ArrayLike | None = None,
    *,
    draws: int = 9_999,
    seed: int = 0,
) -> Shift:
    """Test each column's change by exchanging units between the phases within strata (slots of the day).

    ``values`` is units x columns, ``after`` true for units of the later phase, ``stratum`` a code for each
    unit. The change is the mean over strata of after minus before, weighted by what each can tell. Exact by
    full enumeration up to 25,000 arrangements; else (b + 1)/(m + 1) over random ones (Phipson & Smyth 2010,
    Stat. Appl. Genet. Mol. Biol. 9:39). ValueError where a stratum has units of one phase only.

    >>> shares = np.array([.2, .3, .1, .4, .2, .3, .5, .4, .6, .3, .5, .6])
    >>> found = permute_phases(shares[:, None], [0] * 6 + [1] * 6)
    >>> round(float(found.change[0]), 4), round(float(found.p[0]) * 924)
    (0.2333, 14)
    """
    v = np.asarray(values, np.float64)
    late = np.asarray(after).astype(bool)
    codes = _codes(stratum, len(late))
    if v.ndim != 2 or v.shape[0] != late.size or codes.size != late.size:
        raise ValueError("values, after, stratum: expected one row or value for each unit")
    sizes = [(int((codes == s).sum()), int(late[codes == s].sum())) for s in range(int(codes.max()) + 1)]
    if any(k == 0 or k == n for n, k in sizes):
        raise ValueError("stratum: expected units of both phases in each")
    arrangements = int(np.prod([float(comb(n, k)) for n, k in sizes])) if len(sizes) < 60 else 1 << 60
    exact = arrangements <= MOST_EXACT
    marks = (
        _all_marks(codes, sizes) if exact else _random_marks(codes, sizes, draws, np.random.default_rng(seed))
    )
    change = _changes(late[None, :], v, codes, sizes)
    null = _changes(marks, v - v.mean(axis=0), codes, sizes)
    # Ties are counted as reached.
    null, at_hand = np.abs(null), np.abs(change)
    reached = (null >= at_hand - TIED).sum(axis=0)
    p = reached / len(marks) if exact else (reached + 1) / (draws + 1)
    smallest = _smallest(sizes, arrangements) if exact else 1 / (draws + 1)
    reach = null if exact else np.vstack([at_hand, null])
    return Shift(change[0], np.asarray(p, np.float64), smallest, exact, arrangements, reach)


def _changes(marks: Bools, values: Floats, codes: NDArray[np.intp], sizes: list[tuple[int, int]]) -> Floats:
    """(arrangements x columns) the weighted change of each arrangement."""
    telling = np.array([k * (n - k) / n for n, k in sizes])
    weight = telling / telling.sum()
    later = (weight / np.array([k for _, k in sizes]))[codes]
    earlier = (weight / np.array([n - k for n, k in sizes]))[codes]
    # What a unit adds as a later one, less what it adds as an earlier one: one product for all arrangements.
    moved = marks.astype(np.float64) @ (values * (later + earlier)[:, None])
    return np.asarray(moved - earlier @ values, np.float64)


def _all_marks(codes: NDArray[np.intp], sizes: list[tuple[int, int]]) -> Bools:
    whole = np.zeros((1, codes.size), bool)
    for s, (n, k) in enumerate(sizes):
        where = np.flatnonzero(codes == s)
        picks = _picks(n, k)
        part = np.zeros((len(picks), codes.size), bool)
        part[:, where] = picks
        whole = (whole[:, None, :] | part[None, :, :]).reshape(-1, codes.size)
    return whole


def _picks(n: int, k: int) -> Bools:
    """(ways x n) every choice of k of n."""
    if n <= _BY_BITS:
        numbers = np.arange(1 << n, dtype=np.uint32)
        numbers = numbers[np.bitwise_count(numbers) == k]
        return np.asarray((numbers[:, None] >> np.arange(n, dtype=np.uint32)) & 1, bool)
    found = np.zeros((comb(n, k), n), bool)
    found[np.arange(len(found))[:, None], np.array(list(combinations(range(n), k)))] = True
    return found


def _random_marks(
    codes: NDArray[np.intp], sizes: list[tuple[int, int]], draws: int, random: np.random.Generator
) -> Bools:
    marks = np.empty((draws, codes.size), bool)
    for s, (_, k) in enumerate(sizes):
        where = codes == s
        lots = random.random((draws, int(where.sum())))
        # The k smallest lots of a stratum are its later units: finding them takes less than sorting all.
        marks[:, where] = lots <= np.partition(lots, k - 1, axis=1)[:, k - 1 : k]
    return marks


def smallest_p(before: int, after: int) -> float:
    """The least two-sided p that so many units on each side could ever reach.

    >>> smallest_p(3, 3), round(smallest_p(4, 4), 4), round(smallest_p(4, 3), 4)
    (0.1, 0.0286, 0.0286)
    """
    return (2 if before == after else 1) / comb(before + after, after)


def smallest_p_within(after: ArrayLike, stratum: ArrayLike) -> float:
    """The same where units are exchanged within strata only; strata with one phase tell nothing.

    >>> smallest_p_within([0, 1, 0, 1, 0, 1], [0, 0, 1, 1, 2, 2])  # three pairs: 2 of 8
    0.25
    """
    late, codes = np.asarray(after).astype(bool), np.asarray(stratum)
    sizes = [(int((codes == s).sum()), int(late[codes == s].sum())) for s in np.unique(codes)]
    told = [(n, k) for n, k in sizes if 0 < k < n]
    ways = float(np.prod([float(comb(n, k)) for n, k in told])) if told else 1.0
    return min((2 if all(n == 2 * k for n, k in told) else 1) / ways, 1.0)


def more_needed(after: ArrayLike, stratum: ArrayLike, level: float, most: int = 30) -> int | None:
    """How many more units on each side of each stratum until ``smallest_p_within`` comes to ``level``.

    0 where it has; None where ``most`` more would not do.

    >>> more_needed([0] * 3 + [1] * 3, [0] * 6, 0.04), more_needed([0] * 3 + [1] * 3, [0] * 6, 0.05 / 6)
    (1, 2)
    """
    late, codes = np.asarray(after).astype(bool), np.asarray(stratum)
    both = np.unique(codes)
    for more in range(most + 1):
        extra = np.repeat(both, 2 * more)
        marks = np.tile(np.arange(2 * more) % 2 == 1, both.size)
        if smallest_p_within(np.append(late, marks), np.append(codes, extra)) <= level:
            return more
    return None


def holm(p: ArrayLike) -> Floats:
    """Adjusted p-values that hold for all at once (Holm 1979, Scand. J. Stat. 6:65); NaN stay NaN.

    >>> holm([.01, .04, .03, .005]).round(3)
    array([0.03, 0.06, 0.06, 0.02])
    """
    given = np.asarray(p, np.float64)
    known = ~np.isnan(given)
    order = np.argsort(given[known], kind="stable")
    steps = given[known][order] * np.arange(known.sum(), 0, -1)
    adjusted = np.empty(known.sum())
    adjusted[order] = np.minimum(np.maximum.accumulate(steps), 1.0)
    out = np.full(given.shape, np.nan)
    out[known] = adjusted
    return out


def _smallest(sizes: list[tuple[int, int]], arrangements: int) -> float:
    """The smallest p there can be: with phases of one length in all strata two arrangements are as far apart."""
    balanced = all(n == 2 * k for n, k in sizes)
    return (2 if balanced else 1) / arrangements
