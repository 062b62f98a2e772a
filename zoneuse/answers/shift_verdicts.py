"""One share before and after a change, and the word for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..stats.differences import change_of_mean_shares
from ..stats.like_with_like import level_slots
from ..stats.permutation import holm, permute_phases
from ..stats.segmented import Step, ar_step, lag_one_within, trend_explains
from ..stats.single_case import Overlap, log_odds_ratio, nap, tau_u
from .answer import TOO_EARLY
from .shift_phases import Sides, unit_shares

Floats = NDArray[np.float64]
ROSE, FELL, HELD, CONFOUNDED = "rose", "fell", "held", "confounded"
# Above this lag-1 dependence an exchange of units is checked by a step that allows for it; above the next,
# only a start day drawn by lot can settle it.
DEPENDENT, TOO_DEPENDENT = 0.45, 0.6
ALPHA, ALPHA_EXPECTED, ALPHA_REST = 0.05, 0.04, 0.01


@dataclass(frozen=True, slots=True)
class Moved:
    """One share before and after a change, with everything a verdict needs."""

    what: str
    name: str
    before: float
    after: float
    low: float
    high: float
    even_low: float
    even_high: float
    p: float
    nap: Overlap
    tau_u: float
    log_odds: float
    lag_one: float
    trend: bool
    beside_trend: Step


def moved_shares(
    found: Sides, what: str, column: str, names: list[str], draws: int, seed: int
) -> list[Moved]:
    """Each share of a family before and after, over the units in which something was seen."""
    shares = unit_shares(found, column, names)
    known = ~np.isnan(shares[:, 0])
    late, slot, at, shares = found.late[known], found.slot[known], found.at[known], shares[known]
    balanced = [s for s in np.unique(slot) if 0 < late[slot == s].sum() < (slot == s).sum()]
    keep = np.isin(slot, balanced)
    late, slot, at, shares = late[keep], slot[keep], at[keep], shares[keep]
    if min((~late).sum(), late.sum()) < 2:
        return []
    tested = permute_phases(shares, late, slot, draws=draws, seed=seed)
    order = np.argsort(at, kind="stable")
    # What the slots alone explain is taken off, so that change, limits and p speak of the same thing.
    level = level_slots(shares, late, slot)
    sides, even = level.sides, level.series
    (wide, looks_before, looks_after), (close, _, _) = (
        change_of_mean_shares(sides[~late], sides[late], c, slots=level.slots, worth=level.worth)
        for c in (0.95, 0.90)
    )
    # Rounding may leave a share of nothing a hair below zero.
    before, after = (np.clip(sides[m].mean(axis=0), 0, 1).round(12) for m in (~late, late))
    told = []
    for i, name in enumerate(names):
        series, mark = even[order, i], late[order]
        if not shares[:, i].any():
            continue
        dependence = lag_one_within([series[~mark], series[mark]])
        p = float(tested.p[i])
        if dependence > DEPENDENT:
            p = max(p, ar_step(series, mark, min(dependence, 0.9)).p)
        told.append(
            Moved(
                what, name, float(before[i]), float(after[i]), float(wide.low[i]), float(wide.high[i]),
                float(close.low[i]), float(close.high[i]), p, nap(series[~mark], series[mark]),
                tau_u(series[~mark], series[mark]),
                log_odds_ratio(float(before[i]), float(after[i]), looks_before, looks_after),
                dependence, trend_explains(series, int((~mark).sum())) if mark.size > 5 else False,
                ar_step(series, mark, float(np.clip(dependence, 0.0, 0.9)), trend=True),
            )
        )  # fmt: skip
    return told


def family(p: Floats, main: NDArray[np.bool_], drawn: bool = False) -> tuple[Floats, Floats]:
    """Holm within what was expected (.04) and within the rest (.01); over all at .05 where nothing was.

    A day drawn by lot among K can give no p below 1/K, so what was expected of it keeps the whole .05.
    """
    if not main.any():
        return holm(p), np.full(p.shape, ALPHA)
    adjusted = np.empty(p.shape)
    adjusted[main], adjusted[~main] = holm(p[main]), holm(p[~main])
    return adjusted, np.where(main, ALPHA if drawn else ALPHA_EXPECTED, 0.0 if drawn else ALPHA_REST)


def verdict_of(
    m: Moved, p: float, level: float, held_within: float, drawn: bool, counts: tuple[int, int]
) -> tuple[str, str]:
    """A verdict, and what held it back."""
    if p <= level:
        if m.lag_one > TOO_DEPENDENT and not drawn:
            return TOO_EARLY, "dependent"
        return (ROSE if m.after > m.before else FELL), "trend" if m.trend and not drawn else ""
    if max(abs(m.even_low), abs(m.even_high)) <= held_within and min(counts) >= 5:
        # The limits take units as independent: where they are not, sameness is not shown.
        return (HELD, "") if m.lag_one <= DEPENDENT else (TOO_EARLY, "dependent")
    return TOO_EARLY, "spread"
