"""One share, or condition used, before and after a change: limits, chance, and how far neighbours repeat each other."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.intervals import change_of_mean_shares, t_quantile
from ...stats.resampling import (
    Overlap,
    Rearranged,
    TypicalShift,
    adjust_for_strata,
    chances,
    hodges_lehmann,
    log_odds_ratio,
    nap,
    permute_phases,
    spell_change,
    tau_u,
)
from ...stats.time_series import (
    SteadySides,
    Step,
    ar_step,
    lag_one_within,
    pettitt_test,
    steady_sides,
    trend_explains,
    variance_inflation,
)
from .phases import Sides, counts_by_unit, shares_by_unit

# Above this lag-1 dependence an exchange of units is checked by a step that allows for it.
DEPENDENT = 0.45
# Above this one the limits of a change are widened by it (below, its own error would widen them for nothing).
WIDENED = 0.2
# A break that stands out at this level is told.
_BREAK = 0.05


@dataclass(frozen=True, slots=True)
class Moved:
    """One share (or condition used) before and after a change, with everything a verdict needs.

    ``series`` says what a verdict rests on where neighbours repeat each other: ``by_step`` is true where p is that
    of the step that allows for it. ``low`` and ``high`` are its own 95 % limits, ``even_low`` and ``even_high`` the
    90 % ones. ``p_sure`` counts spells of one main place where there is but a hint of them, ``spells`` is how many
    there are (None: not a share). ``looks`` are what each side is worth, ``se`` is the error of the change,
    ``drawn`` the chances its rearrangements would give it.
    """

    what: str
    name: str
    before: float
    after: float
    low: float
    high: float
    even_low: float
    even_high: float
    p: float
    by_step: bool
    p_sure: float
    spells: int | None
    log_odds: float
    looks: float
    se: float
    df: float
    series: UnitSeries
    drawn: Rearranged = field(repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class UnitSeries:
    """The units of a share in order of time: overlap of the sides, dependence, trend, where it breaks."""

    nap: Overlap
    typical: TypicalShift
    tau_u: float
    lag_one: float
    trend: bool
    beside_trend: Step
    breaks_at: float
    steady: SteadySides | None


def moved_shares(
    found: Sides, what: str, column: str, names: list[str], *, draws: int, seed: int
) -> list[Moved]:
    """Each share of a family before and after, over the units in which something was seen."""
    kept = _comparable(found, shares_by_unit(found, column, names))
    if kept is None:
        return []
    late, slot, at, shares = kept.late, kept.slot, kept.at, kept.values
    tested = permute_phases(shares, late, slot, draws=draws, seed=seed)
    # What the slots alone explain is taken off, so that change, limits and p speak of the same thing.
    level = adjust_for_strata(shares, late, slot)
    order = np.argsort(at, kind="stable")
    told = [series_of(level.series[order, i], late[order], at[order]) for i in range(len(names))]
    phi = np.array([s.lag_one if s.lag_one > WIDENED else 0.0 for s in told])
    more = variance_inflation(phi, float((~late).sum())), variance_inflation(phi, float(late.sum()))
    sides = level.sides
    (wide, looks_before, looks_after), (close, _, _) = (
        change_of_mean_shares(
            sides[~late], sides[late], c, slots=level.slots, worth=level.worth, inflation=more
        )
        for c in (0.95, 0.90)
    )
    # Rounding may leave a share of nothing a hair below zero.
    before, after = (np.clip(sides[m].mean(axis=0), 0, 1).round(12) for m in (~late, late))
    spells = spell_change(counts_by_unit(found, column, names)[kept.units][order], late[order], slot[order])
    free = float(max(late.size - level.slots - 1, 1))
    moved, drawn = [], chances(tested.reach)
    for i in np.flatnonzero(shares.any(axis=0)):
        p, by_step = dependent_p(float(tested.p[i]), level.series[order, i], late[order], told[i].lag_one)
        b, a, nb, na = (float(v[i]) for v in (before, after, looks_before, looks_after))
        by_spells, surely = (float(spells.must_agree(sure)[i]) for sure in (False, True))
        moved.append(
            Moved(
                what, names[i], b, a, float(wide.low[i]), float(wide.high[i]), float(close.low[i]),
                float(close.high[i]), max(p, by_spells), by_step,
                max(p, surely), spells.spells,
                log_odds_ratio(b, a, nb, na), nb + na, float(np.sqrt(b * (1 - b) / nb + a * (1 - a) / na)), free,
                told[i], Rearranged(drawn[:, i], kept.units.tobytes()),
            )
        )  # fmt: skip
    return moved


def moved_condition(found: Sides, name: str, values: Floats, draws: int, seed: int) -> Moved | None:
    """The mean of a condition used in each unit, before and after, exchanged within slots as shares are.

    Limits by t from the spread within the sides, wider where neighbours repeat each other.
    """
    kept = _comparable(found, values[:, None])
    if kept is None:
        return None
    late, slot, at, column = kept.late, kept.slot, kept.at, kept.values
    tested = permute_phases(column, late, slot, draws=draws, seed=seed)
    level = adjust_for_strata(column, late, slot)
    order = np.argsort(at, kind="stable")
    series = series_of(level.series[order, 0], late[order], at[order])
    phi = series.lag_one if series.lag_one > WIDENED else 0.0
    parts = [level.sides[~late, 0], level.sides[late, 0]]
    free = max(late.size - level.slots - 1, 1)
    within = sum(float(((part - part.mean()) ** 2).sum()) for part in parts) / free
    error = sum(
        float(variance_inflation(phi, part.size)) / worth
        for part, worth in zip(parts, level.worth, strict=True)
    )
    halves = [t_quantile(0.5 + c / 2, free) * float(np.sqrt(within * error)) for c in (0.95, 0.90)]
    before, after = (float(part.mean()) for part in parts)
    step = after - before
    p, by_step = dependent_p(float(tested.p[0]), level.series[order, 0], late[order], series.lag_one)
    return Moved(
        "condition", name, before, after, step - halves[0], step + halves[0], step - halves[1], step + halves[1],
        p, by_step, p, None, np.nan, float(late.size), float(np.sqrt(within * error)), float(free), series,
        Rearranged(chances(tested.reach)[:, 0], kept.units.tobytes()),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Kept:
    """The units that can be compared: ``units`` marks them among all, the rest is theirs."""

    units: NDArray[np.bool_]
    late: NDArray[np.bool_]
    slot: NDArray[np.int64]
    at: Floats
    values: Floats


def _comparable(found: Sides, values: Floats) -> _Kept | None:
    """Side, slot, time and values of the units with a value, in slots both sides have; None with fewer than two."""
    known = ~np.isnan(values[:, 0])
    late, slot = found.late, found.slot
    balanced = [
        s for s in np.unique(slot[known]) if 0 < late[known & (slot == s)].sum() < (known & (slot == s)).sum()
    ]
    keep = known & np.isin(slot, balanced)
    late = late[keep]
    if min((~late).sum(), late.sum()) < 2:
        return None
    return _Kept(keep, late, slot[keep], found.at[keep], values[keep])


def series_of(values: Floats, late: NDArray[np.bool_], at: Floats) -> UnitSeries:
    """What the order of the units tells: ``values``, ``late`` and ``at`` (units,) in order of time."""
    before, after = values[~late], values[late]
    dependence = lag_one_within([before, after])
    split = pettitt_test(values)
    return UnitSeries(
        nap(before, after),
        hodges_lehmann(before, after),
        tau_u(before, after),
        dependence,
        trend_explains(values, before.size) if late.size > 5 else False,
        ar_step(values, late, float(np.clip(dependence, 0.0, 0.9)), trend=True),
        float(at[split.first]) if split.p <= _BREAK else float("nan"),
        steady_sides(values, late) if min(before.size, after.size) >= 3 else None,
    )


def switch_at(units: int) -> float:
    """The lag-1 dependence from which the step that allows for it must agree: .45 up to 24 units, less for more.

    The dependence of a longer series is known better, so a lower one already tells (its error falls as 1/sqrt(n)).

    >>> switch_at(12), switch_at(24), round(switch_at(40), 2)
    (0.45, 0.45, 0.35)
    """
    return float(np.clip(DEPENDENT * np.sqrt(24 / units), 0.2, DEPENDENT))


def dependent_p(p: float, values: Floats, late: NDArray[np.bool_], dependence: float) -> tuple[float, bool]:
    """Where neighbours repeat each other, the larger of p and that of a step that allows for it, and which."""
    if dependence <= switch_at(values.size):
        return p, False
    step = ar_step(values, late, min(dependence, 0.9)).p
    return max(p, step), step > p
