"""Shared summaries to what holds over their keepers: arrays out of records, and what `stats/pooling` makes of them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

import numpy as np

from ..stats.intervals import wilson
from ..stats.pooling import pool_effects, pool_shares_under, ratio_of
from ..study import QUANTITIES, in_order
from .shared import Shared, SharedTerm, SharedZone

_T = TypeVar("_T")

ZONE, CONDITION, PREFERRED, CHANGE = "zone", "condition", "preferred", "change"
# Keepers from which limits are given, and from which the next one is foretold and a verdict given.
FOR_LIMITS, FOR_VERDICT = 3, 5
PRIOR, OTHER_PRIORS = 1.0, (0.5, 2.0)
# A bend is told at so many steps from the middle: at one it is too small to read.
STEPS_OF_BEND = 3


@dataclass(frozen=True, slots=True)
class OneStudy:
    """One enclosure's own estimate with its 95 % limits (None where its error is not known)."""

    keeper: str
    enclosure: str
    mean: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Pooled:
    """What holds of one thing over keepers, in its own unit (a ratio, °C, a share); limits None under three keepers."""

    what: str
    name: str
    unit: str
    keepers: int
    enclosures: int
    mean: float | None
    low: float | None
    high: float | None
    next_low: float | None
    next_high: float | None
    tau: float | None
    studies: tuple[OneStudy, ...]
    # Limits of the mean under narrower and wider priors of the spread, by that prior's scale.
    under: Mapping[float, tuple[float, float]]
    # The value around which a condition's effect is taken, in the quantity's unit; None for anything else.
    around: float | None = None


def most_species(shared: Iterable[Shared]) -> tuple[str, dict[str, int]]:
    """The species most keepers have, and how many studies there are of each: different ones are never pooled."""
    keepers: dict[str, set[str]] = defaultdict(set)
    studies: Counter[str] = Counter()
    for one in shared:
        keepers[one.species].add(one.keeper)
        studies[one.species] += 1
    most = max(keepers, key=lambda name: (len(keepers[name]), studies[name], name)) if keepers else ""
    return most, dict(studies)


def pool(shared: Sequence[Shared], seed: int = 1) -> list[Pooled]:
    """Zones, conditions, preferred values and changes, each over the keepers who have it. All of one species."""
    return [*_zones(shared), *_conditions(shared, seed), *_preferred(shared, seed), *_changes(shared, seed)]


def _zones(shared: Sequence[Shared]) -> Iterator[Pooled]:
    by_name: dict[str, list[tuple[str, str, SharedZone]]] = defaultdict(list)
    for one in shared:
        for zone in one.enclosure.zones:
            if 0 < zone.offered < 1 and zone.n_eff > 0 and 0 <= zone.used <= 1:
                by_name[zone.name].append((one.keeper, one.enclosure.token, zone))
    for name, some in sorted(by_name.items()):
        yield _zone(name, some)


def _zone(name: str, some: Sequence[tuple[str, str, SharedZone]]) -> Pooled:
    """One common place, as ratios to a share that is usual among these enclosures."""
    rows, keepers = [row for _, _, row in some], [keeper for keeper, _, _ in some]
    k = len(set(keepers))
    studies = tuple(
        OneStudy(keeper, token, row.used / row.offered, *_own_limits(row.used, row.n_eff, row.offered))
        for keeper, token, row in some
    )
    if k < FOR_LIMITS:
        return Pooled(ZONE, name, "ratio", k, len(rows), None, None, None, None, None, None, studies, {})
    n, offered = np.array([row.n_eff for row in rows]), np.array([row.offered for row in rows])
    used = np.array([row.used for row in rows]) * n
    usual = float(np.exp(np.mean(np.log(offered))))
    found, *others = pool_shares_under((PRIOR, *OTHER_PRIORS), used, n, offered, keepers)
    ahead = (
        (ratio_of(found.next_low, usual), ratio_of(found.next_high, usual))
        if k >= FOR_VERDICT
        else (None, None)
    )
    return Pooled(
        ZONE, name, "ratio", k, len(rows),
        ratio_of(found.mean, usual), ratio_of(found.low, usual), ratio_of(found.high, usual), ahead[0], ahead[1],
        float(np.hypot(found.tau_keepers, found.tau_enclosures)), studies,
        {p: (ratio_of(o.low, usual), ratio_of(o.high, usual)) for p, o in zip(OTHER_PRIORS, others, strict=True)},
    )  # fmt: skip


