"""Did a share move: the levels it is held against, the verdict, and what held one back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.intervals import PART_OF_LEVEL, bound_of_held, normal_quantile
from ...stats.resampling import Together, held_together, holm, more_needed, smallest_p_within
from ...stats.special import special
from ...tables import Adjustment
from .. import reasons
from ..finding import TOO_EARLY, Finding, Forecast, Number, numbers, standing
from ..quantities_said import unit as unit_of
from ..zones.judge import AVOIDED, FAVOURED, IN_PROPORTION
from .moved import Moved
from .phases import Sides

ROSE, FELL, HELD, CONFOUNDED = "rose", "fell", "held", "confounded"
# A place that is new or was never entered is told with the words of the zones answer.
VERDICTS = (ROSE, FELL, HELD, TOO_EARLY, CONFOUNDED, AVOIDED, FAVOURED, IN_PROPORTION)
# Above this lag-1 dependence only a start day drawn by lot can settle it.
TOO_DEPENDENT = 0.6
# Of .05 what nobody expected never has less than this much, shared evenly, would give.
ALPHA, LEAST_FOR_REST = 0.05, 0.01


def family(p: Floats, main: NDArray[np.bool_], moved: Sequence[Moved], alpha: float = ALPHA) -> Together:
    """All shares at one level: what was expected (``main``) first, the rest by what that leaves (``held_together``).

    ``p`` are the shares' own chances. ``alpha`` is that of all together, a part of it for what stands always.
    """
    return held_together(p, main, [m.drawn for m in moved], alpha, LEAST_FOR_REST * alpha / ALPHA)


def family_by_lot(
    p: Floats, main: NDArray[np.bool_], comparison: NDArray[np.int64], alpha: float = ALPHA
) -> Together:
    """Of a day drawn by lot among K no p is below 1/K, so what was expected of it keeps the whole level (Holm).

    Rows of one ``comparison`` count once: two places that complete each other.
    """
    adjusted, level = np.empty(p.shape), np.where(main, alpha, 0.0)
    for some in (main, ~main):
        adjusted[some] = holm_once(p[some], comparison[some])
    return Together(adjusted, level, level)


def holm_once(p: Floats, comparison: NDArray[np.int64]) -> Floats:
    """Holm over comparisons, each by the least of its rows' chances."""
    numbers, own = np.unique(comparison, return_inverse=True)
    least = np.full(numbers.size, np.inf)
    np.minimum.at(least, own, p)
    return holm(least)[own]


def verdict_of(
    m: Moved, p: float, level: float, *, held_within: float, by_lot: bool, counts: tuple[int, int]
) -> tuple[str, str]:
    """A verdict, and what held it back.

    ``p`` is over all that is compared, ``level`` what it is held against; ``by_lot``: the day was drawn by lot.
    """
    if p <= level:
        if m.series.lag_one > TOO_DEPENDENT and not by_lot:
            return TOO_EARLY, reasons.NEVER_WITH_THIS_DESIGN
        return (ROSE if m.after > m.before else FELL), ""
    bound = bound_of_held(held_within, m.before, m.after)
    even = m.what in ("zone", "behaviour", "active") and max(abs(m.even_low), abs(m.even_high)) <= bound
    if even and min(counts) >= 5:
        # So alike are the units that even limits widened for it cannot show sameness.
        return (
            (HELD, "") if m.series.lag_one <= TOO_DEPENDENT else (TOO_EARLY, reasons.NEVER_WITH_THIS_DESIGN)
        )
    return TOO_EARLY, reasons.SPREAD


def stands(m: Moved, p: float, level: float, by_lot: bool) -> bool:
    """Whether a claim holds however often one asks, and no other account of the series fits as well as a step.

    ``p`` is that of ``Moved.p_sure`` over all that is compared, ``level`` what that is held against: a part
    (``PART_OF_LEVEL``) of the single look's. Of a day drawn by lot the series need not be asked.
    """
    if p > level:
        return False
    return by_lot or (m.series.steady is not None and m.series.steady.holds)


# So many more units on each side are thought of at most, and this is the chance asked of them.
_MOST_MORE, _CHANCE = 400, 0.8


def more_to_show(m: Moved, level: float, counts: tuple[int, int]) -> Forecast | None:
    """How many more units on each side would probably show a change as large, however often one asks meanwhile.

    ``level`` is that of its own test, of which a claim that stands has its part (``PART_OF_LEVEL``). By the normal
    approximation, its error falling as the shorter side grows (``Moved.se`` knows how far neighbours repeat each
    other). None where nothing changed or nothing varies; ``more`` None where even 400 would hardly do.
    """
    change, fewer = abs(m.after - m.before), min(counts)
    if not (m.se > 0 and np.isfinite(m.se) and change > 0 and fewer > 0):
        return None
    quantile = normal_quantile(1 - PART_OF_LEVEL * level / 2)

    def chance(more: int) -> float:
        return float(special.ndtr(change / (m.se * np.sqrt(fewer / (fewer + more))) - quantile))

    enough = next((more for more in range(1, _MOST_MORE + 1) if chance(more) >= _CHANCE), None)
    return Forecast(enough, chance(enough or _MOST_MORE), _MOST_MORE)


