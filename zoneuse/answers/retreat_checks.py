"""The checks of the retreats: who was found where, at each round, spot check or first scan of a session."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..study.model import Declaration


@dataclass(frozen=True, slots=True)
class Checks:
    """One enclosure's checks in order of time; ``where`` is checks x animals, the column of ``retreats``.

    In ``where`` -1 is not found in a retreat: not found at all, not looked for, or outside the retreats.
    """

    rows: pd.DataFrame
    enclosure: str
    retreats: tuple[str, ...]
    animals: tuple[str, ...]
    where: NDArray[np.int64]


def retreats_of(declared: Declaration) -> tuple[str, ...]:
    """The places with the role ``retreat``, or all where none has that role."""
    zones = list(declared.zones.values())
    listed = [z for z in zones if z.role == "retreat"] if any(z.role == "retreat" for z in zones) else zones
    return tuple(dict.fromkeys(zone.place for zone in listed))


def check_rows(moments: pd.DataFrame) -> pd.DataFrame:
    """The part of `moments` that is a check: whole retreat rounds, and the first scan of each scan session."""
    scans = moments[(moments["method"] == "scan") & moments["scan"].notna()]
    first = scans["scan"] == scans.groupby("session")["scan"].transform("min")
    rounds = moments[moments["method"] == "retreat-round"]
    kept = pd.concat([scans[first], rounds]).sort_values(["at", "session"], kind="stable")
    return kept.reset_index(drop=True)


def checks_by_enclosure(declared: Declaration, rows: pd.DataFrame) -> list[Checks]:
    """Checks x animals for each enclosure, of the animals told apart."""
    retreats = retreats_of(declared)
    column = {place: i for i, place in enumerate(retreats)}
    known = rows[rows["animal"].notna()]
    found = []
    for enclosure, part in known.groupby("enclosure", sort=True):
        sessions, animals = list(dict.fromkeys(part["session"])), sorted(set(part["animal"]))
        where = np.full((len(sessions), len(animals)), -1, np.int64)
        check = part["session"].map({s: i for i, s in enumerate(sessions)}).to_numpy()
        who = part["animal"].map({a: i for i, a in enumerate(animals)}).to_numpy()
        where[check, who] = part["place"].map(column).fillna(-1).to_numpy(np.int64)
        found.append(Checks(part, str(enclosure), retreats, tuple(animals), where))
    return found
