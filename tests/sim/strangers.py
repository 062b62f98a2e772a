"""Animals of another's making: stays drawn by their length in hours and weeks, not from scan to scan.

Each function gives ``animals x days x scans`` of zone numbers, one evening of twelve scans a day. Lengths are in days.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Random = np.random.Generator
Length = Callable[[Random], float]
OFFER = np.array([0.25, 0.20, 0.18, 0.15, 0.12, 0.10])
WATCHED = 3
_STEPS, _SCANS, _EVENING = 240, 12, 200  # six minutes each; from 20 o'clock


def hours(random: Random) -> float:
    return float(random.lognormal(np.log(0.1), 1.0))


def about_a_day(random: Random) -> float:
    return float(random.lognormal(np.log(0.7), 0.6))


def some_days(random: Random) -> float:
    return float(random.lognormal(np.log(2.0), 0.8))


def hours_and_weeks(random: Random) -> float:
    return float(
        random.lognormal(np.log(0.08), 0.8) if random.random() < 0.7 else random.lognormal(np.log(7.0), 0.6)
    )


def path(days: int, length: Length, random: Random, share: Callable[[int], Floats] | None = None) -> Ints:
    """(steps,) the place of one animal: stays of that length, each drawn by its day's shares (else the offer)."""
    out, t = np.empty(days * _STEPS, np.int64), -int(_STEPS * length(random) * random.random())
    while t < out.size:
        end = t + max(1, int(_STEPS * length(random)))
        place = random.choice(OFFER.size, p=OFFER if share is None else share(max(t, 0) // _STEPS))
        out[max(t, 0) : max(end, 0)] = place
        t = end
    return out


def evenings(paths: list[Ints]) -> Ints:
    """What is seen of paths: twelve scans from 20 o'clock."""
    each = np.stack(paths).reshape(len(paths), -1, _STEPS)
    return each[:, :, _EVENING : _EVENING + _SCANS]


def alone(days: int, animals: int, length: Length, random: Random) -> Ints:
    return evenings([path(days, length, random) for _ in range(animals)])


def followers(days: int, animals: int, random: Random) -> Ints:
    """The first settles for days; each other is, on seven days of ten, where the first was the day before."""
    first = path(days, some_days, random)
    told = [first]
    for _ in range(animals - 1):
        own = path(days, hours, random)
        for day in range(1, days):
            if random.random() < 0.7:
                own[day * _STEPS : (day + 1) * _STEPS] = first[(day - 1) * _STEPS]
        told.append(own)
    return evenings(told)


def rounds(days: int, animals: int, random: Random) -> Ints:
    """A fixed round of all places, each for as long as its share of thirteen days."""
    told = []
    for _ in range(animals):
        order = random.permutation(OFFER.size)
        once = np.repeat(order, (13 * _STEPS * OFFER[order]).astype(int))
        start = int(random.integers(once.size))
        told.append(np.tile(once, days // 13 + 2)[start : start + days * _STEPS])
    return evenings(told)


def risen(before: int, after: int, animals: int, length: Length, random: Random, to: float = 0.40) -> Ints:
    """The watched place rises from .15 to ``to`` at the change, for stays begun after it."""
    late = OFFER * (1 - to) / (1 - OFFER[WATCHED])
    late[WATCHED] = to
    return evenings(
        [
            path(before + after, length, random, lambda day: OFFER if day < before else late)
            for _ in range(animals)
        ]
    )
