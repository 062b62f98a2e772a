"""How many animals a number of animals tell about: those that sit together or follow each other tell about fewer.

The variance of the animals' joint share is held against the sum of each one's own variance: equal where
each goes its own way, as many times larger as there are animals where all do the same (the variance ratio
of Schluter 1984, Ecology 65:998, there of species).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..intervals.units import Moments, UnitShares


@dataclass(frozen=True, slots=True)
class Togetherness:
    """``effective`` is the number of independent animals that would tell as much (1 to ``animals``).

    ``errors`` is by how many standard errors the animals' shares go together more than by luck.
    """

    animals: int
    effective: float
    errors: float


def togetherness(moments: Moments, units: UnitShares) -> Togetherness:
    """Whether animals told apart are in the same zones in the same units, each one's own liking taken out.

    ``moments.animal`` must be 0 and more. A unit in which only one animal was seen tells nothing of it.

    >>> from ..intervals.units import gather, unit_shares
    >>> unit, zone = np.repeat(np.arange(10), 2), np.repeat([0, 1, 0, 1, 1, 0, 1, 0, 0, 1], 2)
    >>> both = gather(unit, np.tile([0, 1], 10), zone, np.arange(20), [0.5, 0.5])
    >>> found = togetherness(both, unit_shares(both))  # two that are always in one place
    >>> found.animals, found.effective
    (2, 1.0)
    """
    _, who = np.unique(moments.animal[units.rows], return_inverse=True)
    animals = int(who.max()) + 1
    if animals < 2:
        return Togetherness(animals, 1.0, 0.0)
    size, zones = units.share.shape
    part = np.zeros((animals, size, zones))
    np.add.at(part, (who.reshape(-1), units.unit, moments.zone[units.rows]), units.pull)
    weight = part.sum(axis=2)
    own = part.sum(axis=1) / weight.sum(axis=1)[:, None]
    away = part - weight[:, :, None] * own[:, None, :]
    alone = (away**2).sum(axis=(0, 2))
    jointly = (away.sum(axis=0) ** 2).sum(axis=1)
    apart = jointly - alone
    if alone.sum() <= 0:
        return Togetherness(animals, 1.0, 0.0)
    ratio = float(jointly.sum() / alone.sum())
    spread = float(np.sqrt((apart**2).sum()))
    return Togetherness(
        animals,
        float(np.clip(animals / max(ratio, 1.0), 1.0, animals)),
        float(apart.sum() / spread) if spread > 0 else 0.0,
    )
