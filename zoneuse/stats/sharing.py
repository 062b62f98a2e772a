"""Do animals share retreats more than their own uses of them explain: moves swapped between animals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Sharing:
    """Arrivals into company, against swapped moves; p are one-sided, and those of pairs hold over all pairs.

    ``arrivals`` counts, for each pair, the checks at which both were in one retreat and at least one arrived.
    Each check's numbers are kept, so company that all seek alike does not show here but as crowding.
    """

    p_together: float
    p_apart: float
    arrivals: Floats
    expected_arrivals: Floats
    pair_p_together: Floats
    pair_p_apart: Floats
    moves: int


def moved(where: ArrayLike) -> Flags:
    """Checks x animals: found elsewhere than where it was last found (never at its first).

    >>> moved([[0], [-1], [0], [2]]).ravel()
    array([False, False, False,  True])
    """
    places = np.asarray(where, np.int64)
    index = np.where(places >= 0, np.arange(len(places))[:, None], -1)
    last = np.maximum.accumulate(index, axis=0)
    before = np.vstack([np.full((1, places.shape[1]), -1), last[:-1]])
    old = np.take_along_axis(places, np.maximum(before, 0), axis=0)
    return np.asarray((places >= 0) & (before >= 0) & (old != places), np.bool_)


def sharing(where: ArrayLike, draws: int = 1000, seed: int = 1) -> Sharing:
    """Sharing beyond chance from ``where``, checks x animals: the retreat's number, -1 where not found.

    Only moves are swapped, so each animal keeps its own use of retreats and each check its numbers: of a
    pair, among checks where both moved to different retreats, who got which is shuffled within each unordered
    pair of retreats. A shared stay counts once, when one of the two arrives. One half of the draws centres and
    scales, the other gives p (own design after Manly 1995, Ecology 76:1109, and Whitehead 1999, Anim. Behav. 57:F26).

    >>> sharing([[0, 1], [1, 0], [0, 1]], draws=20).moves
    4
    """
    places = np.array(where, np.int64)
    if places.ndim != 2 or places.shape[1] < 2 or draws < 20:
        raise ValueError("where: expected checks x at least two animals; draws: at least 20")
    rng = np.random.default_rng(seed)
    arrived = moved(places)
    stays = _together(np.where(arrived, -1, places))
    observed = _together(places) - stays
    drawn = np.empty((draws, *observed.shape))
    for _ in range(places.shape[1]):
        _swap(places, arrived, rng)
    for i in range(draws):
        _swap(places, arrived, rng)
        drawn[i] = _together(places) - stays
    return _summary(observed, drawn, int(arrived.sum()))


def _together(places: Ints) -> Floats:
    retreats = int(places.max(initial=0)) + 1
    here = (places[:, None, :] == np.arange(retreats)[:, None]).reshape(-1, places.shape[1])
    flat = here.astype(np.float32)
    return np.asarray(flat.T @ flat, np.float64)


def _swap(places: Ints, arrived: Flags, rng: np.random.Generator) -> None:
    """One round of swaps, every animal paired with one other at random (in place)."""
    order = rng.permutation(places.shape[1])
    half = order.size // 2
    first, second = order[:half], order[half : 2 * half]
    a, b = places[:, first], places[:, second]
    check, pair = np.nonzero(arrived[:, first] & arrived[:, second] & (a != b))
    x, y = a[check, pair], b[check, pair]
    low, high = np.minimum(x, y), np.maximum(x, y)
    base = int(places.max(initial=0)) + 1
    key = (pair * base + low) * base + high
    is_low = x == low
    into = np.argsort(key, kind="stable")
    shuffled = np.argsort(key + rng.random(key.size))
    turned = np.empty_like(is_low)
    turned[into] = is_low[shuffled]
    places[check, first[pair]] = np.where(turned, low, high)
    places[check, second[pair]] = np.where(turned, high, low)


def _summary(observed: Floats, drawn: Floats, moves: int) -> Sharing:
    half = len(drawn) // 2
    upper = np.triu_indices(len(observed), 1)
    mean, spread = drawn[:half].mean(axis=0), drawn[:half].std(axis=0)
    scale = np.where(spread > 0, spread, np.inf)
    z = (observed - mean) / scale
    others = (drawn[half:] - mean) / scale
    top, bottom = (others[:, upper[0], upper[1]].max(axis=1), others[:, upper[0], upper[1]].min(axis=1))
    company, others_company = z[upper], others[:, upper[0], upper[1]]
    n = len(top) + 1
    return Sharing(
        p_together=float((1 + (_square(others_company) >= _square(company)).sum()) / n),
        p_apart=float((1 + (_square(-others_company) >= _square(-company)).sum()) / n),
        arrivals=observed,
        expected_arrivals=mean,
        pair_p_together=(1 + (top[:, None, None] >= z).sum(axis=0)) / n,
        pair_p_apart=(1 + (bottom[:, None, None] <= z).sum(axis=0)) / n,
        moves=moves,
    )


def _square(z: Floats) -> Floats:
    """How far pairs lie above chance, all together: the sum of squares of what is above it."""
    return np.asarray((np.maximum(z, 0.0) ** 2).sum(axis=-1), np.float64)
