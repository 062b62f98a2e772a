"""What an answer rests on: the units that count as independent, and how much watching stands behind them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..journal import Entry, Journals

CLUSTERS = ("session", "day", "moment", "animal", "enclosure")

ASKED, SESSIONS, SEVERAL_A_DAY, TRIED_ALONE = "asked", "one_a_day", "several_a_day", "tried_alone"
LEFT_ALONE = "left_alone"
ENOUGH_ENCLOSURES, TOO_FEW_ENCLOSURES, TOO_FEW_ANIMALS = "enough_enclosures", "few_enclosures", "few_animals"
# Why a unit counts once, as it is said.
BECAUSE: dict[str, str] = {
    ASKED: "as asked",
    SESSIONS: "one session a day",
    SEVERAL_A_DAY: "sessions on the same day are not independent",
    TRIED_ALONE: "each was tested on its own",
    ENOUGH_ENCLOSURES: "there are enough of them for a fair test",
    TOO_FEW_ENCLOSURES: "there are too few enclosures for a fair test between them",
    LEFT_ALONE: "the change in those left alone is subtracted",
    TOO_FEW_ANIMALS: "there are too few animals for a fair test between them",
}
# From so many animals tried by themselves on, the animal is the unit of a share.
_LEAST_ALONE = 5
# One that was seen so often before the next one's turn came was tried by itself, whatever a table calls a session.
_LEAST_TURN = 2


def names_of(moments: pd.DataFrame, unit: str) -> pd.Series:
    """Each moment's animal (or group), or enclosure; missing for one of them, not known which."""
    found: pd.Series = (
        moments["enclosure"] if unit == "enclosure" else moments["animal"].fillna(moments["group"])
    )
    return found


def tried_alone(moments: pd.DataFrame) -> bool:
    """Whether each session is about one animal, and an enclosure has seen several: a test chamber, say.

    A table of scans that names no sessions may hold several trials in one: then each animal has its turn, and is
    over before the next begins.
    """
    if not len(moments) or moments["animal"].isna().any():
        return False
    if moments.groupby("enclosure")["animal"].nunique().max() < 2:
        return False
    return not several_in_a_session(moments) or bool(
        (moments["method"] == "scan").all() and _in_turn(moments)
    )


def several_in_a_session(moments: pd.DataFrame) -> bool:
    """Whether a session of one enclosure is about more than one animal."""
    return bool(moments.groupby(["session", "enclosure"])["animal"].nunique().max() > 1)


def _in_turn(moments: pd.DataFrame) -> bool:
    """Whether the animals of each session and enclosure were looked at one after the other, each more than once."""
    turns = moments.groupby(["session", "enclosure", "animal"])["at"].agg(["min", "max", "nunique"])
    if turns["nunique"].min() < _LEAST_TURN:
        return False
    turns = turns.reset_index().sort_values(["session", "enclosure", "min"])
    before = turns.groupby(["session", "enclosure"])["max"].shift()
    return bool((before.isna() | (turns["min"] > before)).all())


def usual_cluster(moments: pd.DataFrame) -> tuple[str, str]:
    """The unit of evidence, and why.

    Animals tried one by one are units (sessions where they are fewer than five and each has sessions of its own);
    days where an enclosure has several sessions a day, which share the day's mood; else sessions.
    """
    if tried_alone(moments):
        few = moments["animal"].nunique() < _LEAST_ALONE and not several_in_a_session(moments)
        return ("session", TOO_FEW_ANIMALS) if few else ("animal", TRIED_ALONE)
    per_day = moments.groupby(["enclosure", "day"])["session"].nunique()
    several = len(per_day) and per_day.max() > 1
    return ("day", SEVERAL_A_DAY) if several else ("session", SESSIONS)


def unit_codes(moments: pd.DataFrame, cluster: str) -> NDArray[np.int64]:
    """A number per row for the independent unit it belongs to, in order of time (looks apart by enclosure)."""
    if cluster == "moment":
        return np.arange(len(moments), dtype=np.int64)
    if cluster in ("animal", "enclosure"):
        # Of one that is not known which, each session is one of its own.
        keys = names_of(moments, cluster).fillna("\x1f" + moments["session"].astype(str)).astype(str)
    else:
        keys = moments["enclosure"].astype(str) + "\x1f" + moments[cluster].astype(str)
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
    because: str = ASKED

    def to_dict(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in self.__slots__}


def once_said(did: Effort) -> str:
    """``Each animal counts once: each was tested on its own``."""
    ending = f", {BECAUSE[ASKED]}" if did.because == ASKED else f": {BECAUSE[did.because]}"
    return f"Each {did.cluster} counts once{ending}"


def effort(moments: pd.DataFrame, journals: Journals, cluster: str, because: str = ASKED) -> Effort:
    """Counts over the rows an answer looks at; ``missed`` answers are of the same sessions, and were not given late."""
    sessions = set(moments["session"])
    missed = _missed(journals, sessions)
    # A time budget is no moment, and what it leaves open is nobody unseen.
    moment = moments["out"] == ""
    seen, weight = moments["zone"].notna(), moments["weight"]
    return Effort(
        sessions=len(sessions),
        days=moments["day"].nunique(),
        animals=moments["animal"].nunique() + moments["group"].nunique(),
        moments=int(weight[seen & moment].sum()),
        unseen=int(weight[~seen & moment].sum()),
        missed=missed,
        guesses=int((~moments["sure"] & seen).sum()),
        cluster=cluster,
        units=len(set(unit_codes(moments, cluster))),
        because=because,
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
