"""Which part of a study an answer looks at: animals, times, a time of day, behaviours, treatments, phases."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import pandas as pd

from ..study import (
    ANY_TIME,
    SLOTS,
    Declaration,
    Phase,
    UnknownNameError,
    fault,
    find_behaviour,
    find_phase,
    find_treatment,
    find_who,
)
from ..tables import in_phase


@dataclass(frozen=True, slots=True)
class Filters:
    """Which moments an answer looks at; an empty field leaves all in. ``animals`` may name groups."""

    animals: tuple[str, ...] = ()
    since: datetime | None = None
    until: datetime | None = None
    slot: str | None = None
    behaviours: tuple[str, ...] = ()
    treatments: tuple[str, ...] = ()
    phases: tuple[Phase, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Plain values; what was not asked for is an empty list or None."""
        return {
            "animals": list(self.animals), "since": self.since and self.since.isoformat(),
            "until": self.until and self.until.isoformat(), "slot": self.slot, "behaviours": list(self.behaviours),
            "treatments": list(self.treatments), "phases": [phase.id for phase in self.phases],
        }  # fmt: skip


def make_filters(
    declared: Declaration,
    *,
    animals: Sequence[str] | str | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
    slot: str | None = None,
    behaviours: Sequence[str] | str | None = None,
    treatments: Sequence[str] | str | None = None,
    phases: Sequence[str] | str | None = None,
) -> Filters:
    """Filters by ids, keys or labels. Raises ProblemError where something named is not in the study."""
    try:
        who = tuple(find_who(declared, name).id for name in _several(animals))
        done = tuple(find_behaviour(declared, name).id for name in _several(behaviours))
        under = tuple(find_treatment(declared, name).id for name in _several(treatments))
        during = tuple(find_phase(declared, name) for name in _several(phases))
    except UnknownNameError as error:
        raise fault("unknown-id", "filters", "", str(error)) from None
    if slot is not None and slot not in (*SLOTS, ANY_TIME):
        raise fault("slot", "filters", "slot", f"found {slot!r}", "one of " + ", ".join(SLOTS))
    return Filters(who, since, until, slot, done, under, during)


def _several(names: Sequence[str] | str | None) -> Sequence[str]:
    if names is None:
        return ()
    if not isinstance(names, str):
        return names
    some = [n for n in names.split(",") if n.strip()]
    if not some:
        # A script's empty variable must not become "everybody".
        raise UnknownNameError(f"{names!r} names nobody; give an id, or leave the option out for all")
    return some


def inside(rows: pd.DataFrame, filters: Filters) -> pd.Series:
    """Which rows of `moments` or `records` lie inside the filters."""
    keep = pd.Series(True, rows.index)
    if filters.animals:
        keep &= rows["animal"].isin(filters.animals) | rows["group"].isin(filters.animals)
    if filters.since is not None:
        keep &= rows["at"] >= pd.Timestamp(filters.since)
    if filters.until is not None:
        keep &= rows["at"] < pd.Timestamp(filters.until)
    if filters.slot is not None:
        keep &= rows["slot"] == filters.slot
    if filters.behaviours:
        keep &= rows["behaviour"].isin(filters.behaviours)
    if filters.treatments:
        keep &= rows["treatment"].isin(filters.treatments)
    if filters.phases:
        within = pd.Series(False, rows.index)
        for phase in filters.phases:
            within |= in_phase(phase, rows)
        keep &= within
    return keep


def select(moments: pd.DataFrame, filters: Filters) -> pd.DataFrame:
    """The rows of `moments` an answer may count: inside the filters, and not kept out of shares."""
    return moments[(moments["out"] == "") & inside(moments, filters)].reset_index(drop=True)