def limits_that_agree(m: Moved, claimed: bool, p: float, level: float) -> tuple[float, float]:
    """Limits of a change over all that is compared: they leave out no change exactly where one is claimed.

    They are the change's own, and where the test of the family says otherwise: with none inside (nothing is claimed),
    or with the end next to none set by the test (test-based limits; Miettinen 1976, Am. J. Epidemiol. 103:226).
    """
    if not claimed:
        return min(m.low, 0.0), max(m.high, 0.0)
    change = m.after - m.before
    reach = normal_quantile(1 - level / 2) / normal_quantile(1 - min(max(p, 1e-12), level) / 2)
    near = abs(change) * max(1 - reach, 1e-3)
    own = m.low if change > 0 else -m.high
    near = min(near, own) if own > 0 else near
    return (near, m.high) if change > 0 else (m.low, -near)


def moved_numbers(m: Moved, p: float, limits: tuple[float, float], found: Sides) -> dict[str, Number]:
    """The numbers of a finding on one share or condition; ``limits`` are those of the family."""
    unit = unit_of(m.name) if m.what == "condition" else "1/h" if m.what in ("event", "moves") else "share"
    named = {
        "before": m.before, "after": m.after, "change": m.after - m.before, "change_low": limits[0],
        "change_high": limits[1], "even_low": m.even_low, "even_high": m.even_high,
        "step_beside_trend": m.series.beside_trend.step,
    }  # fmt: skip
    if m.spells is not None:
        named |= {"own_low": m.low, "own_high": m.high}
    return {name: Number(value, unit) for name, value in named.items()} | numbers(
        p=(p, "chance"), spells=(m.spells, "spells"), n_eff=(m.looks, "looks"), **side_counts(found)
    )


def side_counts(found: Sides) -> dict[str, tuple[float | None, str]]:
    """How much stands on each side of a change."""
    sessions, days, units = (
        (found.sessions(), found.days(), found.counts) if len(found.late) else ((0, 0),) * 3
    )
    return {
        f"{name}_{side}": (counts[k], name)
        for name, counts in (("sessions", sessions), ("days", days), ("units", units))
        for k, side in enumerate(("before", "after"))
    }


def grade_of(found: Sides, holds: bool = True) -> str:
    """The standing that the shorter side bears."""
    return standing(min(found.sessions()), min(found.days()), holds) if len(found.late) else ""


def too_few(change: Adjustment, found: Sides, compared: int, unit: str) -> Finding:
    """So few units that nothing could ever be shown, and how many more of them would be enough."""
    counts = numbers(**side_counts(found))
    facts: dict[str, Any] = {"change": change}
    before, after = found.counts
    if min(before, after) == 0:
        return Finding(
            (change.id,), TOO_EARLY, reason=reasons.ONE_SIDE_SHORT, numbers=counts, unit=unit, compared=compared,
            facts=facts,
        )  # fmt: skip
    counts |= numbers(
        smallest_p=(smallest_p_within(found.late, found.slot), "chance"),
        strata=(len(np.unique(found.slot)), "enclosures and times of day"),
    )
    counts |= _enough(found, "expected", ALPHA - LEAST_FOR_REST) | _enough(found, "all", ALPHA / compared)
    return Finding(
        (change.id,), TOO_EARLY, reason=reasons.CANNOT_BE_TESTED, numbers=counts, unit=unit, compared=compared,
        facts=facts,
    )  # fmt: skip


def _enough(found: Sides, name: str, level: float) -> dict[str, Number]:
    """How many more units on each side of each stratum would let a perfect result pass; nothing where 30 would not."""
    late, slot = found.late, found.slot
    more = more_needed(late, slot, level)
    if not more:
        return {}
    strata = np.unique(slot)
    codes = np.append(slot, np.repeat(strata, 2 * more))
    marks = np.append(late, np.tile(np.arange(2 * more) % 2 == 1, strata.size))
    before, after = found.counts
    return numbers(**{
        f"more_{name}": (more, "units each side"), f"before_{name}": (before + more * strata.size, "units"),
        f"after_{name}": (after + more * strata.size, "units"),
        f"p_{name}": (smallest_p_within(marks, codes), "chance"),
    })  # fmt: skip