def _own_limits(used: float, n: float, offered: float) -> tuple[float, float]:
    """Limits of a share by itself, as a ratio."""
    low, high = wilson(used * n, n)
    return float(low) / offered, float(high) / offered


@dataclass(frozen=True, slots=True)
class _Curve:
    """One enclosure's log odds by a quantity: slope and bend at ``centre``, their variances and covariance."""

    keeper: str
    enclosure: str
    centre: float
    slope: float
    bend: float
    var_slope: float
    var_bend: float
    both: float

    def slope_at(self, value: float) -> tuple[float, float]:
        """The slope elsewhere, and its variance."""
        off = value - self.centre
        return (
            self.slope + 2 * off * self.bend,
            self.var_slope + 4 * off * self.both + 4 * off**2 * self.var_bend,
        )


def _conditions(shared: Sequence[Shared], seed: int) -> Iterator[Pooled]:
    """What a step more of a quantity does to the odds of a place, and how that bends, around one value for all.

    Terms count from the median of what each enclosure offered, so those of two enclosures are not the same thing:
    all are taken around the median of these, with the errors that the terms' covariance gives there.
    """
    by_quantity: dict[str, list[_Curve]] = defaultdict(list)
    for one in shared:
        for first, second in pairwise(one.enclosure.terms):
            curve = _curve(one, first, second) if second.term == f"{first.term}^2" else None
            if curve is not None:
                by_quantity[first.term].append(curve)
    for name, curves in _as_listed(by_quantity):
        around = float(np.median([curve.centre for curve in curves]))
        step, wide = step_of(name), STEPS_OF_BEND * step_of(name)
        slopes = [
            (c.keeper, c.enclosure, slope * step, var * step**2)
            for c in curves
            for slope, var in (c.slope_at(around),)
        ]
        bends = [(c.keeper, c.enclosure, c.bend * wide**2, c.var_bend * wide**4) for c in curves]
        yield _as_ratios(_estimates(CONDITION, name, "log odds", slopes, seed), around)
        yield _as_ratios(_estimates(CONDITION, f"{name}^2", "log odds", bends, seed), around)


def _as_listed(by_quantity: Mapping[str, _T]) -> list[tuple[str, _T]]:
    """In the order in which quantities are listed; those nobody knows last."""
    known = {name: i for i, name in enumerate(in_order())}
    return sorted(by_quantity.items(), key=lambda item: (known.get(item[0], len(known)), item[0]))


def _curve(one: Shared, slope: SharedTerm, bend: SharedTerm) -> _Curve | None:
    """The curve of two terms; None where their errors are not known or are none (a stranger's file)."""
    if slope.centre is None or not slope.covariance or not bend.covariance or len(bend.covariance) < 2:
        return None
    var_slope, (both, var_bend) = slope.covariance[-1], bend.covariance[-2:]
    if min(var_slope, var_bend) <= 0 or both**2 >= var_slope * var_bend:
        return None
    return _Curve(
        one.keeper,
        one.enclosure.token,
        slope.centre,
        slope.coefficient,
        bend.coefficient,
        var_slope,
        var_bend,
        both,
    )


def step_of(name: str) -> float:
    """A difference of a quantity worth a word, in its own unit."""
    known = QUANTITIES.get(name)
    return (known.step or known.accuracy or 1.0) if known else 1.0


