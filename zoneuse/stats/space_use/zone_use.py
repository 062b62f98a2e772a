"""Which zones are used more or less than their share of what is offered: limits, test and verdict in one.

The mean share over units (sessions or days) is compared with the mean offered share. With at least
``FEWEST_UNITS`` units of animals told apart, a Monte Carlo test decides that keeps every bout as it was and
redraws where it was spent (``bouts.redraw``), over all zones at once; its cut-offs also set the printed
limits of the ratio, so verdict and limits cannot disagree. With fewer units, or for groups, limits from the
spread between units decide, again for all zones at once.

What stands however often one asks must also pass the stricter limits of ``lasting``, at the level that
``any_time`` sets for so many units.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

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
from .lasting import SPREAD_ALLOWED, Lasting, lasting
from .single_step import SingleStep, limits_of_test, single_step
from .zone_verdict import TOO_EARLY, Evidence, call_zones

Floats = NDArray[np.float64]

# Below this many units the spread between units is itself too uncertain to correct the redrawn shares.
FEWEST_UNITS = 12
# Standard errors added to the estimate of how often an animal stays from one unit to the next.
STAY_ERRORS = 0.25
# Where stays are uneven or animals sit together, a single look must also stand at this many times its level with
# each stay, and each company, as one choice.
LASTING_LEVEL = 2.0


@dataclass(frozen=True, slots=True)
class ZoneUse:
    """Use of each zone; arrays have one entry a zone.

    ``used`` is the mean share over units, its limits hold for each zone by itself; the limits of ``ratio``
    (used / available) hold for all zones at once and agree with ``verdict``. ``even_low``, ``even_high``
    are each ratio's own 90 % limits, on which "in proportion" rests. ``unseen_low`` and ``unseen_high`` take
    every unseen moment as elsewhere and as here. ``reason`` says what held a verdict back ("" where none
    was): few_units, few_moves, unseen, spread, not_offered. ``sure`` is true where the verdict stands however
    often one asks; ``sure_low`` and ``sure_high`` are the ratio's limits for that, at ``sure_level`` for all zones
    at once. ``p`` is adjusted over zones (NaN where limits
    decided), ``p_no_preference`` the chance of any zone standing out as far by luck.
    """

    available: Floats
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
    verdict: tuple[str, ...]
    reason: tuple[str, ...]
    sure: tuple[bool, ...]
    sure_low: Floats
    sure_high: Floats
    sure_level: float
    p: Floats
    p_no_preference: float
    decided_by: str
    units: int
    units_unseen: int
    seen: float
    unseen: float
    moves: int | None
    kept: float
    looks: float
    degrees: float
    lasting: Lasting
    draws: int


def zone_use(
    unit: ArrayLike,
    animal: ArrayLike,
    zone: ArrayLike,
    order: ArrayLike,
    offered: ArrayLike,
    *,
    weight: ArrayLike | None = None,
    confidence: float = 0.95,
    even_within: tuple[float, float] = (0.67, 1.5),
    draws: int = 1999,
    seed: int = 0,
) -> ZoneUse:
    """Compare use with what was offered.

    One entry a moment: ``unit`` the session or day; ``animal`` an id (integers below zero: animals not told
    apart, one row a zone and scan with its count in ``weight``); ``zone`` an index, -1 where looked for and
    not found; ``order`` anything that sorts by time; ``offered`` moments x zones, or one row of zones for
    all (scaled to sum to one). ValueError names a column that does not fit.

    >>> session = np.repeat(np.arange(20), 6)
    >>> zone = np.tile([0, 0, 0, 0, 0, 1], 20)
    >>> found = zone_use(session, np.zeros(120, int), zone, np.arange(120), [0.25, 0.25, 0.5])
    >>> found.verdict
    ('favoured', 'too early', 'avoided')
    """
    moments = gather(unit, animal, zone, order, offered, weight=weight)
    units = unit_shares(moments)
    rows = units.rows
    told_apart = not bool((moments.animal[rows] < 0).any())
    bouts = find_bouts(
        moments.animal[rows],
        units.unit,
        np.arange(rows.size),
        moments.zone[rows],
        units.pull,
        offered=moments.offered[rows],
    )
    kept = kept_between_units(bouts, STAY_ERRORS) if told_apart else 0.0
    looks = effective_sample_size(moments, units, kept)
    by_test = told_apart and units.share.shape[0] >= FEWEST_UNITS
    alpha = 1 - confidence
    test = _tested(bouts, units, looks, kept, draws, seed=seed, alpha=alpha) if by_test else None
    steady = lasting(moments, units, bouts)

    def limits(share: Floats) -> tuple[Floats, Floats]:
        if test is None:
            return looks_interval(share, looks.looks, looks.degrees, confidence, moments.zones)
        found = limits_of_test(test, share, units.available)
        if not steady.needed:
            return found
        return _outer(found, steady.limits(share, LASTING_LEVEL * alpha, moments.zones))

    def even_limits(share: Floats) -> tuple[Floats, Floats]:
        return looks_interval(share, looks.looks, looks.degrees, 0.90)

    low, high, offered_always = unseen_bounds(moments)
    evidence = Evidence(
        used=units.used,
        available=units.available,
        unseen_low=low,
        unseen_high=high,
        offered_always=offered_always,
        limits=limits,
        even_limits=even_limits,
        even_within=even_within,
        units=units.share.shape[0],
        moves=bouts.moves if told_apart else None,
    )
    own = looks_interval(units.used, looks.looks, looks.degrees, confidence)
    return _table(moments, units, looks, evidence, test, own=own, kept=kept, steady=steady, draws=draws)


def _outer(one: tuple[Floats, Floats], other: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    return np.minimum(one[0], other[0]), np.maximum(one[1], other[1])


def _any_time(evidence: Evidence, steady: Lasting, level: float) -> Evidence:
    """The same evidence with the limits that hold however often one asks; never narrower than today's."""

    def limits(share: Floats) -> tuple[Floats, Floats]:
        return _outer(evidence.limits(share), steady.limits(share, level, share.size))

    return replace(evidence, limits=limits)


