"""Animals that stay put from check to check: how many independent looks their checks are worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..intervals.quantiles import t_two_sided


@dataclass(frozen=True, slots=True)
class Stays:
    """An animal's checks: ``share`` of each retreat, the chance to ``stay``, and ``looks`` they are worth."""

    share: Floats
    stay: float
    looks: float
    moves: int


def stays(sequence: ArrayLike, retreats: int) -> Stays:
    """What an animal's checks (the retreat's number at each at which it was found) are worth.

    An animal stays with chance s, else chooses anew, perhaps the same again: then T checks are worth
    T (1 - s)/(1 + s) looks, the variance of a mean with correlations s, s^2, … (Bartlett 1946, J. R. Stat.
    Soc. Suppl. 8:27). Being in the same retreat at the next check has the chance s + (1 - s) q, q the sum of
    squared shares without the bias of few looks; s and looks are solved in turn.

    >>> found = stays([0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 0, 0], 2)
    >>> found.moves, round(found.looks, 1)
    (2, 2.7)
    """
    places = np.asarray(sequence, np.int64)
    if places.ndim != 1 or not places.size:
        raise ValueError("sequence: expected at least one check")
    share = np.bincount(places, minlength=retreats) / places.size
    moves = int((places[1:] != places[:-1]).sum())
    if places.size < 2:
        return Stays(share, np.nan, 1.0, 0)
    same = 1 - moves / (places.size - 1)
    square = float((share**2).sum())
    stay, looks = 0.0, float(places.size)
    for _ in range(20):
        chance = (looks * square - 1) / (looks - 1) if looks > 1.5 else square
        chance = min(max(chance, 1 / retreats), 0.999)
        stay = min(max((same - chance) / (1 - chance), 0.0), 1 - 1 / places.size)
        looks = max(places.size * (1 - stay) / (1 + stay), 1.0)
    return Stays(share, stay, looks, moves)


class Home(NamedTuple):
    """The retreat used most, whether it ``stands`` out, and its ``lead`` over the next, with limits that hold against
    all others at once (NaN where it is told by days, or by too few looks)."""

    most: int
    stands: bool
    lead: float
    low: float
    high: float


def usual_stay(others: Sequence[Stays]) -> float:
    """The chance to stay put of other animals, as far as those that moved tell it; NaN where none did.

    Their mean with one standard error more (of one alone, that of its own checks): one that happens to stay must not be
    taken for one that chose.

    >>> still, restless = stays([0] * 8 + [1] * 8, 4), stays([0, 1, 2, 3] * 4, 4)
    >>> bool(usual_stay([still, still]) > 0.6), usual_stay([restless, restless]), usual_stay([stays([0] * 9, 4)])
    (True, 0.0, nan)
    """
    moved = [s for s in others if s.moves > 0]
    if not moved:
        return float("nan")
    told = np.array([s.stay for s in moved])
    if told.size > 1:
        error = float(told.std(ddof=1)) / np.sqrt(told.size)
    else:
        error = float(np.sqrt(max(told[0] * (1 - told[0]), 1 / moved[0].looks) / moved[0].looks))
    return float(min(told.mean() + error, 1.0))


def home(found: Stays, confidence: float = 0.95, days: int = 0, stays_put: float = float("nan")) -> Home:
    """The retreat used most, and whether it stands out from every other at this confidence.

    One that was never found elsewhere shows no moves from which to tell how long it stays by itself. Had it another
    place as good, it would have chosen this one on all ``days`` with chance 1/2 each (sign test, Bonferroni over the
    others; days taken as choices of their own). Where others tell how they stay put (``stays_put``: ``usual_stay``),
    it must be rare for one that stays so and else chooses between two, too.

    The difference of two shares of one multinomial has the variance (a + b - (a - b)^2)/looks; the limits
    hold against all other retreats at once (Bonferroni). It stands exactly where they leave out no lead.

    >>> home(stays([0] * 4 + [1] + [0] * 4 + [2] + [0] * 4 + [1] + [0] * 5, 3))[:2]
    (0, True)
    >>> home(stays([0] * 11, 8), days=11).stands, home(stays([0] * 11, 8), days=3).stands
    (True, False)
    >>> [home(stays([0] * 11, 8), days=11, stays_put=stay).stands for stay in (0.3, 0.9)]
    [True, False]
    """
    order = np.argsort(-found.share, kind="stable")
    most = int(order[0])
    if len(order) > 1 and found.moves == 0 and days > 1:
        chance = (len(order) - 1) * 0.5 ** (days - 1)
        if np.isfinite(stays_put):
            chance = max(chance, float((stays_put + (1 - stays_put) / 2) ** (days - 1)))
        return Home(most, chance <= 1 - confidence, *(float("nan"),) * 3)
    if len(order) < 2 or found.looks < 2:
        return Home(most, False, *(float("nan"),) * 3)
    a, b = float(found.share[most]), float(found.share[order[1]])
    error = np.sqrt(max(a + b - (a - b) ** 2, 1 / found.looks) / found.looks)
    half = t_two_sided(confidence, found.looks - 1, len(order) - 1) * float(error)
    return Home(most, a - b > half, a - b, a - b - half, a - b + half)
