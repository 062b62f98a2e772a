"""Did it differ: one family of rows under Holm, limits from the same tests, what held a verdict back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ....stats.intervals import PART_OF_LEVEL, bound_of_held
from ....stats.resampling import exchanged
from ... import reasons
from ...finding import TOO_EARLY, Confounder, Finding, Forecast, Number, numbers, standing_of_units
from ...quantities_said import unit as unit_of
from ..judge import CONFOUNDED, FELL, HELD, ROSE
from .design import PAIRS, Design
from .held import Held, enough_for, more_to_settle
from .levels import levels, once_each
from .measures import CONDITION, SHARES, ZONE

# Units of which fewer than this part go the way of their mean disagree.
AGREE = 0.75
# From so many units on one is named that lies further from the others than this (modified z).
_LEAST_OTHERS, _FAR = 6, 3.5
# From so many of each order on it is asked whether the order matters, and at this level it is said.
_LEAST_ORDER, _ORDER = 3, 0.05


@dataclass(frozen=True, slots=True)
class Comparison:
    """What is held against what, and how: the two names, the design, and what was expected."""

    about: tuple[str, ...]
    names: tuple[str, str]
    labels: tuple[str, str]
    design: Design
    held: Sequence[Held]
    expected: Mapping[tuple[str, str], str]
    held_within: float
    others: tuple[Confounder, ...] = ()
    first_first: NDArray[np.bool_] | None = None
    facts: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class JudgedRow:
    """One row judged: ``p`` over all that is compared, ``level`` of its own test and the limits at it."""

    held: Held
    verdict: str
    reason: str
    grade: str
    adjusted: float
    level: float
    limits: tuple[float, float]
    expected: str | None
    forecast: Forecast | None
    more_at_all: int | None


def judged(comparisons: Sequence[Comparison]) -> list[list[JudgedRow]]:
    """Every row of all comparisons made at once, one family: each comparison's rows."""
    every = [(c, one) for c in comparisons for one in c.held]
    if not every:
        return [[] for _ in comparisons]
    p = np.array([one.test.p for _, one in every])
    least = np.array([one.test.least for _, one in every])
    main = np.array([(one.what, one.name) in c.expected for c, one in every], bool)
    at = levels(p, least, main, once_each([c.held for c in comparisons]))
    told = iter(
        _judged(c, one, float(a), float(whole), own=float(alpha))
        for (c, one), a, whole, alpha in zip(every, at.adjusted, at.whole, at.own, strict=True)
    )
    return [[next(told) for _ in c.held] for c in comparisons]


def _judged(c: Comparison, one: Held, adjusted: float, level: float, *, own: float) -> JudgedRow:
    limits = one.test.limits(own)
    if one.what in SHARES:
        limits = max(limits[0], -1.0), min(limits[1], 1.0)
    verdict, reason = _verdict(c, one, adjusted, level, own=own)
    size = int(one.pairs.sum()) if c.design.kind == PAIRS else sum(c.design.counts)
    holds = adjusted <= PART_OF_LEVEL * level and agree(c.design, one)
    grade = standing_of_units(size, verdict == HELD or holds)
    if verdict != TOO_EARLY and not grade:
        verdict, reason = TOO_EARLY, reasons.TOO_FEW_UNITS
    forecast, at_all = None, None
    if verdict == TOO_EARLY and reason == reasons.SPREAD:
        more, chance = more_to_settle(one, c.design, own)
        forecast = Forecast(more, chance, 400)
    if reason == reasons.CANNOT_BE_TESTED:
        at_all = enough_for(c.design, own)
    return JudgedRow(
        one, verdict, reason, grade if verdict != TOO_EARLY else "", adjusted, own, limits,
        c.expected.get((one.what, one.name)), forecast, at_all,
    )  # fmt: skip


def _verdict(c: Comparison, one: Held, adjusted: float, level: float, *, own: float) -> tuple[str, str]:
    if adjusted <= level:
        if c.others:
            return CONFOUNDED, reasons.CONFOUNDED_BY
        return (ROSE if one.test.change > 0 else FELL), ""
    # Where even a perfect result could not pass, limits reach from end to end: "held" beside them would be nonsense.
    if one.test.least > own:
        return TOO_EARLY, reasons.CANNOT_BE_TESTED
    if one.breaks:
        return TOO_EARLY, reasons.NEVER_WITH_THIS_DESIGN
    even = one.test.limits(0.10)
    bound = bound_of_held(c.held_within, one.test.before, one.test.after)
    if one.what in SHARES and max(abs(even[0]), abs(even[1])) <= bound and min(c.design.counts) >= 5:
        return HELD, ""
    return TOO_EARLY, reasons.SPREAD


def ways(c: Design, one: Held) -> tuple[int, int]:
    """Of units held against themselves: how many went the way of their mean, and how many there are."""
    if c.kind != PAIRS:
        return 0, 0
    difference = (one.second - one.first)[one.pairs]
    return int((difference * np.sign(one.test.change) > 1e-9).sum()), int(difference.size)


def agree(c: Design, one: Held) -> bool:
    same, n = ways(c, one)
    return n == 0 or same >= AGREE * n


