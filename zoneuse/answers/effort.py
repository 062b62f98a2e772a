"""What an answer rests on: the units that count as independent, and how much watching stands behind them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..journal.fold import Entry
from ..journal.reader import Journals

CLUSTERS = ("session", "day", "moment")


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
    """Counts over the rows an answer looks at; ``missed`` answers are of the same sessions, and were not given late."""
    sessions = set(moments["session"])
    missed = _missed(journals, sessions)
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


def _missed(journals: Journals, sessions: set[str]) -> int:
    """Answers that were missed and never given: what was answered late is there."""

    def about(entry: Entry) -> tuple[str, int | None, str | None]:
        return (
            entry.session,
            entry.record.get("scan"),
            entry.record.get("animal") or entry.record.get("group"),
        )

    missed = {about(entry) for entry in journals.entries("missed") if entry.session in sessions}
    if not missed:
        return 0
    of_these = {session for session, _, _ in missed}
    given = {about(entry) for entry in journals.entries("seen", "unseen") if entry.session in of_these}
    return len(missed - given)