def _tested(
    bouts: Bouts, units: UnitShares, looks: Looks, kept: float, draws: int, *, seed: int, alpha: float
) -> SingleStep:
    """The redrawn shares, widened where units differ more than they do, and the test over all zones."""
    null = redraw(bouts, kept, draws, np.random.default_rng(seed))
    offer = units.available
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
    evidence: Evidence,
    test: SingleStep | None,
    *,
    own: tuple[Floats, Floats],
    kept: float,
    steady: Lasting,
    draws: int,
) -> ZoneUse:
    """Everything of the answer's table."""
    used, available = units.used, units.available
    all_at_once = evidence.limits(used)
    calls = call_zones(evidence)
    level = float(level_any_time(evidence.units))
    strict = _any_time(evidence, steady, level)
    sure_low, sure_high = strict.limits(used)
    p = test.p if test is not None else None
    if p is not None and steady.needed:
        p = np.maximum(p, steady.p(used, available) / LASTING_LEVEL)
    even = evidence.even_limits(used)
    seen = moments.seen
    return ZoneUse(
        available=available,
        used=used,
        # A zone called over all zones at once must not look undecided by itself.
        used_low=np.maximum(own[0], np.minimum(all_at_once[0], used)),
        used_high=np.minimum(own[1], np.maximum(all_at_once[1], used)),
        ratio=_over(used, available),
        ratio_low=_over(all_at_once[0], available),
        ratio_high=_over(all_at_once[1], available),
        even_low=_over(even[0], available),
        even_high=_over(even[1], available),
        unseen_low=evidence.unseen_low,
        unseen_high=evidence.unseen_high,
        moments=np.asarray(np.bincount(moments.zone[seen], moments.weight[seen], moments.zones), np.float64),
        units_used=(units.share > 0).sum(axis=0),
        verdict=tuple(call.verdict for call in calls),
        reason=tuple(call.reason for call in calls),
        sure=tuple(
            call.verdict != TOO_EARLY and call.verdict == now.verdict
            for call, now in zip(call_zones(strict), calls, strict=True)
        ),
        sure_low=_over(sure_low, available),
        sure_high=_over(sure_high, available),
        sure_level=level,
        p=p if p is not None else np.full(moments.zones, np.nan),
        p_no_preference=float(p.min()) if p is not None else float("nan"),
        decided_by="redrawn bouts" if test is not None else "spread between units",
        units=units.share.shape[0],
        units_unseen=int(np.unique(moments.unit).size) - units.share.shape[0],
        seen=float(moments.weight[seen].sum()),
        unseen=float(moments.weight[~seen].sum()),
        moves=evidence.moves,
        kept=kept,
        looks=looks.looks,
        degrees=looks.degrees,
        lasting=steady,
        draws=draws if test is not None else 0,
    )


def _over(share: Floats, available: Floats) -> Floats:
    """Shares over what was offered; NaN where nothing was."""
    return np.asarray(
        np.divide(share, available, out=np.full(share.shape, np.nan), where=available > 0), np.float64
    )