def other_way(c: Design, one: Held) -> tuple[str, ...]:
    """The units held against themselves that did not go the way of their mean, by name."""
    if c.kind != PAIRS:
        return ()
    difference = np.where(one.pairs, one.second - one.first, np.nan) * np.sign(one.test.change)
    return tuple(name for name, d in zip(c.names, difference, strict=True) if d < -1e-9)


def stands_out(c: Design, one: Held) -> tuple[str, float, float] | None:
    """The one unit whose change lies far from all others': its name, its change, and the others' median change.

    Far is a modified z above 3.5, of at least six units (Iglewicz & Hoaglin 1993, from memory).
    """
    if c.kind != PAIRS or one.pairs.sum() < _LEAST_OTHERS:
        return None
    names = np.array(c.names)[one.pairs]
    difference = (one.second - one.first)[one.pairs]
    far = np.abs(difference - np.median(difference))
    k = int(far.argmax())
    rest = np.delete(difference, k)
    middle = float(np.median(rest))
    spread = float(np.median(np.abs(rest - middle)))
    if spread <= 0 or 0.6745 * abs(difference[k] - middle) / spread <= _FAR:
        return None
    # Two that lie far out are no exception any more.
    if (0.6745 * np.abs(rest - middle) / spread > _FAR).any():
        return None
    return str(names[k]), float(difference[k]), middle


def order_matters(c: Comparison, one: Held) -> float | None:
    """p that units which had the first side first changed otherwise than the others; None where it cannot be asked.

    The two-sample test of the differences by order: a period effect (Hills & Armitage 1979, from memory).
    """
    if c.first_first is None or c.design.kind != PAIRS:
        return None
    first = c.first_first[one.pairs]
    if min(first.sum(), (~first).sum()) < _LEAST_ORDER:
        return None
    return exchanged((one.second - one.first)[one.pairs], first).p


def finding(c: Comparison, j: JudgedRow, compared: int) -> Finding:
    """The finding of one row, without a sentence yet."""
    one, unit = j.held, _unit(j.held)
    same, n = ways(c.design, one)
    first, second = c.design.counts
    named = {
        "before": one.test.before, "after": one.test.after, "change": one.test.change,
        "change_low": _finite(j.limits[0]), "change_high": _finite(j.limits[1]),
    }  # fmt: skip
    said = {name: Number(value, unit) for name, value in named.items()} | numbers(
        p=(one.test.p, "chance"), p_holm=(j.adjusted, "chance"), units_before=(first, "units"),
        units_after=(second, "units"), same_way=(same, "units"), of=(n, "units"), smallest_p=(c.design.least, "chance"),
        more_at_all=(j.more_at_all, "units"), own_level=(j.level, "chance"), order_p=(order_matters(c, one), "chance"),
        breaks=(one.breaks, "units"),
    )  # fmt: skip
    said |= _by_order(c, one, unit)
    facts = {
        "between": c.names, "named": c.labels, "kind": c.design.kind, "what": one.what, "expected": j.expected,
        "because": c.design.because, "agree": agree(c.design, one), "other_way": other_way(c.design, one),
        "stands_out": stands_out(c.design, one),
        "aside": _more_to_say(c, j),
        "by_name": bool(c.expected), **(c.facts or {}),
    }  # fmt: skip
    return Finding(
        (*c.about, one.name),
        j.verdict,
        j.grade,
        j.reason,
        said,
        j.forecast,
        c.design.unit,
        compared,
        facts,
        confounders=c.others,
    )


def _more_to_say(c: Comparison, j: JudgedRow) -> bool:
    """Whether a row of the picture leaves out what matters: units that disagree or differ, or an order that counts."""
    order = order_matters(c, j.held)
    apart = j.verdict in (ROSE, FELL) and (
        not agree(c.design, j.held) or stands_out(c.design, j.held) is not None
    )
    return apart or (order is not None and order <= _ORDER)


def _by_order(c: Comparison, one: Held, unit: str) -> dict[str, Number]:
    """The mean change of units that had the first side first, and of the others, where both can be asked."""
    if c.first_first is None or order_matters(c, one) is None:
        return {}
    first, change = c.first_first[one.pairs], (one.second - one.first)[one.pairs]
    return {
        "first_first": Number(float(change[first].mean()), unit),
        "second_first": Number(float(change[~first].mean()), unit),
    }


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _unit(one: Held) -> str:
    if one.what == CONDITION:
        return unit_of(one.name)
    return "share" if one.what in SHARES else "1/h"


def row_of(c: Comparison, j: JudgedRow, adjustment: str | None, sessions: tuple[int, int]) -> dict[str, Any]:
    """The row of the table."""
    one = j.held
    return {
        "adjustment": adjustment, "compared": f"{c.names[0]} → {c.names[1]}", "what": one.what,
        "name": None if one.what == ZONE else one.name, "zone": one.name if one.what == ZONE else None,
        "before": one.test.before, "after": one.test.after, "change": one.test.change,
        "change_low": _finite(j.limits[0]), "change_high": _finite(j.limits[1]), "p": one.test.p,
        "p_holm": j.adjusted, "n_eff": float(sum(c.design.counts)) / (2 if c.design.kind == PAIRS else 1),
        "df": None, "se": one.test.se, "nap": one.nap, "sessions_before": sessions[0], "sessions_after": sessions[1],
    }  # fmt: skip
