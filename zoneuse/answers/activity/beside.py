"""What differed in the watching between the recent sessions and those before: hours, observers, what was seen, whom."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ..effort import names_of, unit_codes
from ..finding import Caution
from ..question import Question
from ..records.budgets import are_budgets
from ..watched import (
    HOURS_APART,
    SLOTS_APART,
    found_apart,
    hours_later,
    mean_hour,
    one_of,
    other_hands,
    whole_sessions,
)
from .tables import shares_of_units

_DRAWS = 999


@dataclass(frozen=True, slots=True)
class Against:
    """Shares (units x behaviours) with what was missed on one side beyond the other: ``low`` where none of it was
    that behaviour, ``high`` where all was; ``recent``: it was missed in the recent sessions."""

    low: Floats
    high: Floats
    recent: bool


@dataclass(frozen=True, slots=True)
class Beside:
    """The moments that can be compared (``known``, with their units' ``shares``), and what else differed.

    ``left_out`` are times of day with sessions on one side only. ``alike`` is false where hours, observer, method or
    the part with a known behaviour differ. ``one`` names the animal that a behaviour's whole change comes from, and of
    how many.
    """

    known: pd.DataFrame
    shares: Floats
    left_out: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    alike: bool = True
    against: Against | None = None
    one: tuple[tuple[str, int] | None, ...] = ()


def beside(question: Question, names: list[str], since: datetime) -> Beside:
    """Recent against before, at the times of day that both have."""
    rows = whole_sessions(question.rows)
    told = rows["behaviour"].isin(names)
    place = rows["enclosure"].astype(str) + "\x1f" + rows["slot"].astype(str)
    late = _late(question, rows, since)
    sides = [set(place[told & side]) for side in (~late, late)]
    both = sides[0] & sides[1]
    alone = sorted({name.split("\x1f")[1] for name in (sides[0] | sides[1]) - both})
    rows = rows[place.isin(both)].reset_index(drop=True)
    known = rows[rows["behaviour"].isin(names)].reset_index(drop=True)
    if not len(known):
        return Beside(known, np.empty((0, len(names))), tuple(alone))
    shares = shares_of_units(known, names, question.unit)
    late = _late(question, known, since)
    missed, against = _missed(question, rows, names, since)
    cautions = [*_hours(known, late), *missed, *_hands(known, late)]
    one = tuple(_ones(question, known, names, since))
    return Beside(known, shares, tuple(alone), tuple(cautions), not cautions, against, one)


def _late(question: Question, rows: pd.DataFrame, since: datetime) -> NDArray[np.bool_]:
    """(moments,) whether the unit each belongs to began among the recent ones."""
    opened = rows["at"].groupby(unit_codes(rows, question.unit)).transform("min")
    return (opened >= pd.Timestamp(since)).to_numpy()


def _hours(rows: pd.DataFrame, late: NDArray[np.bool_]) -> Iterator[Caution]:
    """Times of day watched at other hours, and sessions that lie differently over times of day."""
    for slot, part in rows.groupby("slot", sort=True):
        side = late[rows.index.get_indexer(part.index)]
        hour = part["hour"].to_numpy(float)
        apart = hours_later(mean_hour(hour[~side]), mean_hour(hour[side]))
        if abs(apart) > HOURS_APART:
            yield Caution(
                "hours",
                f"Watched {abs(apart):.1f} h {'later' if apart > 0 else 'earlier'} recently than before ({slot}): the "
                "hour may be what differs.",
            )
    slots = [rows["slot"][side].groupby(rows["session"][side]).first() for side in (~late, late)]
    parts = pd.concat([s.value_counts(normalize=True) for s in slots], axis=1).fillna(0.0)
    if len(parts) > 1 and float((parts.iloc[:, 0] - parts.iloc[:, 1]).abs().max()) > SLOTS_APART:
        counts = ", ".join(
            f"{slot} {int((slots[0] == slot).sum())} before and {int((slots[1] == slot).sum())} recently"
            for slot in parts.index
        )
        yield Caution("slot-balance", f"Times of day lie differently on the two sides (sessions: {counts}).")


def _hands(rows: pd.DataFrame, late: NDArray[np.bool_]) -> Iterator[Caution]:
    for column, code, what in (
        ("observer", "observer-changed", "Watched"),
        ("method", "method-changed", "Recorded"),
    ):
        found = other_hands(rows[column], late) if column in rows else None
        if found is not None:
            before, after, mostly = found
            by = "mostly by" if mostly else "by"
            yield Caution(
                code, f"{what} {by} {before} before and {by} {after} recently: that may be what differs."
            )


def _missed(
    question: Question, rows: pd.DataFrame, names: list[str], since: datetime
) -> tuple[list[Caution], Against | None]:
    """Whether the behaviour is known of another part of the looks, and the shares with the excess counted."""
    told = rows["behaviour"].isin(names).to_numpy()
    unit, weight = unit_codes(rows, question.unit), rows["weight"].to_numpy(float)
    lost = ~told & ~are_budgets(rows).to_numpy()
    known, missing = (np.bincount(unit[w], weight[w], unit.max() + 1) for w in (told, lost))
    first = np.unique(unit, return_index=True)[1][known > 0]
    late = _late(question, rows, since)[first]
    slot = np.asarray(pd.factorize(rows["slot"])[0], np.int64)[first]
    known, missing = known[known > 0], missing[known > 0]
    part = known / (known + missing)
    if min(late.sum(), (~late).sum()) < 2 or not found_apart(part, late, slot, _DRAWS, question.seed):
        return [], None
    before, after = float(part[~late].mean()), float(part[late].mean())
    less = after < before
    says = (
        f"What they did is known of {100 * before:.0f} % of looks before and {100 * after:.0f} % recently, so a "
        f"{'lower' if less else 'higher'} share may be only that."
    )
    excess = abs(after - before) / max(1 - before, 1 - after)
    extra = np.where(late == less, missing * excess, 0.0)[:, None]
    share = shares_of_units(rows[told].reset_index(drop=True), names, question.unit)
    low = share * known[:, None] / (known[:, None] + extra)
    return [Caution("seen-differs", says)], Against(low, low + extra / (known[:, None] + extra), less)


def _ones(
    question: Question, known: pd.DataFrame, names: list[str], since: datetime
) -> Iterator[tuple[str, int] | None]:
    """Of each behaviour the animal that its whole change comes from, of those watched on both sides."""
    unit = question.unit if question.unit in known else "session"
    cell = [names_of(known, "animal").rename("who"), known[unit].rename("unit")]
    hits = known["weight"].groupby([*cell, known["behaviour"].astype(str)]).sum().unstack(fill_value=0)
    shares = hits.reindex(columns=names, fill_value=0).div(known["weight"].groupby(cell).sum(), axis=0)
    late = known["at"].groupby(cell).min() >= pd.Timestamp(since)
    before, after = (shares[side].groupby(level="who", sort=True).mean() for side in (~late, late))
    changes = (after - before).dropna()
    return (one_of({str(who): float(change) for who, change in changes[name].items()}) for name in names)
