"""A change on record by animals or enclosures: each before it against itself after it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from ....tables import Adjustment, places_of
from ...effort import tried_alone
from ...finding import Confounder
from ...phrases import within_said
from ...question import Question
from ..around.background import edits
from ..confounders import confounders
from ..designs.controls import concerning, rows_of_change
from ..expected import expectations
from ..phases import sides, windows
from .asked import TwoSides
from .design import design_of

_WHOLE = ("animal", "enclosure")


def looks_of(question: Question) -> Question:
    """The question by sessions, or by days where an enclosure has several a day, whatever else may count once."""
    if question.unit in ("session", "day"):
        return question
    per_day = question.rows.groupby(["enclosure", "day"])["session"].nunique()
    several = len(per_day) and per_day.max() > 1 and not tried_alone(question.rows)
    return question.by("day" if several else "session")


def sides_of_units(
    looks: Question, per: str | None, changes: Sequence[Adjustment], change: Adjustment, rows: pd.DataFrame
) -> TwoSides | None:
    """The two sides of a change where animals or enclosures count once (as asked, or as the design has it)."""
    if per not in (None, *_WHOLE):
        return None
    declared = looks.declared
    near = concerning(declared, changes, change)
    seen = windows(near, change)
    touched = rows_of_change(declared, rows, change)
    if per is None and touched["enclosure"].nunique() < 2 and not tried_alone(touched):
        return None
    at = touched["at"]
    before = (at < pd.Timestamp(seen.before[1])).to_numpy(bool, copy=True)
    if seen.before[0] is not None:
        before &= (at >= pd.Timestamp(seen.before[0])).to_numpy(bool)
    after = (at >= pd.Timestamp(seen.after[0])).to_numpy(bool, copy=True)
    if seen.after[1] is not None:
        after &= (at < pd.Timestamp(seen.after[1])).to_numpy(bool)
    keep = before | after
    part, late = touched[keep].reset_index(drop=True), np.asarray(after[keep], bool)
    if not late.any() or late.all():
        return None
    if per is None and design_of(part, late, None, max(len(places_of(declared)), 1)).unit not in _WHOLE:
        return None
    found = sides(touched, seen, looks.unit)
    others: tuple[Confounder, ...] = ()
    if len(found.late):
        others = (*confounders(declared, looks.journals, near, change, found), *edits(declared, near, seen))
    return TwoSides(
        part, late, ("before", "after"), ("before", f"after {within_said(change, declared.timezone)}"),
        (change.id,), change.id,
        expectations(declared, change), others, dated=True,
    )  # fmt: skip
