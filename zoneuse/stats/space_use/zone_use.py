"""Which zones are used more or less than their share of what is offered: their limits and the test.

The mean share over units (sessions or days) is compared with the mean offered share. With at least
``FEWEST_UNITS`` units of animals told apart, a Monte Carlo test decides that keeps every bout as it was and
redraws where it was spent (``bouts.redraw``), over all zones at once; its cut-offs also set the printed
limits of the ratio, so test and limits cannot disagree. With fewer units, or for groups, limits from the
spread between units decide, again for all zones at once.

What stands however often one asks must also pass the stricter limits of ``lasting``, at the level that
``any_time`` sets for so many units.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..intervals.any_time import level_any_time
from ..intervals.shares import looks_interval
from ..intervals.units import (
    Looks,
    Moments,
    UnitShares,
    effective_sample_size,
    gather,
    unit_shares,
    unseen_bounds,
)
from .bouts import Bouts, find_bouts, kept_between_units, redraw
from .lasting import SPREAD_ALLOWED, StayLooks, lasting
from .single_step import SingleStep, limits_of_test, single_step

Pair = tuple[Floats, Floats]
Limits = Callable[[Floats], Pair]

# Below this many units the spread between units is itself too uncertain to correct the redrawn shares.
FEWEST_UNITS = 12
# Standard errors added to the estimate of how often an animal stays from one unit to the next.
STAY_ERRORS = 0.25
# Where stays are uneven or animals sit together, a single look must also stand at this many times its level with
# each stay, and each company, as one choice.
LASTING_LEVEL = 2.0


@dataclass(frozen=True, slots=True)
class ShareLimits:
    """Lower and upper limits of each zone's share, wherever the unseen were.

    ``seen`` of what was seen; ``elsewhere`` with every unseen moment taken as spent in other zones, ``here`` with
    all of them taken as spent in the zone.
    """

    seen: Pair
    elsewhere: Pair
    here: Pair


@dataclass(frozen=True, slots=True)
class ZoneUse:
    """Use of each zone; arrays have one entry a zone.

    ``used`` is the mean share over units, its limits hold for each zone by itself; the limits of ``ratio``
    (used / available) hold for all zones at once. ``even_low``, ``even_high`` are each ratio's own 90 % limits.
    ``unseen_low`` and ``unseen_high`` take every unseen moment as elsewhere and as here. ``sure_low`` and
    ``sure_high`` are the ratio's limits that hold however often one asks, at ``sure_level`` for all zones at once.
    ``at_once``, ``own`` (90 %) and ``any_time`` are the same three kinds of limits on the scale of shares, as seen
    and with the unseen counted either way. ``p`` is adjusted over zones (NaN where limits decided),
    ``p_no_preference`` the chance of any zone standing out as far by luck. ``by_bouts``: bouts redrawn
    gave that test, else the spread between units gave limits only.
    """

    availability: Floats
    used: Floats
    used_low: Floats
    used_high: Floats
    ratio: Floats
    ratio_low: Floats
    ratio_high: Floats
    even_low: Floats
    even_high: Floats
    unseen_low: Floats
    unseen_high: Floats
    moments: Floats
    units_used: NDArray[np.intp]
    at_once: ShareLimits
    own: ShareLimits
    any_time: ShareLimits
    sure_low: Floats
    sure_high: Floats
    sure_level: float
    p: Floats
    p_no_preference: float
    by_bouts: bool
    units: int
    units_unseen: int
    seen: float
    unseen: float
    moves: int | None
    kept: float
    looks: float
    degrees: float
    lasting: StayLooks
    draws: int


def zone_use(
    unit: ArrayLike,
    animal: ArrayLike,
    zone: ArrayLike,
    order: ArrayLike,
    availability: ArrayLike,
    *,
    weight: ArrayLike | None = None,
    confidence: float = 0.95,
    draws: int = 1999,
    seed: int = 0,
) -> ZoneUse:
    """Compare use with what was offered.

    One entry a moment: ``unit`` the session or day; ``animal`` an id (integers below zero: animals not told
    apart, one row a zone and scan with its count in ``weight``); ``zone`` an index, -1 where looked for and
    not found; ``order`` anything that sorts by time; ``availability`` moments x zones, or one row of zones for
    all (scaled to sum to one). ValueError names a column that does not fit.

    >>> session = np.repeat(np.arange(20), 6)
    >>> zone = np.tile([0, 0, 0, 0, 0, 1], 20)
    >>> found = zone_use(session, np.zeros(120, int), zone, np.arange(120), [0.25, 0.25, 0.5])
    >>> bool(found.ratio_low[0] > 1), bool(found.ratio_high[2] < 1)
    (True, True)
    """
    moments = gather(unit, animal, zone, order, availability, weight=weight)
    units = unit_shares(moments)
    rows = units.rows
    told_apart = not bool((moments.animal[rows] < 0).any())
    bouts = find_bouts(
        moments.animal[rows],
        units.unit,
        np.arange(rows.size),
        moments.zone[rows],
        units.pull,
        availability=moments.availability[rows],
    )
    kept = kept_between_units(bouts, STAY_ERRORS) if told_apart else 0.0
    looks = effective_sample_size(moments, units, kept)
    by_test = told_apart and units.share.shape[0] >= FEWEST_UNITS
    alpha = 1 - confidence
    test = _tested(bouts, units, looks, kept, draws, seed=seed, alpha=alpha) if by_test else None
    steady = lasting(moments, units, bouts)

    def limits(share: Floats) -> Pair:
        if test is None:
            return looks_interval(share, looks.looks, looks.degrees, confidence, moments.zones)
        found = limits_of_test(test, share, units.availability)
        if not steady.needed:
            return found
        return _outer(found, steady.limits(share, LASTING_LEVEL * alpha, moments.zones))

    level = float(level_any_time(units.share.shape[0]))

    def any_time(share: Floats) -> Pair:
        # Never narrower than today's.
        return _outer(limits(share), steady.limits(share, level, share.size))

    spread = _Spread(
        looks_interval(units.used, looks.looks, looks.degrees, confidence),
        limits,
        lambda share: looks_interval(share, looks.looks, looks.degrees, 0.90),
        any_time,
        level,
    )
    return _table(moments, units, looks, spread, test, bouts=bouts, kept=kept, steady=steady, draws=draws)


@dataclass(frozen=True, slots=True)
class _Spread:
    """How far shares may lie from what was seen: ``single`` the limits of each zone's share by itself, and functions
    from shares to limits: for all zones ``at_once``, each zone's ``own`` 90 %, and however often one asks."""

    single: Pair
    at_once: Limits
    own: Limits
    any_time: Limits
    level: float


