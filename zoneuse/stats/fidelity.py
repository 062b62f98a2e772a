"""Does each animal keep to its own retreat: the same at the next check, against permuted identities."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Fidelity:
    """For each animal: chance of the same retreat at the next check, the same if identities were permuted.

    ``checks`` counts the successive checks at which it was found at both; NaN stands where there are none.
    ``p`` is one-sided and holds over all animals (single-step maximum).
    """

    same: Floats
    expected: Floats
    checks: Floats
    p: Floats


def fidelity(where: ArrayLike, draws: int = 999, seed: int = 1) -> Fidelity:
    """Fidelity from ``where``, checks x animals: the retreat's number, -1 where not found.

    Identities are permuted among the animals found at a check, each check by itself, which keeps how crowded
    each retreat was. Raises ValueError where ``where`` is not checks x animals.

    >>> fidelity([[0, 1], [0, 1], [0, 1]], draws=9).same
    array([1., 1.])
    """
    places = np.asarray(where, np.int64)
    if places.ndim != 2:
        raise ValueError("where: expected checks x animals")
    rng = np.random.default_rng(seed)
    both = (places[1:] >= 0) & (places[:-1] >= 0)
    checks = both.sum(axis=0).astype(np.float64)
    same = _same(places, both, checks)
    drawn = np.array([_same(_permuted(places, rng), both, checks) for _ in range(draws)])
    mean, spread = drawn.mean(axis=0), drawn.std(axis=0)
    scale = np.where(spread > 0, spread, np.inf)
    top = np.nan_to_num((drawn - mean) / scale, nan=-np.inf).max(axis=1, initial=-np.inf)
    z = (same - mean) / scale
    p = np.where(np.isnan(z), np.nan, (1 + (top[:, None] >= z).sum(axis=0)) / (draws + 1))
    return Fidelity(same, mean, checks, p)


def _same(places: NDArray[np.int64], both: NDArray[np.bool_], checks: Floats) -> Floats:
    count = ((places[1:] == places[:-1]) & both).sum(axis=0)
    share = np.divide(count, checks, out=np.full(checks.shape, np.nan), where=checks > 0)
    return np.asarray(share, np.float64)


def _permuted(places: NDArray[np.int64], rng: np.random.Generator) -> NDArray[np.int64]:
    """Who is where drawn anew at each check, among the animals found at it."""
    found = places >= 0
    shuffled = np.argsort(np.where(found, rng.random(places.shape), 2.0), axis=1)
    values = np.take_along_axis(places, shuffled, axis=1)
    rank = np.cumsum(found, axis=1) - 1
    drawn = np.take_along_axis(values, np.maximum(rank, 0), axis=1)
    return np.asarray(np.where(found, drawn, -1), np.int64)
