"""Limits of shares that a long stay, a company or another look does not upset.

Two ways to say how many independent looks the units are worth, the fewer counting: every stay as one choice
however long it went on (``redrawn_spread``); and, where animals are in the same places more than by luck,
the animals of an enclosure as one crowd, whose shares vary from unit to unit and repeat each other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import Floats
from ..intervals.quantiles import t_two_sided
from ..intervals.units import Moments, UnitShares, crowd_looks, effective_sample_size
from ..special import special
from .bouts import Bouts
from .redrawn_spread import joined, joined_variance, unevenness
from .togetherness import Togetherness, togetherness

# By how many standard errors animals must go together before they are taken as a crowd.
CROWD_ERRORS = 1.0
# Units may differ more than stays make them differ by this factor before that counts.
SPREAD_ALLOWED = 1.05
# From this unevenness on, one chance to stay does not describe an animal's stays.
UNEVEN = 1.2


@dataclass(frozen=True, slots=True)
class StayLooks:
    """How many looks the units are worth, by stays (``looks``) and as a crowd (``crowd``, infinite where none).

    ``degrees`` belongs to the crowd's looks. ``stays`` is how often an animal chose a place, ``longest`` the part
    of all that was seen which its longest stay makes up, ``uneven`` how unlike each other its stays are
    (``redrawn_spread.unevenness``).
    """

    looks: float
    crowd: float
    degrees: float
    stays: int
    longest: float
    uneven: float
    company: Togetherness

    @property
    def needed(self) -> bool:
        """Whether stays or company make today's test, which knows of neither, too sure."""
        return self.uneven > UNEVEN or np.isfinite(self.crowd)

    def limits(self, share: Floats, level: float, compared: int) -> tuple[Floats, Floats]:
        """Limits of shares (zones,) that hold for so many at once: Jeffreys' from the looks they are worth.

        Brown, Cai & DasGupta 2001 (Stat. Sci. 16:101), with effective looks as Korn & Graubard 1998 (Surv.
        Methodol. 24:193) do; for a crowd with Student's quantile in place of the normal one.
        """
        tail = level / (2 * compared)
        low, high = _jeffreys(share, self.looks, tail)
        if np.isfinite(self.crowd):
            wide = float(special.ndtr(-t_two_sided(1 - level, self.degrees, compared)))
            more = _jeffreys(share, self.crowd, wide)
            low, high = np.minimum(low, more[0]), np.maximum(high, more[1])
        return low, high

    def p(self, share: Floats, availability: Floats) -> Floats:
        """The level at which each offered share would just be a limit of its zone's share, for all zones at once."""
        tail = _tail(share, availability, self.looks)
        if np.isfinite(self.crowd):
            z = -special.ndtri(np.clip(_tail(share, availability, self.crowd), 1e-300, 0.5))
            tail = np.maximum(tail, special.stdtr(self.degrees, -z))
        return np.asarray(np.minimum(2 * share.size * tail, 1.0), np.float64)


def lasting(moments: Moments, units: UnitShares, bouts: Bouts) -> StayLooks:
    """How many looks the units are worth, whatever stays and company they come from.

    Animals not told apart are a crowd, and nothing is known of their stays (``stays`` 0).

    >>> from .bouts import find_bouts
    >>> from ..intervals.units import gather, unit_shares
    >>> one = gather(np.arange(20), np.zeros(20, int), np.tile([0, 0, 1, 1], 5), np.arange(20), [0.5, 0.5])
    >>> rows = unit_shares(one)
    >>> who = find_bouts(one.animal, rows.unit, np.arange(20), one.zone, rows.pull, availability=one.availability)
    >>> found = lasting(one, rows, who)
    >>> found.stays, round(found.longest, 2), round(found.looks, 1)  # ten stays of two sessions each
    (10, 0.1, 10.0)
    """
    by_unit = effective_sample_size(moments, units, 0.0).by_unit
    crowd, degrees = crowd_looks(units, by_unit)
    if (moments.animal[units.rows] < 0).any():
        return StayLooks(crowd, crowd, degrees, 0, 0.0, 1.0, Togetherness(0, 0.0, 0.0))
    offer = units.availability
    spread = float(joined_variance(bouts).sum())
    inside = float((offer * (1 - offer)).sum())
    looks = min(inside / spread if spread > 0 else by_unit, by_unit * SPREAD_ALLOWED)
    company = togetherness(moments, units)
    together = company.errors > CROWD_ERRORS and crowd < looks
    mass = joined(bouts)[0]
    return StayLooks(
        looks, crowd if together else float("inf"), degrees, int(mass.size), float(mass.max()),
        unevenness(bouts), company,
    )  # fmt: skip


def _jeffreys(share: Floats, looks: float, tail: float) -> tuple[Floats, Floats]:
    seen = looks * share
    low = special.betaincinv(seen + 0.5, looks - seen + 0.5, tail)
    high = special.betaincinv(seen + 0.5, looks - seen + 0.5, 1 - tail)
    return (
        np.asarray(np.where(share <= 0, 0.0, low), np.float64),
        np.asarray(np.where(share >= 1, 1.0, high), np.float64),
    )


def _tail(share: Floats, availability: Floats, looks: float) -> Floats:
    """The one-sided tail at which the offered share is a Jeffreys limit; .5 and more where it lies at the share."""
    seen = looks * share
    below = np.where(share <= 0, 1.0, special.betainc(seen + 0.5, looks - seen + 0.5, availability))
    above = np.where(share >= 1, 1.0, special.betaincc(seen + 0.5, looks - seen + 0.5, availability))
    return np.asarray(np.minimum(below, above), np.float64)
