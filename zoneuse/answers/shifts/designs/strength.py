"""What makes a comparison stronger or weaker: untouched enclosures, a start out of a bad spell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....study import Declaration
from ....tables import Adjustment, places_of
from ...phrases import change_said
from ...question import Question
from ..moved import Moved, moved_shares
from ..phases import Sides, Windows, shares_by_unit, sides

# So many last sessions before a change are ranked among earlier spells as long, of which there must be enough.
_LENGTHS, _LEAST_SPELLS = (3, 5), 4


# Means nearer than this are alike.
_SAME = 1e-9
# The spell whose end looks like what was expected: a low one before a rise.
_SIDE_OF = {"up": -1, "down": 1}


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
    """Changed or expected zones whose last sessions before the change were extreme: such spells end by themselves.

    Of a zone expected to rise only a low spell counts, of one expected to fall a high one: the end of another would
    look like no answer.
    """
    before = np.flatnonzero(~found.late)
    before = before[np.argsort(found.at[before], kind="stable")]
    places = places_of(declared)
    shares = shares_by_unit(found, "place", places)
    expected = {str(e.get("zone")): _SIDE_OF.get(str(e.get("direction")), 0) for e in change.expects}
    sides = {**dict.fromkeys(change.zones, 0), **expected}
    told = []
    for place, side in {declared.zones[z].place: s for z, s in sides.items() if z in declared.zones}.items():
        column = shares[before, places.index(place)]
        length = _most_extreme(column, side)
        if length:
            now, usual = float(np.nanmean(column[-length:])), float(np.nanmean(column[:-length]))
            told.append(
                f"{change_said(change, declared.timezone)}: in the last {length} sessions before it, "
                f"{labels.get(place, place)} had {100 * now:.0f} % of the time against {100 * usual:.0f} % earlier, "
                f"more extreme than any {length} sessions before. Such spells often end by themselves, change or not."
            )
    return told


def _most_extreme(column: NDArray[np.float64], side: int) -> int:
    """How many of the last values, if any, lie further out together than all earlier runs as long; else 0.

    ``side``: -1 below them, 1 above them, 0 either.
    """
    for length in _LENGTHS:
        # Ranks among runs of the same length: one bad evening earlier does not hide a bad spell.
        runs = (
            np.lib.stride_tricks.sliding_window_view(column, length)
            if column.size >= length
            else column[:0, None]
        )
        earlier = runs[: max(len(runs) - length, 0)]
        if len(earlier) < _LEAST_SPELLS or np.isnan(runs).all(axis=1).any():
            continue
        now, past = float(np.nanmean(runs[-1])), np.nanmean(earlier, axis=1)
        if (side <= 0 and now < past.min() - _SAME) or (side >= 0 and now > past.max() + _SAME):
            return length
    return 0
