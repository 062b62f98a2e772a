"""What may differ between two sides, as a ratio for each cell: shares, rates, and the mean of a condition."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....stats.arrays import Floats
from ....study import slot_at
from ....tables import BUDGET, places_of, watched_for
from ...activity.tables import hours_watched
from ...effort import names_of
from ...question import ELSE, Question
from ...records.budgets import watched_only
from ..around.conditions import USED

ZONE, BEHAVIOUR, EVENT, ACTIVE, MOVES, CONDITION = (
    "zone",
    "behaviour",
    "event",
    "active",
    "moves",
    "condition",
)
SHARES = (ZONE, BEHAVIOUR, ACTIVE)


@dataclass(frozen=True, slots=True)
class Measure:
    """One thing that may differ: ``of`` and ``among`` (cells,), whose ratio is its value in a cell."""

    what: str
    name: str
    of: Floats
    among: Floats


def measures(question: Question, rows: pd.DataFrame, cell: NDArray[np.int64]) -> list[Measure]:
    """All that may differ, by cell (-1: in none): zones, behaviours, activity, events and moves an hour, conditions."""
    cells = int(cell.max(initial=-1)) + 1
    weight = rows["weight"].to_numpy(float)

    def summed(values: Floats, where: NDArray[np.bool_]) -> Floats:
        part = where & (cell >= 0)
        return np.asarray(np.bincount(cell[part], values[part], cells), np.float64)

    declared, place = question.declared, rows["place"]
    seen = summed(weight, place.notna().to_numpy())
    found = [
        Measure(ZONE, name, summed(weight, (place == name).fillna(False).to_numpy(bool)), seen)
        for name in places_of(declared)
    ]
    doing = rows["behaviour"]
    known = summed(weight, doing.notna().to_numpy())
    lasting = [b for b in declared.behaviours.values() if b.lasts and (doing == b.id).any()]
    found += [
        Measure(BEHAVIOUR, b.id, summed(weight, (doing == b.id).fillna(False).to_numpy(bool)), known)
        for b in (lasting if len(lasting) > 1 or (doing == ELSE).any() else [])
    ]
    rated = {b.id: b.active for b in declared.behaviours.values() if b.active is not None}
    if len(set(rated.values())) == 2 and doing.isin(list(rated)).any():
        active = doing.map(lambda b: bool(rated.get(b, False))).to_numpy(bool)
        found.append(
            Measure(
                ACTIVE, ACTIVE, summed(weight, active), summed(weight, doing.isin(list(rated)).to_numpy())
            )
        )
    found += _rates(question, rows, cell, cells)
    found += _conditions(rows, summed)
    return [m for m in found if m.of.any()]


def _conditions(rows: pd.DataFrame, summed: Callable[[Floats, NDArray[np.bool_]], Floats]) -> list[Measure]:
    """The mean of each condition used, where it is known."""
    weight, found = rows["weight"].to_numpy(float), []
    for quantity in USED:
        if f"used_{quantity}" not in rows:
            continue
        value = rows[f"used_{quantity}"].to_numpy(float)
        there = ~np.isnan(value)
        used = summed(np.where(there, value, 0) * weight, there)
        found.append(Measure(CONDITION, quantity, used, summed(weight, there)))
    return found


def _rates(question: Question, rows: pd.DataFrame, cell: NDArray[np.int64], cells: int) -> list[Measure]:
    """Events and moves per animal and hour; a group counts as one animal, as in the activity answer."""
    who = names_of(rows, "animal").fillna("").astype(str)
    looks = pd.DataFrame(
        {"session": rows["session"], "who": who, "slot": rows["slot"], "cell": cell, "at": rows["at"],
         "place": rows["place"], "animal": rows["animal"], "budget": rows["out"] == BUDGET}
    )  # fmt: skip
    looks = looks[looks["cell"] >= 0]
    if not len(looks):
        return []
    sessions = question.journals.sessions
    long = {name: hours_watched(sessions[name]) for name in looks["session"].unique()}
    watch = {
        name: watched_for(question.declared, sessions[name])
        for name in rows["session"][watched_only(rows)].unique()
    }
    times = rows.groupby("session")["at"].nunique()
    each = looks.groupby(["session", "who", "slot", "cell"], sort=False)["at"].nunique()
    hours, untimed = np.zeros(cells), np.zeros(cells)
    timed: dict[str, Floats] = {}
    at_cell: dict[tuple[str, str, str], int] = {}
    for session, one, slot, own, count in each.reset_index().itertuples(index=False):
        length = long[session] * min(count / times[session], 1.0)
        hours[own] += length
        counted = {name: h for (who, name), h in watch.get(session, {}).items() if who == one}
        untimed[own] += 0.0 if counted else length
        for name, h in counted.items() if (session, one, "") not in at_cell else ():
            timed.setdefault(name, np.zeros(cells))[own] += h
        at_cell[session, one, slot] = own
        at_cell.setdefault((session, one, ""), own)
    found = []
    for name, counts in _events(question, at_cell, cells).items():
        found.append(Measure(EVENT, name, counts, untimed + timed.get(name, 0.0)))
    moves = _moves(looks, cells)
    moving = [Measure(MOVES, MOVES, moves, hours)] if moves.any() else []
    return [*found, *moving] if hours.any() or timed else []


def _events(question: Question, at_cell: dict[tuple[str, str, str], int], cells: int) -> dict[str, Floats]:
    declared = question.declared
    found: dict[str, Floats] = {}
    watched = {key[0] for key in at_cell}
    for entry in question.journals.entries("happened"):
        record, name = entry.record, entry.record.get("behaviour")
        if entry.session not in watched or name not in declared.behaviours or declared.behaviours[name].lasts:
            continue
        one = record.get("animal") or record.get("group") or ""
        zone = declared.zones.get(record.get("zone") or "")
        where = zone.enclosure if zone else next(iter(declared.enclosures))
        own = at_cell.get((entry.session, one, slot_at(declared, where, record.at)))
        own = at_cell.get((entry.session, one, "")) if own is None else own
        if own is not None:
            found.setdefault(name, np.zeros(cells))[own] += float(record.get("count") or 1)
    return found


def _moves(looks: pd.DataFrame, cells: int) -> Floats:
    """Changes of place from one find of an animal to its next in a session, in the cell of the later one."""
    # Of a time budget nothing is known of when it went where.
    told = looks["place"].notna() & looks["animal"].notna() & ~looks["budget"]
    known = looks[told].sort_values("at", kind="stable")
    before = known.groupby(["session", "who"])["place"].shift()
    moved = before.notna() & (before != known["place"])
    return np.asarray(np.bincount(known["cell"][moved].to_numpy(np.int64), minlength=cells), np.float64)
