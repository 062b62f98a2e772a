"""The change of some against the change of others left alone over the same time: before, after, control, impact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....stats.resampling import exchanged, least_exchanged, nap
from ....study import fault
from ...effort import LEFT_ALONE
from ...question import Question
from .design import GROUPS, PAIRS, Design
from .held import Held


def left_alone(
    question: Question, rows: pd.DataFrame, design: Design, names: Sequence[str]
) -> NDArray[np.bool_]:
    """For each unit whether it is one of the controls: enclosures or animals by name, or those under a treatment.

    Raises ProblemError where a name is none of these, or where nobody (or everybody) is a control.
    """
    found = np.zeros(len(design.names), bool)
    known = pd.Series(design.of[design.of >= 0])
    treated = rows["treatment"][design.of >= 0].reset_index(drop=True)
    labels = {t.label: t.id for t in question.declared.treatments.values()}
    for name in names:
        own = np.array([one == name for one in design.names])
        under = (treated == labels.get(name, name)).fillna(False)
        whole = under.groupby(known).all()
        if not own.any() and not under.any():
            there = dict.fromkeys([*treated.dropna(), *design.names])
            raise fault(
                "unknown-id", "--controls", "", f"{name!r} is no treatment, and no {design.unit} with both sides",
                f"one of {', '.join(map(str, there))}",
            )  # fmt: skip
        found |= own
        found[whole.index[whole.to_numpy()].to_numpy(np.int64)] = True
    if found.all() or not found.any():
        raise fault(
            "controls", "--controls", "", f"{int(found.sum())} of {found.size} {design.unit}s are controls",
            "some of them, and some that are not",
        )  # fmt: skip
    return found


def beside(
    design: Design, every: Sequence[Held], control: NDArray[np.bool_], *, draws: int, seed: int
) -> tuple[Design, list[Held]]:
    """The comparison of changes: units held against themselves become units of two groups, their changes the values.

    Labels (control or not) are exchanged over all units: what changed for all alike, as a season does, takes no part
    (difference in differences by randomization; Fisher 1935 for the exchange).
    """
    least = least_exchanged(int(control.sum()), int((~control).sum()))
    found = []
    for one in every:
        change = one.second - one.first
        known = ~np.isnan(change)
        if min(control[known].sum(), (~control)[known].sum()) < 2 or not np.ptp(change[known]) > 0:
            continue
        first, second = np.where(control, change, np.nan), np.where(control, np.nan, change)
        test = exchanged(change[known], ~control[known], draws=draws, seed=seed)
        middle = float(change[known & control].mean())
        # The test's own start is of shares; here both are changes.
        test = replace(test, before=middle, after=middle + test.change)
        overlap = nap(first[known & control], second[known & ~control]).nap
        found.append(replace(one, first=first, second=second, test=test, nap=overlap))
    whole = replace(design, kind=GROUPS, because=LEFT_ALONE, late=~control, least=least)
    return whole, found


def can_be(design: Design) -> bool:
    """Whether changes can be compared at all: units that were there on both sides."""
    return design.kind == PAIRS and len(design.names) > 1
