"""Does each animal keep to its own retreat: the same at the next check, against permuted identities."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Fidelity:
    """For each animal: chance of the same retreat at the next check, the same if identities were permuted.

    ``checks`` counts the successive checks at which it was found at both; NaN stands where there are none.
    ``p`` is one-sided and holds over all animals (single-step maximum); NaN where nothing could be permuted.
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
    places = _checked(where)
    found = fidelity_by(places, np.zeros(max(len(places) - 1, 0), np.int64), 1)
    same, expected, checks = found.same[0], found.expected[0], found.checks[0]
    redrawn = _share(_permuted(places, draws, np.random.default_rng(seed)), checks)
    spread = redrawn.std(axis=0)
    scale = np.where(spread > 0, spread, np.inf)
    top = np.nan_to_num((redrawn - expected) / scale, nan=-np.inf).max(axis=1, initial=-np.inf)
    z = (same - expected) / scale
    # An animal for which every permutation gives the same has nothing to be held against.
    p = np.where(np.isnan(z) | (spread <= 0), np.nan, (1 + (top[:, None] >= z).sum(axis=0)) / (draws + 1))
    return Fidelity(same, expected, checks, p)


@dataclass(frozen=True, slots=True)
class FidelityBy:
    """The same by kind of interval: kinds x animals; NaN where there is no such interval."""

    same: Floats
    expected: Floats
    checks: Floats


def fidelity_by(where: ArrayLike, kind: ArrayLike, kinds: int) -> FidelityBy:
    """Same retreat at the next check, by a code for each step from check to check (0 to ``kinds`` - 1; -1: left out).

    ``expected`` is exact: with n_r of N animals found in retreat r, and n'_r of N' at the next check, it is
    the sum over retreats of n_r n'_r / (N N').

    >>> found = fidelity_by([[0, 1], [0, 1], [1, 0]], [0, 1], 2)
    >>> found.same[:, 0], found.expected[:, 0]
    (array([1., 0.]), array([0.5, 0.5]))
    """
    places, code = _checked(where), np.asarray(kind, np.int64)
    both = (places[1:] >= 0) & (places[:-1] >= 0)
    by_chance = _same_by_chance(places)
    same = (places[1:] == places[:-1]) & both
    rows = np.array([code == k for k in range(kinds)], np.float64).reshape(kinds, -1)
    checks = rows @ both.astype(np.float64)
    expected = rows @ np.where(both, by_chance[:, None], 0.0)
    return FidelityBy(_share(rows @ same.astype(np.float64), checks), _share(expected, checks), checks)


def _checked(where: ArrayLike) -> Ints:
    places = np.asarray(where, np.int64)
    if places.ndim != 2:
        raise ValueError("where: expected checks x animals")
    return places


def _same_by_chance(places: Ints) -> Floats:
    numbers = np.stack([(places == r).sum(axis=1) for r in range(int(places.max(initial=0)) + 1)], axis=1)
    found = numbers.sum(axis=1).astype(np.float64)
    meet = (numbers[1:] * numbers[:-1]).sum(axis=1)
    pairs = found[1:] * found[:-1]
    return np.asarray(np.divide(meet, pairs, out=np.zeros(len(meet)), where=pairs > 0), np.float64)


def _share(count: Floats, checks: Floats) -> Floats:
    full = np.broadcast_to(checks, count.shape)
    return np.asarray(np.divide(count, full, out=np.full(count.shape, np.nan), where=full > 0), np.float64)


def _permuted(places: Ints, draws: int, rng: np.random.Generator) -> Floats:
    """Draws x animals: how often each is in the same retreat at the next check, identities permuted.

    The places of a check stand on a wheel in an order of their own; each draw puts the animals on the wheels
    in one random order and turns every wheel by itself. So an animal's place at a check is any of those
    taken, whatever it is at other checks, and a draw costs two look-ups instead of a sort.
    """
    found = places >= 0
    checks, animals = places.shape
    number = found.sum(axis=1)
    order = np.argsort(np.where(found, rng.random(places.shape), 2.0), axis=1)
    once = np.take_along_axis(places, order, axis=1)
    turn = np.arange(2 * animals) % np.maximum(number, 1)[:, None]
    wheel = np.take_along_axis(once, turn, axis=1).astype(np.int16).reshape(-1)
    start = np.arange(checks)[:, None] * (2 * animals)
    count = np.empty((draws, animals))
    for i in range(draws):
        line = rng.permutation(animals)
        here = found[:, line]
        seat = np.cumsum(here, axis=1, dtype=np.int16) - here
        at = (rng.random(checks) * number).astype(np.int64)
        redrawn = wheel[start + (seat + at[:, None])]
        same = (redrawn[1:] == redrawn[:-1]) & here[1:] & here[:-1]
        count[i, line] = np.count_nonzero(same, axis=0)
    return count
