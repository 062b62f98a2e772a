"""What makes a comparison stronger or weaker: untouched enclosures, a start out of a bad spell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...study.model import Declaration
from ...tables.availability import places_of
from ...tables.phases import Adjustment
from ..question import Question
from .moved import Moved, moved_shares
from .phases import Sides, Windows, shares_by_unit, sides

# The last sessions before a change, and how many deviations from the earlier ones make them a spell.
_LAST, _EXTREME = 3, 1.5


def against_controls(
    question: Question, change: Adjustment, moved: Sequence[Moved], others: pd.DataFrame, seen: Windows
) -> list[dict[str, Any]]:
    """Difference of differences against enclosures left as they were (before-after-control-impact).

    Descriptive: which enclosures were changed was not drawn by lot.
    """
    if not len(others):
        return []
    found = sides(others, seen, question.unit)
    if not len(found.late) or min(found.counts) < 2:
        return []
    places = places_of(question.declared)
    still = {m.name: m for m in moved_shares(found, "zone", "place", places, draws=199, seed=question.seed)}
    told = []
    for m in moved:
        if m.what == "zone" and m.name in still:
            control = still[m.name]
            change_here, change_there = m.after - m.before, control.after - control.before
            apart = change_here - change_there
            low = apart - float(np.hypot(change_here - m.low, control.high - change_there))
            high = apart + float(np.hypot(m.high - change_here, change_there - control.low))
            told.append({"adjustment": change.id, "zone": m.name, "change": change_here, "controls": change_there,
                         "difference": apart, "low": low, "high": high})  # fmt: skip
    return told


def out_of_a_spell(
    declared: Declaration, found: Sides, change: Adjustment, labels: Mapping[str, str]
) -> list[str]:
    """Changed or expected zones whose last sessions before the change were extreme: such spells end by themselves."""
    before = np.flatnonzero(~found.late)
    before = before[np.argsort(found.at[before], kind="stable")]
    earlier, last = before[:-_LAST], before[-_LAST:]
    if len(earlier) < 4:
        return []
    places = places_of(declared)
    shares = shares_by_unit(found, "place", places)
    zones = [*(str(e.get("zone")) for e in change.expects), *change.zones]
    told = []
    for place in dict.fromkeys(declared.zones[z].place for z in zones if z in declared.zones):
        column = shares[:, places.index(place)]
        usual, spread = float(np.nanmean(column[earlier])), float(np.nanstd(column[earlier], ddof=1))
        now = float(np.nanmean(column[last]))
        if spread > 0 and abs(now - usual) > _EXTREME * spread:
            told.append(
                f"{change.id}: in the last {_LAST} sessions before it, {labels.get(place, place)} was at "
                f"{100 * now:.0f} % against {100 * usual:.0f} % before: "
                "unusual spells go back by themselves, change or not."
            )
    return told