def _wherever_unseen(limits: Limits, units: UnitShares, unseen: tuple[Floats, Floats, Floats]) -> ShareLimits:
    """Limits of the shares seen, and with the unseen elsewhere and here."""
    low, high, always = unseen
    a = units.availability
    # Unseen moments may have had other things on offer: their shares are put on the seen moments' scale.
    scale = np.divide(a, always, out=np.ones(a.size), where=always > 0)
    shares = (units.used, low * scale, high * scale)
    return ShareLimits(*(limits(np.clip(share, 0.0, 1.0)) for share in shares))


def _outer(one: Pair, other: Pair) -> Pair:
    return np.minimum(one[0], other[0]), np.maximum(one[1], other[1])


def _tested(
    bouts: Bouts, units: UnitShares, looks: Looks, kept: float, draws: int, *, seed: int, alpha: float
) -> SingleStep:
    """The redrawn shares, widened where units differ more than they do, and the test over all zones."""
    null = redraw(bouts, kept, draws, np.random.default_rng(seed))
    offer = units.availability
    spread = float(null.var(axis=0).sum())
    redrawn = float((offer * (1 - offer)).sum()) / spread if spread > 0 else 0.0
    excess = redrawn / looks.by_unit / SPREAD_ALLOWED if looks.by_unit > 0 else 1.0
    if excess > 1:
        null = offer + (null - offer) * np.sqrt(excess)
    return single_step(null, units.used, alpha)


def _table(
    moments: Moments,
    units: UnitShares,
    looks: Looks,
    spread: _Spread,
    test: SingleStep | None,
    *,
    bouts: Bouts,
    kept: float,
    steady: StayLooks,
    draws: int,
) -> ZoneUse:
    """Everything of the answer's table."""
    used, availability = units.used, units.availability
    unseen = unseen_bounds(moments)
    at_once, own, any_time = (
        _wherever_unseen(limits, units, unseen) for limits in (spread.at_once, spread.own, spread.any_time)
    )
    all_at_once, single = spread.at_once(used), spread.single
    sure_low, sure_high = spread.any_time(used)
    p = test.p if test is not None else None
    if p is not None and steady.needed:
        p = np.maximum(p, steady.p(used, availability) / LASTING_LEVEL)
    even = spread.own(used)
    seen = moments.seen
    return ZoneUse(
        availability=availability,
        used=used,
        # A zone called over all zones at once must not look undecided by itself.
        used_low=np.maximum(single[0], np.minimum(all_at_once[0], used)),
        used_high=np.minimum(single[1], np.maximum(all_at_once[1], used)),
        ratio=_over(used, availability),
        ratio_low=_over(all_at_once[0], availability),
        ratio_high=_over(all_at_once[1], availability),
        even_low=_over(even[0], availability),
        even_high=_over(even[1], availability),
        unseen_low=unseen[0],
        unseen_high=unseen[1],
        moments=np.asarray(np.bincount(moments.zone[seen], moments.weight[seen], moments.zones), np.float64),
        units_used=(units.share > 0).sum(axis=0),
        at_once=at_once,
        own=own,
        any_time=any_time,
        sure_low=_over(sure_low, availability),
        sure_high=_over(sure_high, availability),
        sure_level=spread.level,
        p=p if p is not None else np.full(moments.zones, np.nan),
        p_no_preference=float(p.min()) if p is not None else float("nan"),
        by_bouts=test is not None,
        units=units.share.shape[0],
        units_unseen=int(np.unique(moments.unit).size) - units.share.shape[0],
        seen=float(moments.weight[seen].sum()),
        unseen=float(moments.weight[~seen].sum()),
        moves=bouts.moves if not bool((moments.animal[units.rows] < 0).any()) else None,
        kept=kept,
        looks=looks.looks,
        degrees=looks.degrees,
        lasting=steady,
        draws=draws if test is not None else 0,
    )


def _over(share: Floats, availability: Floats) -> Floats:
    """Shares over what was offered; NaN where nothing was."""
    return np.asarray(
        np.divide(share, availability, out=np.full(share.shape, np.nan), where=availability > 0), np.float64
    )
