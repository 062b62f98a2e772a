"""Do animals that are not told apart crowd into few retreats or keep apart: pairs sharing, against capacity."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats

Ints = NDArray[np.int64]

# Animals that seem never to move are still given this chance to stay: one move in a hundred checks.
MOST_STAY = 0.99


@dataclass(frozen=True, slots=True)
class Crowding:
    """Chance that two found animals share a retreat, against placing each by itself; Monte Carlo tails.

    ``stay`` is the chance to remain from check to check that the tails allow for, ``looks`` how many
    independent looks at who shares the checks are then worth: T (1 - s^2)/(1 + s^2), for a pair still
    shares what it shared if both stay.
    """

    shared: float
    expected: float
    p_crowded: float
    p_even: float
    stay: float
    looks: float


def crowding(
    counts: ArrayLike,
    capacity: ArrayLike,
    alive: ArrayLike | None = None,
    draws: int = 1999,
    seed: int = 1,
) -> Crowding:
    """Crowding of the checks of several days (rows, in order of time) over retreats (columns).

    Each animal is placed by capacity share (``capacity``: one row, or one for each check; 0 where a retreat
    was not there). The mean over checks of n(n-1)/(N(N-1)), summed over retreats, is compared with colonies
    of as many animals that stay where they are with the chance that successive counts show (one standard
    error added), and choose anew otherwise: animals that never move are one look, however often they are
    checked. ``alive`` is how many there were at each check (default: those found); who is found is drawn.
    Checks with fewer than two animals are left out. Raises ValueError where the shapes do not fit or no
    check has two animals.

    >>> found = crowding([[7, 3, 1, 1, 0, 0]], [1, 1, 1, 1, 1, 1])
    >>> round(found.shared, 3), round(found.expected, 3)
    (0.364, 0.167)
    """
    seen, share, there = _checked(counts, capacity, alive)
    size = seen.sum(axis=1)
    pairs = (size * (size - 1)).astype(np.float64)
    each = (seen * (seen - 1)).sum(axis=1) / pairs
    stay = _stay(seen, share, there)
    redrawn = _redrawn(size, there, share, stay, draws, rng=np.random.default_rng(seed))
    found = float(each.mean())
    return Crowding(
        shared=found,
        expected=float((share**2).sum(axis=1).mean()),
        p_crowded=float((1 + (redrawn >= found - 1e-12).sum()) / (draws + 1)),
        p_even=float((1 + (redrawn <= found + 1e-12).sum()) / (draws + 1)),
        stay=stay,
        looks=len(seen) * (1 - stay**2) / (1 + stay**2),
    )


def crowding_of_each(
    counts: ArrayLike, capacity: ArrayLike, draws: int = 1999, seed: int = 1
) -> tuple[Floats, Floats, Floats]:
    """Each check by itself: the chance that two share a retreat, and both tails (NaN below two animals).

    Checks of one size and one capacity share their draws.

    >>> shared, crowded, even = crowding_of_each([[7, 3, 1, 1, 0, 0], [1, 0, 0, 0, 0, 0]], np.ones(6))
    >>> shared.round(3), bool(crowded[0] < 0.01)
    (array([0.364,   nan]), True)
    """
    seen, room = np.asarray(counts, np.int64), np.asarray(capacity, np.float64)
    share = np.broadcast_to(room, seen.shape)
    share = share / share.sum(axis=1, keepdims=True)
    size = seen.sum(axis=1)
    shared, crowded, even = (np.full(len(seen), np.nan) for _ in range(3))
    rng = np.random.default_rng(seed)
    known: dict[tuple[int, bytes], Floats] = {}
    for i in np.flatnonzero(size > 1):
        key = int(size[i]), share[i].round(9).tobytes()
        if key not in known:
            redrawn = rng.multinomial(size[i], share[i], draws)
            known[key] = np.sort((redrawn * (redrawn - 1)).sum(axis=1))
        found = (seen[i] * (seen[i] - 1)).sum()
        below = np.searchsorted(known[key], found, "left")
        shared[i] = found / (size[i] * (size[i] - 1))
        crowded[i] = (1 + draws - below) / (draws + 1)
        even[i] = (1 + np.searchsorted(known[key], found, "right")) / (draws + 1)
    return shared, crowded, even


def _checked(counts: ArrayLike, capacity: ArrayLike, alive: ArrayLike | None) -> tuple[Ints, Floats, Ints]:
    seen, room = np.atleast_2d(np.asarray(counts, np.int64)), np.asarray(capacity, np.float64)
    if room.shape not in ((seen.shape[1],), seen.shape) or (seen < 0).any() or (room < 0).any():
        raise ValueError("counts: expected checks x retreats; capacity: one number a retreat, or as counts")
    room = np.broadcast_to(room, seen.shape)
    enough = (seen.sum(axis=1) > 1) & (room.sum(axis=1) > 0)
    if not enough.any():
        raise ValueError("counts: expected at least one check with two animals found")
    share = room[enough] / room[enough].sum(axis=1, keepdims=True)
    size = seen.sum(axis=1)
    there = size if alive is None else np.maximum(np.asarray(alive, np.int64), size)
    return seen[enough], share, there[enough]


def _stay(seen: Ints, share: Floats, there: Ints) -> float:
    """The chance to stay that successive counts show, if each new choice is by capacity; one error is added.

    Of animals that stay, only those found at both checks show it, so the likeness is divided by the part found.
    """
    if len(seen) < 2:
        return 0.0
    apart = seen / seen.sum(axis=1, keepdims=True) - share
    scaled = np.divide(apart, np.sqrt(share), out=np.zeros(share.shape), where=share > 0)
    spread = float((scaled[:-1] ** 2).sum() + (scaled[1:] ** 2).sum()) / 2
    along = float((scaled[1:] * scaled[:-1]).sum())
    if spread <= 0:
        return 0.0
    stay = min(max(along / spread * float(there.sum() / seen.sum()), 0.0), 1.0)
    error = float(np.sqrt((1 - stay**2) / ((len(seen) - 1) * max(int((share > 0).sum(axis=1).max()) - 1, 1))))
    return min(stay + error, MOST_STAY)


def _redrawn(
    size: Ints, there: Ints, share: Floats, stay: float, draws: int, *, rng: np.random.Generator
) -> Floats:
    """The mean chance of sharing in colonies whose animals stay or choose by capacity, each by itself."""
    total = np.zeros(draws)
    here = rng.multinomial(there[0], share[0], draws)
    for t, number in enumerate(there):
        if t:
            # Fewer alive than before: as many fewer can have stayed.
            left = stay * min(1.0, number / there[t - 1])
            kept = rng.binomial(here, left) if left > 0 else np.zeros_like(here)
            here = kept + rng.multinomial(np.maximum(number - kept.sum(axis=1), 0), share[t])
        seen = here if size[t] == number else rng.binomial(here, size[t] / number)
        found = seen.sum(axis=1)
        total += (seen * (seen - 1)).sum(axis=1) / np.maximum(found * (found - 1), 1)
    return total / len(size)
