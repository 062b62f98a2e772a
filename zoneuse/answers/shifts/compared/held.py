"""Each measure on both sides, tested as the design allows: values by unit, chance, limits at any level."""

from __future__ import annotations

from dataclasses import dataclass
from math import erfc, sqrt

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....stats.arrays import Floats
from ....stats.intervals import normal_quantile
from ....stats.resampling import Relabelled, exchanged, least_exchanged, least_paired, nap, relabel_pairs
from ...question import Question
from .design import BLOCKS, PAIRS, Design
from .measures import Measure, measures

# So many more units are thought of at most, and this is the chance asked of them.
_MOST_MORE, _CHANCE = 400, 0.8


@dataclass(frozen=True, slots=True)
class Held:
    """One measure: ``first`` and ``second`` are each unit's values on the two sides (NaN on a side it has not).

    ``breaks``: how many units before (negative) or after the sides part the series breaks, if elsewhere.
    """

    what: str
    name: str
    first: Floats
    second: Floats
    test: Relabelled
    nap: float
    breaks: int = 0

    @property
    def pairs(self) -> NDArray[np.bool_]:
        return np.asarray(~np.isnan(self.first) & ~np.isnan(self.second))


def held(
    question: Question, rows: pd.DataFrame, late: NDArray[np.bool_], design: Design, *, draws: int
) -> list[Held]:
    """Every measure that both sides have, by the units of the design."""
    if not design.names:
        return []
    by_slot = design.kind != BLOCKS
    slots, slot = np.unique(rows["slot"].astype(str), return_inverse=True)
    n, k = len(design.names), len(slots) if by_slot else 1
    cell = np.where(
        design.of >= 0, (design.of * 2 + late) * k + (slot if by_slot else 0), -1
    )  # unit, side, slot
    sessions = np.zeros(2 * n * k)
    once = pd.DataFrame({"cell": cell, "session": rows["session"]}).drop_duplicates()
    np.add.at(sessions, once["cell"][once["cell"] >= 0].to_numpy(np.int64), 1.0)
    found = []
    for m in measures(question, rows, cell):
        one = _tested(m, design, sessions.reshape(n, 2, k), draws=draws, seed=question.seed)
        found += [] if one is None else [one]
    return found


def _tested(m: Measure, design: Design, sessions: Floats, *, draws: int, seed: int) -> Held | None:
    n, _, k = sessions.shape

    def shaped(values: Floats) -> Floats:
        return np.pad(values, (0, 2 * n * k - values.size)).reshape(n, 2, k)

    of, among = shaped(m.of), shaped(m.among)
    there = among > 0
    value = np.divide(of, among, out=np.full(of.shape, np.nan), where=there)
    worth = _worth(design, there, sessions)
    total = worth.sum(axis=2)
    mean = np.divide(
        (np.nan_to_num(value) * worth).sum(axis=2), total, out=np.full((n, 2), np.nan), where=total > 0
    )
    first, second = mean[:, 0], mean[:, 1]
    if design.kind == PAIRS:
        both = ~np.isnan(first) & ~np.isnan(second)
        if both.sum() < 2 or not (first[both].any() or second[both].any()):
            return None
        test = relabel_pairs(first[both], second[both], draws=draws, seed=seed)
    else:
        own = np.where(design.late, second, first)
        known = ~np.isnan(own)
        late = design.late[known]
        if min(late.sum(), (~late).sum()) < 2 or not own[known].any():
            return None
        try:
            test = exchanged(own[known], late, design.block[known], draws=draws, seed=seed)
        except ValueError:
            return None
    overlap = nap(first[~np.isnan(first)], second[~np.isnan(second)]).nap
    return Held(m.what, m.name, first, second, test, overlap)


def _worth(design: Design, there: NDArray[np.bool_], sessions: Floats) -> Floats:
    """(units x sides x slots) how much each time of day counts: like with like.

    A unit held against itself: the times it has on both sides, by their sessions; others: the times that all units
    have, alike, or what there is where they have none in common.
    """
    if design.kind == PAIRS:
        n = np.where(there, sessions, 0.0)
        both = np.divide(
            n[:, 0] * n[:, 1], n[:, 0] + n[:, 1], out=np.zeros_like(n[:, 0]), where=n.sum(axis=1) > 0
        )
        return np.asarray(np.stack([both, both], axis=1), np.float64)
    own = np.take_along_axis(there, design.late.astype(int)[:, None, None], axis=1)[:, 0]
    known = own.any(axis=1)
    common = own[known].all(axis=0)
    worth = np.where(there & common, 1.0, 0.0) if common.any() else np.where(there, sessions, 0.0)
    return np.asarray(worth, np.float64)


def more_to_settle(one: Held, design: Design, level: float) -> tuple[int | None, float]:
    """How many more units (pairs, or on each side) would probably show a change as large, and the chance of that.

    None where even 400 would not: the change is too small for its spread. By the normal approximation to the test.
    """
    change, se = abs(one.test.change), one.test.se
    first, second = design.counts
    if not se > 0 or not change > 0:
        return None, 0.0
    chance = 0.0
    for more in range(1, _MOST_MORE + 1):
        if least_with(design, more) > level:
            continue
        grown = np.sqrt(min(first, second) / (min(first, second) + more))
        short = normal_quantile(1 - level / 2) - change / (se * float(grown))
        chance = 0.5 * erfc(short / sqrt(2))
        if chance >= _CHANCE:
            return more, chance
    return None, chance


def least_with(design: Design, more: int) -> float:
    """The smallest p with so many more pairs, or units on each side."""
    first, second = design.counts
    return (
        least_paired(first + more) if design.kind == PAIRS else least_exchanged(first + more, second + more)
    )


def enough_for(design: Design, level: float) -> int | None:
    """How many more pairs, or units on each side, could pass ``level`` at all; None above 400."""
    return next((more for more in range(_MOST_MORE) if least_with(design, more) <= level), None)
