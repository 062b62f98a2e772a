"""Does an animal come back to places of its own: its stays against stays given to any animal.

Being in the same place at the next check may be no more than a stay that lasts. A home is a place returned to.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats

# Stays are exchanged among those begun in the same part of the checks: not everybody is there all the time.
_PARTS = 3


def returns(where: ArrayLike, draws: int = 999, seed: int = 1) -> Floats:
    """(animals,) p that an animal's stays repeat its own places no more than stays exchanged between animals do.

    ``where`` (checks x animals): the place's number, -1 where not found. Checks in one place after the other, whatever
    lies unseen between, are one stay. Counted are pairs of an animal's stays in one place. One-sided, over
    all animals (single-step maximum; Westfall & Young 1993), (b + 1) / (m + 1) of Phipson & Smyth (2010); NaN for
    an animal with fewer than two stays or nobody to exchange with. ValueError where ``where`` is not checks x animals.

    >>> turns = np.repeat(np.arange(24) % 4, 3)  # four places in turn, three checks each: everybody is everywhere
    >>> bool(returns(np.stack([turns, np.roll(turns, 3)], axis=1)).min() > 0.2)
    True
    """
    places = np.asarray(where, np.int64)
    if places.ndim != 2:
        raise ValueError("where: expected checks x animals")
    owner, place, part = _stays(places)
    animals, kinds = places.shape[1], int(places.max(initial=0)) + 1
    number = np.bincount(owner, minlength=animals)
    seen = _again(owner, place, animals, kinds)
    random = np.random.default_rng(seed)
    redrawn = np.empty((draws, animals))
    blocks = [np.flatnonzero(part == k) for k in range(_PARTS)]
    for i in range(draws):
        given = place.copy()
        for block in blocks:
            given[block] = place[random.permutation(block)]
        redrawn[i] = _again(owner, given, animals, kinds)
    spread = redrawn.std(axis=0)
    usable = (spread > 0) & (number > 1)
    scale = np.where(usable, spread, np.inf)
    usual = redrawn.mean(axis=0) if draws else np.zeros(animals)
    top = ((redrawn - usual) / scale).max(axis=1, initial=-np.inf)
    z = (seen - usual) / scale
    p = (1 + (top[:, None] >= z - 1e-12).sum(axis=0)) / (draws + 1)
    return np.where(usable, p, np.nan)


def _stays(places: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Of every stay its animal, its place, and in which part of the checks it began."""
    owner, place, part = [], [], []
    for animal in range(places.shape[1]):
        at = np.flatnonzero(places[:, animal] >= 0)
        mine = places[at, animal]
        begins = np.flatnonzero(np.r_[True, mine[1:] != mine[:-1]]) if at.size else at
        owner.append(np.full(begins.size, animal))
        place.append(mine[begins])
        part.append(at[begins] * _PARTS // max(len(places), 1))
    joined = [np.concatenate(x).astype(np.int64) for x in (owner, place, part)]
    return joined[0], joined[1], joined[2]


def _again(owner: NDArray[np.int64], place: NDArray[np.int64], animals: int, kinds: int) -> Floats:
    """(animals,) pairs of its stays in one place."""
    n = np.bincount(owner * kinds + place, minlength=animals * kinds).reshape(animals, kinds)
    return np.asarray((n * (n - 1)).sum(axis=1) / 2, np.float64)
