"""What an answer rests on: the moments asked for, the units that count as independent, the effort behind them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..journal.reader import Journals
from ..study.clock import ANY_TIME, SLOTS
from ..study.model import Animal, Declaration, Group
from ..study.names import UnknownNameError, find_behaviour
from ..study.problems import fault

CLUSTERS = ("session", "day", "moment")


@dataclass(frozen=True, slots=True)
class Filters:
    """Which moments an answer looks at; an empty field leaves all in. ``animals`` may name groups."""

    animals: tuple[str, ...] = ()
    since: datetime | None = None
    until: datetime | None = None
    slot: str | None = None
    behaviours: tuple[str, ...] = ()


def make_filters(
    declared: Declaration,
    animals: Sequence[str] | str | None,
    since: datetime | None,
    until: datetime | None,
    slot: str | None,
    behaviours: Sequence[str] | str | None,
) -> Filters:
    """Filters by ids, keys or labels. Raises ProblemError where something named is not in the study."""
    try:
        who = tuple(_who(declared, name) for name in _listed(animals))
        done = tuple(find_behaviour(declared, name).id for name in _listed(behaviours))
    except UnknownNameError as error:
        raise fault("unknown-id", "filters", "", str(error)) from None
    if slot is not None and slot not in (*SLOTS, ANY_TIME):
        raise fault("slot", "filters", "slot", f"found {slot!r}", "one of " + ", ".join(SLOTS))
    return Filters(who, since, until, slot, done)


def _listed(names: Sequence[str] | str | None) -> Sequence[str]:
    if names is None:
        return ()
    return [n for n in names.split(",") if n.strip()] if isinstance(names, str) else names


def _who(declared: Declaration, name: str) -> str:
    everyone: dict[str, Animal | Group] = {**declared.animals, **declared.groups}
    wanted = name.strip()
    found = [
        i
        for i, one in everyone.items()
        if wanted in (i, one.key) or one.label.casefold() == wanted.casefold()
    ]
    if wanted in everyone:
        return wanted
    if len(found) == 1:
        return found[0]
    what = (
        f"could be {' or '.join(found)}"
        if found
        else f"is no animal or group here; known: {', '.join(everyone)}"
    )
    raise UnknownNameError(f"{name!r} {what}")


def select(moments: pd.DataFrame, filters: Filters) -> pd.DataFrame:
    """The rows of `moments` an answer may count: inside the filters, and not kept out of shares."""
    keep = moments["out"] == ""
    if filters.animals:
        keep &= moments["animal"].isin(filters.animals) | moments["group"].isin(filters.animals)
    if filters.since is not None:
        keep &= moments["at"] >= pd.Timestamp(filters.since)
    if filters.until is not None:
        keep &= moments["at"] < pd.Timestamp(filters.until)
    if filters.slot is not None:
        keep &= moments["slot"] == filters.slot
    if filters.behaviours:
        keep &= moments["behaviour"].isin(filters.behaviours)
    return moments[keep].reset_index(drop=True)


def usual_cluster(moments: pd.DataFrame) -> str:
    """Days where an enclosure has several sessions a day (they share the day's mood), else sessions."""
    per_day = moments.groupby(["enclosure", "day"])["session"].nunique()
    return "day" if len(per_day) and per_day.max() > 1 else "session"


def unit_codes(moments: pd.DataFrame, cluster: str) -> NDArray[np.int64]:
    """A number per row for the independent unit it belongs to, in order of time, apart by enclosure."""
    if cluster == "moment":
        return np.arange(len(moments), dtype=np.int64)
    keys = moments["enclosure"].astype(str) + "\0" + moments[cluster].astype(str)
    return np.asarray(pd.factorize(keys)[0], np.int64)


@dataclass(frozen=True, slots=True)
class Effort:
    """How much watching stands behind an answer."""

    sessions: int
    days: int
    animals: int
    moments: int
    unseen: int
    missed: int
    guesses: int
    cluster: str
    units: int

    def to_dict(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in self.__slots__}


def effort(moments: pd.DataFrame, journals: Journals, cluster: str) -> Effort:
    """Counts over the rows an answer looks at; ``missed`` scans are of the same sessions."""
    sessions = set(moments["session"])
    missed = sum(1 for entry in journals.entries("missed") if entry.session in sessions)
    seen = moments["zone"].notna()
    return Effort(
        sessions=len(sessions),
        days=moments["day"].nunique(),
        animals=moments["animal"].nunique() + moments["group"].nunique(),
        moments=int(moments["weight"][seen].sum()),
        unseen=int(moments["weight"][~seen].sum()),
        missed=missed,
        guesses=int((~moments["sure"] & seen).sum()),
        cluster=cluster,
        units=len(set(unit_codes(moments, cluster))),
    )


def counted(number: int, what: str) -> str:
    """``1 session``, ``12 sessions``.

    >>> counted(1, "session"), counted(12, "day")
    ('1 session', '12 days')
    """
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def speaks_for(declared: Declaration, moments: pd.DataFrame) -> str:
    """Whom the result speaks for: these animals in these enclosures, nobody else's."""
    # An id that was recorded and is gone from study.toml still has a name: itself.
    animals = [
        declared.animals[a].label if a in declared.animals else str(a)
        for a in sorted(set(moments["animal"].dropna()))
    ]
    enclosures = moments["enclosure"].nunique()
    if len(animals) == 1 and enclosures == 1 and moments["group"].isna().all():
        return f"This speaks for {animals[0]} in this enclosure, not for others of its kind."
    if enclosures == 1:
        return "Animals of one enclosure share it, so this speaks for this enclosure, not for others."
    return f"This speaks for the animals of these {enclosures} enclosures, not for others of their kind."


def labels_of(declared: Declaration) -> Mapping[str, str]:
    """What ids are called on a screen."""
    from ..tables.offered import place_label, places_of

    labels = {place: place_label(declared, place) for place in places_of(declared)}
    for kind in (declared.animals, declared.groups, declared.behaviours):
        labels.update({i: one.label for i, one in kind.items()})
    return labels
