"""Animals before and after a change that did nothing, or something: homes that move, waves, moods, hiding.

Each function gives ``days x animals x scans`` of zone numbers (-1: not found) for one study with one session
a day, ``before`` days without and ``after`` days with the change. Zone 3 is the one that is expected to rise.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
SHARES = np.array([0.30, 0.22, 0.16, 0.15, 0.09, 0.08])
SCANS, STAYS, WATCHED = 20, 0.95, 3


def _walk(share: Floats, animals: int, random: np.random.Generator, stays: float = STAYS) -> Ints:
    """A day of each animal: it stays from scan to scan, else draws by the day's shares (animals x zones)."""
    edges = share.cumsum(axis=1)

    def draw() -> Ints:
        return np.minimum((random.random(animals)[:, None] > edges).sum(axis=1), share.shape[1] - 1)

    here = draw()
    out = np.empty((animals, SCANS), np.int64)
    for scan in range(SCANS):
        here = np.where(random.random(animals) < stays, here, draw())
        out[:, scan] = here
    return out


def _of(level: Floats) -> Floats:
    """Shares of all zones by day where zone 3 has these log odds."""
    own = special.expit(level)
    share = SHARES[None, :] * ((1 - own) / (1 - SHARES[WATCHED]))[:, None]
    share[:, WATCHED] = own
    return share


def by_level(level: Floats, animals: int, random: np.random.Generator) -> Ints:
    """Days whose log odds of zone 3 are given; animals independent within the day."""
    return np.stack([_walk(np.tile(s, (animals, 1)), animals, random) for s in _of(level)])


def step(
    before: int, after: int, animals: int, random: np.random.Generator, to: float = 0.15, early: int = 0
) -> Ints:
    """From .15 to ``to`` at the change, or ``early`` days before it."""
    late = np.arange(before + after) >= before - early
    return by_level(np.where(late, special.logit(to), special.logit(0.15)), animals, random)


def moods(
    before: int, after: int, animals: int, random: np.random.Generator, phi: float = 0.85, sd: float = 0.7
) -> Ints:
    """Moods of days that all animals share, each like the one before."""
    level = np.empty(before + after)
    now = random.normal() * sd
    for day in range(level.size):
        level[day] = now
        now = phi * now + np.sqrt(1 - phi**2) * sd * random.normal()
    return by_level(special.logit(0.15) + level, animals, random)


def wave(
    before: int,
    after: int,
    animals: int,
    random: np.random.Generator,
    period: float = 60.0,
    high: float = 1.0,
) -> Ints:
    """A slow wave of so many log odds up and down, begun anywhere."""
    at = 2 * np.pi * (np.arange(before + after) / period + random.random())
    return by_level(special.logit(0.15) + high * np.sin(at), animals, random)


def homes(
    before: int, after: int, animals: int, random: np.random.Generator, lasts: float = 10.0,
    shared: bool = False, at_home: float = 0.8,
) -> Ints:  # fmt: skip
    """Each animal (or all) has a home for ``lasts`` days on average, then another; away from it now and then."""
    days = before + after
    home = np.empty((days, animals), np.int64)
    now = random.choice(6, animals, p=SHARES)
    for day in range(days):
        moves = random.random(animals) < 1 / lasts
        now = np.where(moves, random.choice(6, animals, p=SHARES), now)
        home[day] = now[0] if shared else now
    out = []
    for day in range(days):
        share = np.tile(SHARES * (1 - at_home), (animals, 1))
        share[np.arange(animals), home[day]] += at_home
        out.append(_walk(share, animals, random, 0.85))
    return np.stack(out)


def hiding(
    before: int, after: int, animals: int, random: np.random.Generator, seen: tuple[float, float] = (0.9, 0.2),
    to: float = 0.15,
) -> Ints:  # fmt: skip
    """Found in zone 3 with the first chance before the change, the second after it; the use is as it was."""
    zone = step(before, after, animals, random, to)
    chance = np.where(np.arange(before + after) < before, *seen)[:, None, None]
    return np.where((zone == WATCHED) & (random.random(zone.shape) >= chance), -1, zone)
