"""When will a drying retreat pass its limit: from its running cycle, and from what past cycles share.

The curves and what is known of them beforehand are in ``staged``; the date is read off simulated continuations,
weather, a change of pace and the sensor's doubt included. A mean over ways to dry, each of which would hold by
itself, is wider than it says (Ranjan & Gneiting 2010, J. R. Stat. Soc. B 72:71): where few past cycles leave many ways
open, less of it makes 80 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from ..arrays import Floats
from ..time_series.theil_sen import theil_sen
from .staged import Cycle, continuations

HORIZON_D = 60
LEAST_DAYS, LEAST_WITH_PAST, LEAST_PAST = 3, 1, 3
# Without a past cycle a date is given once the fall has begun: at most this chance that it holds (house rule).
MOST_HOLDING = 0.5
# ... and the last so many medians fall.
_LATELY = 4
# What lies between these parts of the continuations is the 80 % interval, by past cycles: none, one, more (house rule,
# set on invented dry-downs). Without a past it begins earlier: what falls slowly at first may fall faster later.
_LIMITS = ((0.06, 0.81), (0.11, 0.89), (0.10, 0.90))
_STEPS = np.arange(0.0, HORIZON_D + 1.0)


class DryForecast(NamedTuple):
    """Days from now until the centred 24-hour median passes the limit, with 80 % limits; inf: not in 60 days.

    ``chance_by`` days ahead: in how many of all continuations it has passed by then, since what is called steady must
    bear every way to dry. ``path`` (days, 3): the daily median 0, 1, 2 … days from now with 80 % limits. ``holding``:
    the chance that it still holds, so that its fall has not begun. ``past``: how many past cycles it rests on.
    """

    days: float
    low: float
    high: float
    chance_by: Floats
    path: Floats
    holding: float
    past: int

    @property
    def dated(self) -> bool:
        """Whether anything tells when: a past cycle, or a fall that has begun."""
        return self.past > 0 or self.holding <= MOST_HOLDING


def forecast(
    running: Cycle, now: float, limit: float, past: Sequence[Cycle] = (), draws: int = 2000, *,
    accuracy: float = 0.0, seed: int = 1,
) -> DryForecast | None:  # fmt: skip
    """The forecast from the daily medians up to ``now`` (days since the recharge); None before three medians
    (one, with a past cycle).

    Past cycles count from three medians on. ``accuracy``: how far the sensor may be off; its offset is taken from
    a triangular distribution within that (JCGM 100:2008, 4.3.9) and stays through the cycle.

    >>> t = np.arange(1.0, 8.0)
    >>> cycle = Cycle(t, 60 + 35 * np.exp(-t / 9))
    >>> found = forecast(cycle, 7.5, 72.0, [Cycle(t, 60 + 35 * np.exp(-t / 9))])
    >>> truth = 9 * np.log(35 / 12) - 7.5
    >>> bool(found.low < truth < found.high)
    True
    """
    usable = [c for c in past if len(c.t) >= LEAST_PAST]
    if len(running.t) < (LEAST_WITH_PAST if usable else LEAST_DAYS):
        return None
    random = np.random.default_rng(seed)
    age = now - float(running.t[-1])
    paths, holding = continuations(running, usable, limit, age + _STEPS, draws, random=random)
    lately = slice(-_LATELY, None)
    if not usable and theil_sen(running.t[lately], running.y[lately]).slope >= 0:
        holding = 1.0
    off = accuracy * (random.random((draws, 2)).sum(axis=1) - 1)[:, None]
    whole = np.column_stack([np.full(draws, float(running.y[-1])), paths])
    at = _passed(whole - off, np.r_[-age, _STEPS], limit)
    lower, upper = _LIMITS[min(len(usable), len(_LIMITS) - 1)]
    shares = (lower, 0.5, upper)
    low, days, high = (max(float(np.sort(at)[int(q * (draws - 1))]), 0.0) for q in shares)
    chance = np.array([(at <= d).mean() for d in _STEPS])
    path = np.quantile(paths, shares, axis=0).T
    return DryForecast(days, low, high, chance, path, holding, len(usable))


def _passed(whole: Floats, times: Floats, limit: float) -> Floats:
    """When each path (draws, times) first passes below the limit, on the line between two days; inf: never."""
    below = whole < limit
    first = below.argmax(axis=1)
    before = np.maximum(first - 1, 0)
    rows = np.arange(len(whole))
    high, low = whole[rows, before], whole[rows, first]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(first > 0, (high - limit) / (high - low), 1.0)
    return np.where(below.any(axis=1), times[before] + part * (times[first] - times[before]), np.inf)
