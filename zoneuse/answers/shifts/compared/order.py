"""What order had to do with it: which side came first, and whether repeating one and the same changes the answer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....stats.resampling import holm, relabel_pairs
from ...question import Question
from .design import GROUPS, PAIRS, Design
from .measures import Measure, measures

# So many animals or enclosures must have repeats for them to be tested; of so many at most the drift is drawn.
_LEAST, _DRAWS = 5, 1_999


def order_of(rows: pd.DataFrame, late: NDArray[np.bool_], design: Design) -> NDArray[np.bool_]:
    """For each unit held against itself, whether it had the first side before the second."""
    mean = _times(rows, late, design).groupby(["unit", "late"])["at"].mean().unstack()
    return np.asarray(mean[False].to_numpy() < mean[True].to_numpy())


def whole_side_first(rows: pd.DataFrame, late: NDArray[np.bool_], design: Design) -> int | None:
    """0 or 1 where all of that side was over, everywhere, before the other began; None where they alternate."""
    when = _times(rows, late, design)
    first, second = (when["at"][when["late"] == side] for side in (False, True))
    if not len(first) or not len(second):
        return None
    if first.max() < second.min():
        return 0
    return 1 if second.max() < first.min() else None


def _times(rows: pd.DataFrame, late: NDArray[np.bool_], design: Design) -> pd.DataFrame:
    known = design.of >= 0
    return pd.DataFrame(
        {"unit": design.of[known], "late": late[known], "at": rows["at"].astype("int64")[known]}
    )


@dataclass(frozen=True, slots=True)
class Drift:
    """How one measure changed from repeat to repeat of one side: its mean change a time, and the chance (Holm)."""

    measure: Measure
    change: float
    p: float


@dataclass(frozen=True, slots=True)
class Repeats:
    """``units`` of which a side was repeated, ``times`` the median number; ``drifts`` of all that was measured."""

    units: int
    times: float
    drifts: tuple[Drift, ...]


def repeats(
    question: Question, rows: pd.DataFrame, late: NDArray[np.bool_], design: Design
) -> Repeats | None:
    """Whether animals (or enclosures) that had a side several times changed from one time to the next.

    Each unit's least-squares slope over its turns, the mean of its sides; slopes turned round by chance (signs, as for
    pairs). None where fewer than five units had a side three times or more.
    """
    if design.kind not in (PAIRS, GROUPS):
        return None
    known = design.of >= 0
    turns = pd.DataFrame(
        {
            "unit": design.of,
            "late": late,
            "session": rows["session"].to_numpy(),
            "at": rows["at"].astype("int64"),
        }
    )[known].groupby(["unit", "late", "session"], sort=False)
    cell = np.full(len(rows), -1, np.int64)
    cell[known] = turns.ngroup()
    each = turns["at"].min().reset_index()
    sides = each.groupby(["unit", "late"])
    whose, unit = np.asarray(sides.ngroup(), np.int64), np.asarray(each["unit"], np.int64)
    turn = sides["at"].rank(method="first").to_numpy()
    number = sides["at"].transform("size").to_numpy()
    often = number >= 3
    if np.unique(unit[often]).size < _LEAST:
        return None
    found = []
    for m in measures(question, rows, cell):
        slopes = _slopes(m, whose, unit, turn, often)
        if len(slopes) >= _LEAST and np.ptp(slopes) > 0:
            test = relabel_pairs(np.zeros(len(slopes)), slopes, draws=_DRAWS, seed=question.seed)
            found.append((m, float(np.mean(slopes)), test.p))
    adjusted = holm([p for _, _, p in found]).tolist() if found else []
    drifts = tuple(Drift(m, change, p) for (m, change, _), p in zip(found, adjusted, strict=True))
    return Repeats(int(np.unique(unit[often]).size), float(np.median(number[often])), drifts)


def _slopes(
    m: Measure, whose: NDArray[np.int64], unit: NDArray[np.int64], turn: NDArray[np.float64], often: NDArray[np.bool_]
) -> NDArray[np.float64]:  # fmt: skip
    """Each unit's mean slope over the turns of its sides."""
    of, among = (np.pad(v, (0, max(whose.size - v.size, 0)))[: whose.size] for v in (m.of, m.among))
    value = np.divide(of, among, out=np.full(of.shape, np.nan), where=among > 0)
    each: dict[int, list[float]] = {}
    for one in np.unique(whose[often]):
        mine = (whose == one) & ~np.isnan(value)
        if mine.sum() >= 3:
            t = turn[mine] - turn[mine].mean()
            each.setdefault(int(unit[mine][0]), []).append(float(t @ value[mine] / (t @ t)))
    return np.array([np.mean(s) for s in each.values()])
