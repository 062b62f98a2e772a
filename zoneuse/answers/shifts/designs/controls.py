"""Several enclosures of one layout: a change made in some of them, the others left alone as controls."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ....stats.arrays import Floats
from ....stats.resampling import ControlImpact, control_impact
from ....study import Declaration
from ....tables import Adjustment, places_of
from ...question import Question
from ..phases import Sides, Windows, shares_by_unit, sides

# An enclosure says something of how it changed from two units on each side on.
_LEAST_UNITS = 2
# Choosing which enclosures were changed is a test where chance alone could come below what is asked of it.
ENOUGH = 0.04


def enclosures_of(declared: Declaration, change: Adjustment) -> set[str]:
    """The enclosures a change was made in; all of them where its zones name none."""
    named = {declared.zones[z].enclosure for z in change.zones if z in declared.zones}
    return named or set(declared.enclosures)


def concerning(declared: Declaration, changes: Sequence[Adjustment], change: Adjustment) -> list[Adjustment]:
    """The changes made in the enclosures of this one: only they begin and end its phases."""
    here = enclosures_of(declared, change)
    return [c for c in changes if enclosures_of(declared, c) & here]


def rows_of_change(
    declared: Declaration, rows: pd.DataFrame, change: Adjustment, elsewhere: bool = False
) -> pd.DataFrame:
    """The moments of the enclosures a change was made in, or of the others, which are its controls."""
    inside = rows["enclosure"].isin(enclosures_of(declared, change))
    found: pd.DataFrame = rows[~inside if elsewhere else inside]
    return found.reset_index(drop=True)


@dataclass(frozen=True, slots=True)
class Controls:
    """Which enclosures were changed and which left alone, and how the shares of both moved."""

    treated: tuple[str, ...]
    left_alone: tuple[str, ...]
    names: tuple[str, ...]
    impact: ControlImpact

    @property
    def tests(self) -> bool:
        """Whether there are enough enclosures for a test; else the difference only describes."""
        return self.impact.smallest_p <= ENOUGH


def controls(
    question: Question, changes: Sequence[Adjustment], change: Adjustment, rows: pd.DataFrame, seen: Windows
) -> Controls | None:
    """How places moved where the change was made against where nothing was; None without a clean control.

    An enclosure with a change of its own in the same time is no control.
    """
    declared, names = question.declared, places_of(question.declared)
    here = enclosures_of(declared, change)
    if not set(rows["enclosure"]) - here:
        return None
    busy = {
        enclosure
        for other in changes
        if other.id != change.id and _inside(other, seen)
        for enclosure in enclosures_of(declared, other)
    }
    found = sides(rows[~rows["enclosure"].isin(busy - here)].reset_index(drop=True), seen, question.unit)
    if not len(found.late):
        return None
    moved = _moved_by_enclosure(found, names)
    known = [e for e in moved if e in here], [e for e in moved if e not in here]
    if not known[0] or not known[1]:
        return None
    order = [*known[0], *known[1]]
    mark = np.array([e in here for e in order])
    impact = control_impact(np.array([moved[e] for e in order]), mark)
    return Controls(tuple(known[0]), tuple(known[1]), tuple(names), impact)


def _inside(other: Adjustment, seen: Windows) -> bool:
    start, end = seen.before[0], seen.after[1]
    return (start is None or other.settled > start) and (end is None or other.at < end)


def _moved_by_enclosure(found: Sides, names: Sequence[str]) -> dict[str, Floats]:
    """After minus before of each place in each enclosure, like with like by slot."""
    shares = shares_by_unit(found, "place", names)
    first = pd.Series(np.arange(len(found.unit))).groupby(found.unit).first().to_numpy(int)
    enclosure = found.rows["enclosure"].to_numpy()[first]
    known = ~np.isnan(shares).any(axis=1)
    moved: dict[str, Floats] = {}
    for name in dict.fromkeys(enclosure):
        own = known & (enclosure == name)
        steps, weights = [], []
        for slot in np.unique(found.slot[own]):
            before, after = (own & (found.slot == slot) & (found.late == late) for late in (False, True))
            if before.any() and after.any():
                steps.append(shares[after].mean(axis=0) - shares[before].mean(axis=0))
                weights.append(1 / (1 / before.sum() + 1 / after.sum()))
        counts = [int((own & (found.late == late)).sum()) for late in (False, True)]
        if steps and min(counts) >= _LEAST_UNITS:
            moved[str(name)] = np.average(steps, axis=0, weights=weights)
    return moved


def tested_part(rows: Sequence[Mapping[str, Any]], found: Controls | None) -> list[dict[str, Any]]:
    """The described differences with how many enclosures stand behind them, and p where there are enough."""
    told = []
    for row in rows:
        tests: dict[str, Any] = {
            "p": None,
            "smallest_p": None,
            "enclosures": None,
            "controls_left_alone": None,
        }
        if found is not None:
            i = found.names.index(row["zone"])
            tests = {
                "p": float(found.impact.p[i]) if found.tests else None, "smallest_p": found.impact.smallest_p,
                "enclosures": len(found.treated), "controls_left_alone": len(found.left_alone),
            }  # fmt: skip
        told.append({**row, **tests})
    return told


def least_p(found: Controls | None, name: str) -> float:
    """What the expected place's p cannot come below: that of choosing which enclosures were changed."""
    return float(found.impact.p[found.names.index(name)]) if found is not None and found.tests else 0.0


def controls_said(change: str, found: Controls, name: str, labels: Mapping[str, str]) -> str:
    """One sentence: what moved more where the change was made than where it was not."""
    impact, i = found.impact, found.names.index(name)
    limits = (
        f", {100 * impact.low[i]:+.0f} to {100 * impact.high[i]:+.0f}" if np.isfinite(impact.low[i]) else ""
    )
    luck = _luck(impact, i, found.tests)
    return (
        f"{change}: {labels.get(name, name)} moved {100 * impact.changed[i]:+.0f} points in "
        f"{_enclosures(found.treated)} changed and {100 * impact.control[i]:+.0f} in "
        f"{_enclosures(found.left_alone)} left alone: a difference of {100 * impact.difference[i]:+.0f} points"
        f"{limits} ({luck})."
    )


def _luck(impact: ControlImpact, column: int, tests: bool) -> str:
    if tests:
        return f"p {impact.p[column]:.3f} over the {impact.ways:,} ways of choosing which were changed"
    if impact.smallest_p >= 1:
        return "one enclosure of each kind says nothing of chance, so this only describes"
    return f"with so few enclosures at best 1 in {round(1 / impact.smallest_p)} by chance, so this only describes"


def _enclosures(names: Sequence[str]) -> str:
    return f"the {len(names)} enclosure{'' if len(names) == 1 else 's'}"
