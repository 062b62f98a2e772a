"""A colony over months: who is in which retreat at each check, with or without company sought."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

RETREATS = 8


def colony(
    rng: np.random.Generator,
    *,
    checks: int = 60,
    animals: int = 8,
    stays: float = 0.0,
    follows: float = 0.0,
    weather: float = 0.0,
    avoids: float = 0.0,
    pairs: int = 1,
    found: float = 0.9,
) -> NDArray[np.int64]:
    """Checks x animals: the retreat's number, -1 where not found.

    All share one strong liking; ``weather`` lets it change from check to check; ``stays`` is the chance to
    remain; with chance ``follows`` each second animal of the first ``pairs`` pairs goes where
    its partner is, with chance ``avoids`` it leaves its partner's retreat for another.
    """
    liking = rng.normal(0, 1, RETREATS)
    drift = weather * rng.normal(0, 1, (checks, RETREATS))
    where = np.zeros((checks, animals), np.int64)
    for t in range(checks):
        chance = np.exp(liking + drift[t])
        where[t] = rng.choice(RETREATS, animals, p=chance / chance.sum())
        if t and stays:
            where[t] = np.where(rng.random(animals) < stays, where[t - 1], where[t])
        joins = rng.random(pairs) < follows
        where[t, 1 : 2 * pairs : 2] = np.where(
            joins, where[t, 0 : 2 * pairs : 2], where[t, 1 : 2 * pairs : 2]
        )
        for second in range(1, 2 * pairs, 2):
            while avoids and where[t, second] == where[t, second - 1] and rng.random() < avoids:
                where[t, second] = rng.choice(RETREATS, p=chance / chance.sum())
    return np.where(rng.random(where.shape) < found, where, -1)
