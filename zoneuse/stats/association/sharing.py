"""Do animals share retreats more than their own uses of them explain: moves swapped between animals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..resampling.swaps import moved as moved
from ..resampling.swaps import swapped

Flags = NDArray[np.bool_]

# Company is the question, so most of what chance may claim goes there. Both add to 4 %, not 5 %: whether an
# animal counts as having moved depends a little on where it was, so swaps are not quite free of level.
LEVEL_TOGETHER, LEVEL_APART = 0.03, 0.01
# What lies above chance is summed in this power over pairs: a few strong pairs count more than many weak ones.
PAIR_POWER = 4


@dataclass(frozen=True, slots=True)
class Sharing:
    """Arrivals into company, against swapped moves; p are one-sided, and those of pairs hold over all pairs.

    p is NaN where no move could be swapped.

    ``arrivals`` counts, for each pair, the checks at which both were in one retreat and at least one arrived.
    ``furthest_above`` and ``furthest_below`` are those of the pairs that lie furthest from chance, in standard
    deviations. ``beyond`` is the effect over all pairs: arrivals above what is expected, summed over the pairs that lie
    above it; swaps give ``beyond_low`` to ``beyond_high`` of them in 95 of 100 (``short``: those below it).
    Each check's numbers are kept, so company that all seek alike does not show here but as crowding.
    """

    p_together: float
    p_apart: float
    arrivals: Floats
    expected_arrivals: Floats
    pair_p_together: Floats
    pair_p_apart: Floats
    furthest_above: float
    furthest_below: float
    beyond: float
    beyond_low: float
    beyond_high: float
    short: float
    short_low: float
    short_high: float
    moves: int


@dataclass(frozen=True, slots=True)
class Company:
    """What may be claimed at 5 % over all: of the colony, and (upper triangle) of pairs."""

    together: bool
    apart: bool
    pairs_together: Flags
    pairs_apart: Flags


def sharing(where: ArrayLike, draws: int = 1000, seed: int = 1) -> Sharing:
    """Sharing beyond chance from ``where``, checks x animals: the retreat's number, -1 where not found.

    Only moves are swapped, so each animal keeps its own use of retreats and each check its numbers: of a
    pair, among checks where both moved to different retreats, who got which is shuffled within each unordered
    pair of retreats. A shared stay counts once, when one of the two arrives (own design after Manly 1995,
    Ecology 76:1109, and Whitehead 1999, Anim. Behav. 57:F26). Each pair is centred and scaled by all draws
    and what was seen alike; the test over all sums the fourth powers of what lies above chance, which finds
    one close pair about as well as the largest pair does, and many weak ones as well as the sum of squares.

    >>> sharing([[0, 1], [1, 0], [0, 1]], draws=20).moves
    4
    """
    places = np.array(where, np.int64)
    if places.ndim != 2 or places.shape[1] < 2 or draws < 20:
        raise ValueError("where: expected checks x at least two animals; draws: at least 20")
    observed, redrawn = swapped(places, draws, seed)
    return _summary(observed.astype(np.float64), redrawn, int(moved(places).sum()))


def company(found: Sharing, compared: int = 1) -> Company:
    """What stands at 5 % over all of ``compared`` colonies: 3 % for together, 1 % for apart.

    Pairs are named only where the test over all pairs stands (a closed test: without company anywhere only
    the first test can err, with some of it the largest of the other pairs must pass the same level). Only one
    of the two is claimed, the one whose furthest pair lies further from chance: with each check's numbers
    kept, company of some leaves less to the others, and two that shun each other meet others more.
    """
    nearer = found.furthest_above >= found.furthest_below
    level_together, level_apart = LEVEL_TOGETHER / compared, LEVEL_APART / compared
    together = found.p_together <= level_together and (nearer or found.p_apart > level_apart)
    apart = found.p_apart <= level_apart and not together
    upper = np.triu(np.ones(found.arrivals.shape, bool), 1)
    return Company(
        together,
        apart,
        together & upper & (found.pair_p_together <= level_together),
        apart & upper & (found.pair_p_apart <= level_apart),
    )


def _summary(observed: Floats, redrawn: NDArray[np.int32], moves: int) -> Sharing:
    upper = np.triu_indices(len(observed), 1)
    # What was seen is one of the draws under the null, so it takes part in their mean and spread.
    every = np.vstack([observed[upper][None], redrawn[:, upper[0], upper[1]]])
    mean, spread = every.mean(axis=0), every.std(axis=0)
    # Where no swap alters any pair there is nothing to hold what was seen against.
    testable = bool((spread > 1e-9).any())
    z = (every - mean) / np.where(spread > 1e-9, spread, np.inf)
    nothing = np.full(mean.shape, np.nan)
    above, below = (np.maximum(sign * (every - mean), 0.0).sum(axis=1) for sign in (1, -1))
    beyond_low, beyond_high = np.quantile(above[1:], (0.025, 0.975))
    short_low, short_high = np.quantile(below[1:], (0.025, 0.975))
    return Sharing(
        p_together=_p(_all_above(z)) if testable else float("nan"),
        p_apart=_p(_all_above(-z)) if testable else float("nan"),
        arrivals=observed,
        expected_arrivals=_square(mean, upper, len(observed), np.nan),
        pair_p_together=_square(_single_step(z) if testable else nothing, upper, len(observed), 1.0),
        pair_p_apart=_square(_single_step(-z) if testable else nothing, upper, len(observed), 1.0),
        furthest_above=float(z[0].max()),
        furthest_below=float(-z[0].min()),
        beyond=float(above[0]),
        beyond_low=float(beyond_low),
        beyond_high=float(beyond_high),
        short=float(below[0]),
        short_low=float(short_low),
        short_high=float(short_high),
        moves=moves,
    )


def _all_above(z: Floats) -> Floats:
    """How far pairs lie above chance, all together."""
    return np.asarray((np.maximum(z, 0.0) ** PAIR_POWER).sum(axis=1), np.float64)


def _p(statistic: Floats) -> float:
    """The part of all, what was seen among them, that is as far out as what was seen (the first)."""
    return float((statistic >= statistic[0] - 1e-9).mean())


def _single_step(z: Floats) -> Floats:
    top = z.max(axis=1)
    return np.asarray((top[:, None] >= z[0] - 1e-9).mean(axis=0), np.float64)


def _square(
    values: Floats, upper: tuple[NDArray[np.intp], NDArray[np.intp]], size: int, rest: float
) -> Floats:
    full = np.full((size, size), rest)
    full[upper] = values
    full.T[upper] = values
    return full
