"""A change whose day was drawn by lot: the one test that needs nothing of the days, exact over all allowed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from ....journal import Journals
from ....stats.choice import start_point_test
from ....study import study_day
from ....tables import Adjustment
from ...finding import Caution
from ...phrases import change_said
from ...question import Question
from ..phases import Sides, Windows, shares_by_unit


@dataclass(frozen=True, slots=True)
class Lot:
    """The sealed draw of a change: every day it could have been, and the one it was."""

    days: tuple[date, ...]
    day: date


def lot_of(journals: Journals, change: Adjustment) -> Lot | None:
    """The draw that was sealed first; a second one for the same change would be a choice among lots."""
    sealed = [e.record for e in journals.entries("drawn") if e.record.get("adjustment") == change.id]
    if not sealed:
        return None
    first = min(sealed, key=lambda record: record.at)
    days = tuple(date.fromisoformat(str(d)) for d in first.get("days"))
    return Lot(days, date.fromisoformat(str(first.get("day"))))


def not_as_drawn(question: Question, change: Adjustment) -> list[Caution]:
    """A caution where the change was not made on the day the lot had fallen on: then the lot tests nothing."""
    lot = lot_of(question.journals, change)
    if lot is None or study_day(question.declared, change.at) == lot.day:
        return []
    name = change_said(change, question.declared.timezone)
    says = f"{name}: the day drawn was {lot.day.day} {lot.day:%b %Y}, but it was made on another: not tested by lot."
    return [Caution("not-as-drawn", says)]


def lottery_p(
    question: Question, change: Adjustment, rows: pd.DataFrame, seen: Windows,
    families: Sequence[tuple[str, str, list[str]]],
) -> dict[tuple[str, str], float]:  # fmt: skip
    """Exact p of each share over all days the change could have been made; days of settling count as after it.

    Empty where no day was drawn, or the change was made on another. ``rows`` are the moments of the enclosures
    concerned.
    """
    lot = lot_of(question.journals, change)
    if lot is None or lot.day not in lot.days or study_day(question.declared, change.at) != lot.day:
        return {}
    series = _series(rows, seen, question.unit)
    if series is None:
        return {}
    starts = np.array([(change.at + (d - lot.day)).timestamp() for d in lot.days])
    told: dict[tuple[str, str], float] = {}
    for what, column, names in families:
        shares = shares_by_unit(series, column, names)
        known = ~np.isnan(shares).any(axis=1)
        if not known.any():
            continue
        # The slots' own levels are taken off once, over the whole series: the same for every start.
        values = shares[known].copy()
        for slot in np.unique(series.slot[known]):
            inside = series.slot[known] == slot
            values[inside] -= values[inside].mean(axis=0)
        found = start_point_test(values, series.at[known], starts, lot.days.index(lot.day))
        told |= {(what, name): float(p) for name, p in zip(names, found.p, strict=True)}
    return told


def _series(rows: pd.DataFrame, seen: Windows, cluster: str) -> Sides | None:
    """All units from the last settled change to the next one, those of the settling too; ``at`` in seconds."""
    inside = pd.Series(True, index=rows.index)
    if seen.before[0] is not None:
        inside &= rows["at"] >= pd.Timestamp(seen.before[0])
    if seen.after[1] is not None:
        inside &= rows["at"] < pd.Timestamp(seen.after[1])
    part = rows[inside].sort_values("at", kind="stable", ignore_index=True)
    if not len(part):
        return None
    slot = part["enclosure"] + "\x1f" + part["slot"]
    unit = np.asarray(pd.factorize(slot + "\x1f" + part[cluster].astype(str))[0], np.int64)
    first = np.unique(unit, return_index=True)[1]
    at = np.array([t.timestamp() for t in part["at"].iloc[first]])
    code = np.asarray(pd.factorize(slot)[0], np.int64)[first]
    return Sides(part, unit, np.zeros(first.size, bool), code, at, ())