def _as_ratios(one: Pooled, around: float) -> Pooled:
    """The same on the scale on which it is read: how many times the odds. The spread stays in log odds."""

    def ratio(value: float | None) -> float | None:
        return None if value is None else float(np.exp(np.clip(value, -50, 50)))

    studies = tuple(
        OneStudy(s.keeper, s.enclosure, float(np.exp(np.clip(s.mean, -50, 50))), ratio(s.low), ratio(s.high))
        for s in one.studies
    )
    return replace(
        one, unit="ratio", mean=ratio(one.mean), low=ratio(one.low), high=ratio(one.high),
        next_low=ratio(one.next_low), next_high=ratio(one.next_high), around=around, studies=studies,
    )  # fmt: skip


def _preferred(shared: Sequence[Shared], seed: int) -> Iterator[Pooled]:
    """What the animals of an enclosure used, mean over animals; its error from their spread.

    One animal shows no spread: it takes that of the animals of other enclosures, where there is one.
    """
    by_quantity: dict[str, list[tuple[str, str, list[float]]]] = defaultdict(list)
    for one in shared:
        means: dict[str, list[float]] = defaultdict(list)
        for animal in one.enclosure.animals_used:
            means[animal.quantity].append(animal.mean)
        for quantity, values in means.items():
            by_quantity[quantity].append((one.keeper, one.enclosure.token, values))
    for quantity, some in _as_listed(by_quantity):
        spreads = [(len(v) - 1, float(np.var(v, ddof=1))) for _, _, v in some if len(v) > 1]
        if not spreads:
            continue
        usual = sum(df * var for df, var in spreads) / sum(df for df, _ in spreads)
        rows = [
            (
                keeper,
                token,
                float(np.mean(v)),
                max((float(np.var(v, ddof=1)) if len(v) > 2 else usual) / len(v), 1e-12),
            )
            for keeper, token, v in some
        ]
        yield _estimates(PREFERRED, quantity, quantity, rows, seed)


def _changes(shared: Sequence[Shared], seed: int) -> Iterator[Pooled]:
    by_kind: dict[tuple[str, str, str], list[tuple[str, str, float, float]]] = defaultdict(list)
    for one in shared:
        for change in one.enclosure.changes:
            if change.se > 0 and not change.confounded:
                by_kind[change.kind, change.where, change.what].append(
                    (one.keeper, one.enclosure.token, change.change, change.se**2)
                )
    for (kind, where, what), rows in sorted(by_kind.items()):
        name = f"{kind} in {where}: use of {what}" if where else f"{kind}: use of {what}"
        yield _estimates(CHANGE, name, "share", rows, seed)


def _estimates(
    what: str, name: str, unit: str, rows: list[tuple[str, str, float, float]], seed: int
) -> Pooled:
    studies = tuple(
        OneStudy(keeper, token, mean, mean - 1.959964 * var**0.5, mean + 1.959964 * var**0.5)
        for keeper, token, mean, var in rows
    )
    keepers, y, v = _by_keeper(rows)
    nothing = Pooled(what, name, unit, keepers, len(rows), None, None, None, None, None, None, studies, {})
    if keepers < FOR_LIMITS:
        return nothing
    found = pool_effects(y, v, seed=seed)
    ahead = (found.next_low, found.next_high) if keepers >= FOR_VERDICT else (None, None)
    return Pooled(
        what,
        name,
        unit,
        keepers,
        len(rows),
        found.mean,
        found.low,
        found.high,
        *ahead,
        found.tau,
        studies,
        {},
    )


def _by_keeper(rows: list[tuple[str, str, float, float]]) -> tuple[int, list[float], list[float]]:
    """One estimate for each keeper: the mean of the keeper's enclosures, with the larger of its two errors.

    Enclosures of one keeper are not independent: they make that keeper's estimate surer, not the keepers more.
    """
    groups: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for keeper, _, mean, var in rows:
        groups[keeper].append((mean, var))
    means, variances = [], []
    for some in groups.values():
        values, own = np.array([m for m, _ in some]), np.array([s for _, s in some])
        seen = float(np.var(values, ddof=1)) / len(values) if len(values) > 1 else 0.0
        means.append(float(values.mean()))
        variances.append(max(float(own.sum()) / len(own) ** 2, seen))
    return len(groups), means, variances
