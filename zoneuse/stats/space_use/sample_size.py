"""How much more watching would probably settle a zone that is not yet called, and with what chance.

The share a zone will turn out to have is uncertain twice over: its true share is not known, and the looks
to come will scatter about it. Both are drawn; each draw is judged as the verdict would be.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..intervals.any_time import level_any_time
from ..intervals.shares import looks_interval
from ..special import special
from .zone_use import FEWEST_UNITS, ZoneUse

# Spread (sd of log ratio) that zones' true ratios are taken to have before anything was seen.
USUAL_SPREAD = 0.5
# Looks to come are counted at this part of their worth: the test's cut-offs are wider than a binomial's,
# because stays carried over and long bouts are only known roughly. Set by a first look at 60 studies a cell.
COMING_WORTH = 0.85


@dataclass(frozen=True, slots=True)
class Settling:
    """For each zone: further units that would probably bring a verdict, and the chance that they do.

    ``more`` is NaN where the zone is settled already (``chance`` 1), or where even the most that was tried
    would not bring a verdict with the chance asked for (``chance`` is then what that most would bring).
    """

    more: Floats
    chance: Floats
    most: int


def sample_size_to_settle(
    found: ZoneUse,
    undecided: ArrayLike,
    *,
    chance: float = 0.8,
    most: int = 400,
    confidence: float = 0.95,
    even_within: tuple[float, float] = (0.67, 1.5),
    draws: int = 800,
    seed: int = 0,
) -> Settling:
    """The fewest further units (sessions or days) after which a verdict stands with at least ``chance``.

    ``undecided`` says of each zone whether it has no verdict yet. Counts any verdict: a difference that stands
    however often one asks, or sameness within ``even_within``. Takes the looks a unit was worth so far as what
    units to come will be worth. Unseen moments are left out of it: where
    they stand in the way, more watching alone does not help.

    >>> from .zone_use import zone_use
    >>> session, zone = np.repeat(np.arange(20), 6), np.tile([0, 0, 0, 0, 0, 1], 20)
    >>> found = zone_use(session, np.zeros(120, int), zone, np.arange(120), [0.25, 0.25, 0.5])
    >>> told = sample_size_to_settle(found, [False, True, False])
    >>> bool(told.more[1] > 0), bool(np.isnan(told.more[0]))
    (True, True)
    """
    zones, open_ = found.used.size, np.asarray(undecided, bool)
    more, reached = np.full(zones, np.nan), np.ones(zones)
    tried = _tried(most)
    random = np.random.default_rng(seed)
    for z in range(zones):
        if not open_[z] or not 0 < found.availability[z] < 1:
            reached[z] = 0.0 if open_[z] else 1.0
            continue
        ahead = _chances(found, z, confidence, even_within, draws, random=random)
        more[z], reached[z] = _fewest(ahead, tried, chance)
    return Settling(more, reached, int(tried[-1]))


def _tried(most: int) -> Floats:
    """Numbers of further units to look at: each one at first, then in steps of a tenth."""
    steps = [1]
    while steps[-1] < most:
        steps.append(min(most, max(steps[-1] + 1, round(steps[-1] * 1.1))))
    return np.asarray(steps, np.float64)


def _fewest(ahead: Callable[[float], float], tried: Floats, chance: float) -> tuple[float, float]:
    """The fewest units that reach the chance, and the chance there; NaN, and the chance of the most, where none do.

    The chance rises with the units, so halving the range finds it.
    """
    low, high, reached = -1, tried.size - 1, ahead(float(tried[-1]))
    if reached < chance:
        return float("nan"), reached
    while high - low > 1:
        middle = (low + high) // 2
        found = ahead(float(tried[middle]))
        if found >= chance:
            high, reached = middle, found
        else:
            low = middle
    return float(tried[high]), reached


def _chances(
    found: ZoneUse,
    z: int,
    confidence: float,
    even_within: tuple[float, float],
    draws: int,
    *,
    random: np.random.Generator,
) -> Callable[[float], float]:
    """The chance of any verdict for zone z as a function of further units, from the same draws for all."""
    m, a = float(found.used[z]), float(found.availability[z])
    looks = max(min(found.looks, found.lasting.looks, found.lasting.crowd), 1.0)
    # Zones' ratios scatter about one; with few looks the share is drawn that far towards what is offered.
    prior = (1 - a) / (a * (np.exp(USUAL_SPREAD**2) - 1))
    share = random.beta(looks * m + prior * a, looks * (1 - m) + prior * (1 - a), draws)
    toss = random.random(draws)

    def chance(units: float) -> float:
        coming = COMING_WORTH * looks * units / found.units
        total = looks + coming
        # The share among the looks to come: a smooth quantile of the binomial, the same toss for all tries.
        got = special.betaincinv(
            np.maximum(share * coming, 1e-3), np.maximum((1 - share) * coming, 1e-3) + 1e-9, toss
        )
        mean = np.clip((looks * m + coming * got) / total, 0.0, 1.0)
        return float(
            np.mean(
                _settled(
                    mean, a, total, found.units + units, confidence, even_within=even_within, found=found
                )
            )
        )

    return chance


def _settled(
    mean: Floats,
    a: float,
    looks: float,
    units: float,
    confidence: float,
    *,
    even_within: tuple[float, float],
    found: ZoneUse,
) -> NDArray[np.bool_]:
    """Whether shares from so many looks would get a verdict that stands however often one asks."""
    even_low, even_high = looks_interval(mean, looks, units - 1, 0.90)
    even = (even_low >= even_within[0] * a) & (even_high <= even_within[1] * a)
    if units >= FEWEST_UNITS and found.moves is not None:
        count = looks * mean
        below = special.betainc(count + 0.5, looks - count + 0.5, a)
        tail = float(level_any_time(units)) / (2 * found.used.size)
        called = (below <= tail) | (1 - below <= tail)
    else:
        low, high = looks_interval(mean, looks, units - 1, confidence, found.used.size)
        called = (low > a) | (high < a)
    return np.asarray(even | called)
