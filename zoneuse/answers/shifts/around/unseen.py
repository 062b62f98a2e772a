"""Moments in which nobody was found, before a change and after it: what they could turn, and whether they did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....stats.arrays import Floats
from ....stats.resampling import permute_phases
from ....tables import Adjustment
from ...finding import Caution
from ...records.budgets import tells_of_no_place
from ...watched import found_apart, other_hands
from ..phases import Sides


@dataclass(frozen=True, slots=True)
class FoundByUnit:
    """Moments by unit: ``counts`` (units x places) found, ``missing`` (units,) looked for and not found.

    ``before`` and ``after`` are the mean parts of moments in which somebody was found; ``differs`` where they do
    so more than by luck.
    """

    counts: Floats
    missing: Floats
    before: float
    after: float
    differs: bool


def seen_of(found: Sides, places: Sequence[str], draws: int, seed: int) -> FoundByUnit | None:
    """How much was found on each side; None with fewer than two units on one."""
    if not len(found.late) or min(found.counts) < 2:
        return None
    weight = found.rows["weight"].to_numpy(float)
    place = found.rows["place"].map({name: i for i, name in enumerate(places)})
    there = place.notna().to_numpy()
    counts = np.zeros((len(found.late), len(places)))
    np.add.at(counts, (found.unit[there], place[there].to_numpy(int)), weight[there])
    lost = ~there & ~tells_of_no_place(found.rows).to_numpy()
    missing = np.bincount(found.unit[lost], weight[lost], len(found.late))
    looked = counts.sum(axis=1) + missing > 0
    late, slot = found.late[looked], found.slot[looked]
    if min(late.sum(), (~late).sum()) < 2:
        return None
    part = counts.sum(axis=1)[looked] / (counts.sum(axis=1) + missing)[looked]
    before, after = float(part[~late].mean()), float(part[late].mean())
    differs = found_apart(part, late, slot, draws, seed)
    return FoundByUnit(counts, np.asarray(missing, np.float64), before, after, differs)


def stands_unseen(
    found: Sides, seen: FoundByUnit, place: int, *, level: float, draws: int, seed: int
) -> bool:
    """Whether a change of one place still stands with what more was missed on one side counted against it.

    Only the excess counts: as many moments as the side that was seen less misses more than the other would.
    """
    if not seen.differs:
        return True
    lost = 1 - seen.before, 1 - seen.after
    side = found.late if lost[1] > lost[0] else ~found.late
    excess = (max(lost) - min(lost)) / max(lost)
    extra = np.where(side, seen.missing * excess, 0.0)
    total = seen.counts.sum(axis=1) + extra
    known = total > 0
    share = seen.counts[:, place][known] / seen.counts.sum(axis=1)[known].clip(1e-12)
    late = found.late[known]
    rose = share[late].mean() > share[~late].mean()
    # Against a rise: the missed ones were here before, or elsewhere after; against a fall the other way round.
    here = rose != (lost[1] > lost[0])
    against = (seen.counts[:, place] + (extra if here else 0.0))[known] / total[known]
    still = permute_phases(against[:, None], late, found.slot[known], draws=draws, seed=seed)
    return float(still.p[0]) <= level and bool(still.change[0] > 0) == bool(rose)


def bounds_part(
    change: Adjustment, found: Sides, seen: FoundByUnit | None, places: Sequence[str]
) -> list[dict[str, Any]]:
    """Each place before and after with every unseen moment elsewhere, and there."""
    if seen is None:
        return []
    total = np.maximum(seen.counts.sum(axis=1) + seen.missing, 1e-12)
    told = []
    for i, place in enumerate(places):
        row: dict[str, Any] = {"adjustment": change.id, "zone": place}
        for name, side, part in (("before", ~found.late, seen.before), ("after", found.late, seen.after)):
            low = seen.counts[side, i] / total[side]
            row |= {f"{name}_low": float(low.mean()), f"seen_{name}": part}
            row[f"{name}_high"] = float((low + seen.missing[side] / total[side]).mean())
        told.append(row)
    return told


def watched_alike(name: str, found: Sides, seen: FoundByUnit | None) -> list[Caution]:
    """What differed in the watching: found less or more often, by another observer, by another method."""
    told = []
    if seen is not None and seen.differs:
        less = seen.after < seen.before
        told.append(
            Caution(
                "seen-differs",
                f"{name}: somebody was found in {100 * seen.before:.0f} % of looks before it and "
                f"{100 * seen.after:.0f} % after, so a {'lower' if less else 'higher'} share may be only that.",
            )
        )
    late = found.late[found.unit] if len(found.late) else np.zeros(0, bool)
    if not late.any() or late.all():
        return told
    for column, code, what in (
        ("observer", "observer-changed", "watched by"),
        ("method", "method-changed", "by"),
    ):
        if column in found.rows and (says := _other_hands(found.rows[column], late, what)):
            told.append(Caution(code, f"{name}: {says}"))
    return told


def _other_hands(names: pd.Series, late: NDArray[np.bool_], what: str) -> str:
    """Who watched before and after (or how), where that is another for the most part; else nothing."""
    found = other_hands(names, late)
    if found is None:
        return ""
    before, after, mostly = found
    some = "mostly " if mostly else ""
    return f"{some}{what} {before} before it and {some}{after} after."
