"""Animals that moved from one enclosure to another: each home against the other, zones of one place alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....journal import SETTLE_H
from ....study import Declaration, Group, Span, spoken_time
from ....study.model import Animal
from ....tables import Adjustment, amount_at, place_label, places_of
from ...effort import names_of
from ...finding import Caution, Confounder
from ...phrases import listed
from ...question import Question
from ..confounders import at_once, confounders
from ..designs.controls import enclosures_of
from ..phases import sides, windows
from .asked import TwoSides
from .named import ARROW

# What a place is of its enclosure may differ by this factor before use could follow room alone.
_ROOM = 1.25
# A new home is given as long to settle in as a new layout.
SETTLES_H = SETTLE_H["layout"]
OLD, NEW = ("old home", "new home")


@dataclass(frozen=True, slots=True)
class Move:
    """``who`` left ``old``, where it had lived since ``since``, and lives in ``new`` from ``at`` until ``until``."""

    who: str
    old: str
    new: str
    at: datetime
    since: datetime | None
    until: datetime | None
    left: datetime | None

    @property
    def settled(self) -> pd.Timestamp:
        return pd.Timestamp(self.at) + pd.Timedelta(hours=SETTLES_H)


def moves_of(declared: Declaration, within: Sequence[str] = ()) -> list[Move]:
    """Every move from one enclosure to another, in order of time; ``within`` looks at these enclosures only."""
    found = []
    everyone: list[Animal | Group] = [*declared.animals.values(), *declared.groups.values()]
    for one in everyone:
        homes = _homes(one, within)
        for (old, was), (new, then) in pairwise(homes):
            if then.start is not None and old != new:
                found.append(Move(one.id, old, new, then.start, was.start, then.until, was.until))
    return sorted(found, key=lambda m: (m.at, m.who))


def _homes(one: Animal | Group, within: Sequence[str]) -> list[tuple[str, Span]]:
    """Where it lived, one after the other; stays in one enclosure that follow each other are one."""
    told: list[tuple[str, Span]] = []
    ordered = sorted(one.lives, key=lambda d: (d.span.start is not None, d.span.start or 0))
    for dated in ordered:
        if within and dated.value not in within:
            continue
        if told and told[-1][0] == dated.value:
            told[-1] = dated.value, Span(told[-1][1].start, dated.span.until)
        else:
            told.append((dated.value, dated.span))
    return told


def rehoused(question: Question, changes: Sequence[Adjustment], rows: pd.DataFrame) -> list[TwoSides]:
    """Each rehousing as a comparison: one for two enclosures, one for all where some homes were left for others."""
    moves = moves_of(question.declared)
    if not moves:
        return []
    ways = dict.fromkeys((m.old, m.new) for m in moves)
    left, entered = {old for old, _ in ways}, {new for _, new in ways}
    if len(ways) > 1 and not left & entered:
        return [_asked(question, changes, rows, moves, (OLD, NEW))]
    return [_asked(question, changes, rows, [m for m in moves if (m.old, m.new) == way], way) for way in ways]


def homes_held(
    question: Question, changes: Sequence[Adjustment], rows: pd.DataFrame, homes: Sequence[str]
) -> list[TwoSides]:
    """Enclosures asked for by name, each against the first, over all who lived in both, whichever came first."""
    asked = []
    for second in homes[1:]:
        pair = homes[0], second
        asked.append(_asked(question, changes, rows, moves_of(question.declared, pair), pair))
    return asked


def _asked(
    question: Question, changes: Sequence[Adjustment], rows: pd.DataFrame, moves: Sequence[Move],
    names: tuple[str, str],
) -> TwoSides:  # fmt: skip
    declared = question.declared
    who = names_of(rows, "animal").astype(object)
    keep, late = np.zeros(len(rows), bool), np.zeros(len(rows), bool)
    home, where = np.full(len(rows), "", object), rows["enclosure"].to_numpy(object)
    others: dict[Confounder, None] = {}
    cohorts = _together(moves)
    several = len({(c[0].old, c[0].new, c[0].at) for c, _ in cohorts}) > len(
        {(c[0].old, c[0].new) for c, _ in cohorts}
    )
    for made, whose in cohorts:
        own = np.asarray(who.isin(whose), bool)
        here = rows[own]
        sided = np.zeros((2, len(here)), bool)
        for move in made:
            before, after, beside = _of_move(question, changes, here, move)
            sided |= np.stack([before, after])
            others |= dict.fromkeys(beside)
        inside = np.flatnonzero(own)[sided.any(axis=0)]
        keep[inside] = True
        late[inside] = sided[1, sided.any(axis=0)] if names == (OLD, NEW) else where[inside] == names[1]
        when = f", {spoken_time(made[0].at, declared.timezone)}" if several else ""
        home[inside] = f"{made[0].old}{ARROW}{made[0].new}{when}"
    part = rows[keep].reset_index(drop=True)
    labels = _labels(question, names)
    return TwoSides(
        part.assign(home=part["enclosure"], enclosure=home[keep]), late[keep], names, labels,
        (ARROW.join(names),), None,
        others=tuple(others), dated=True, homes=tuple(dict.fromkeys((m.old, m.new) for m in moves)),
        cautions=(*_moved_said(declared, moves, names, labels), *_room_said(declared, part, moves)),
    )  # fmt: skip


def _labels(question: Question, names: tuple[str, str]) -> tuple[str, str]:
    if names == (OLD, NEW):
        return "the old home", "the new home"
    return question.labels.get(names[0], names[0]), question.labels.get(names[1], names[1])


def _together(moves: Sequence[Move]) -> list[tuple[list[Move], list[str]]]:
    """Who made the same moves at the same moments, and these moves: a cohort, which counts once where homes do."""
    by_who: dict[str, list[Move]] = {}
    for move in moves:
        by_who.setdefault(move.who, []).append(move)
    found: dict[tuple[tuple[str, str, datetime], ...], tuple[list[Move], list[str]]] = {}
    for who, made in by_who.items():
        found.setdefault(tuple((m.old, m.new, m.at) for m in made), (made, []))[1].append(who)
    return list(found.values())


def _of_move(
    question: Question, changes: Sequence[Adjustment], rows: pd.DataFrame, move: Move
) -> tuple[NDArray[np.bool_], NDArray[np.bool_], list[Confounder]]:
    """Which rows lie in the old home before a move, and in the new one once settled; and what else was changed.

    A change on record in the old home ends what came before it, one in the new home what came after.
    """
    declared = question.declared
    own = Adjustment(
        f"{move.old}{ARROW}{move.new}",
        move.at,
        move.at,
        "layout",
        (),
        None,
        "",
        "",
        (),
        SETTLES_H,
        None,
        None,
    )
    near = [c for c in changes if _bears_on(declared, c, move)]
    seen = windows([*near, own], own)
    at, where = rows["at"], rows["enclosure"].to_numpy(object)
    before = (where == move.old) & (at < pd.Timestamp(seen.before[1])).to_numpy(bool)
    if seen.before[0] is not None:
        before &= (at >= pd.Timestamp(seen.before[0])).to_numpy(bool)
    after = (where == move.new) & (at >= pd.Timestamp(seen.after[0])).to_numpy(bool)
    if seen.after[1] is not None:
        after &= (at < pd.Timestamp(seen.after[1])).to_numpy(bool)
    if move.until is not None:
        after &= (at < pd.Timestamp(move.until)).to_numpy(bool)
    if move.since is not None:
        before &= (at >= pd.Timestamp(move.since)).to_numpy(bool)
    together = rows.assign(enclosure="")[before | after].reset_index(drop=True)
    found = sides(together, seen, question.unit if question.unit in ("session", "day") else "session")
    if len(found.late):
        return before, after, confounders(declared, question.journals, [*near, own], own, found)
    return before, after, at_once(declared, [*near, own], own)


def _bears_on(declared: Declaration, change: Adjustment, move: Move) -> bool:
    here = enclosures_of(declared, change)
    return (move.old in here and change.at < move.at) or (move.new in here and change.at >= move.at)


def _moved_said(
    declared: Declaration, moves: Sequence[Move], names: tuple[str, str], labels: tuple[str, str]
) -> list[Caution]:
    """The days of the moves: what they cannot tell apart, and how long a new home was left out."""
    if not moves:
        says = f"No animal is on record as having lived in {labels[0]} and in {labels[1]}."
        return [Caution("no-move", says)]
    days = sorted({m.at for m in moves})
    who = listed(list(dict.fromkeys(m.who for m in moves))[:6])
    name = f"{labels[1]} against {labels[0]}"
    left = f"the first {SETTLES_H / 24:g} days in a new home are left out"
    if len(days) == 1:
        says = (
            f"{name}: {who} moved on {spoken_time(days[0], declared.timezone)}; {left}. Whatever else began that day "
            "(catching, company, season, food) moved with them and cannot be told from the enclosure."
        )
    else:
        says = f"{name}: {who} moved on {len(days)} days; {left}. Being caught and moved is part of what is seen."
    return [Caution("moved", says)]


def _room_said(declared: Declaration, part: pd.DataFrame, moves: Sequence[Move]) -> list[Caution]:
    """Places that are a larger part of one home than of the other: use may follow the room there is."""
    if not len(part):
        return []
    told: dict[str, dict[tuple[str, str], tuple[float, float]]] = {}
    for move in moves:
        old, new = (
            _parts_at(declared, e, at) for e, at in ((move.old, move.left or move.at), (move.new, move.at))
        )
        for place in places_of(declared):
            if old.get(place) and new.get(place):
                told.setdefault(place, {})[move.old, move.new] = old[place], new[place]
    apart = []
    for place, ways in told.items():
        (old_part, new_part), *more = ways.values()
        if not more and max(old_part, new_part) > _ROOM * min(old_part, new_part):
            (left, entered), *_ = ways
            apart.append(
                f"{place_label(declared, place)} is {100 * old_part:.0f} % of {left} and "
                f"{100 * new_part:.0f} % of {entered}"
            )
    if not apart:
        return []
    return [
        Caution("room-differs", f"{'; '.join(apart)}: with no preference at all, use would differ as much.")
    ]


def _parts_at(declared: Declaration, enclosure: str, at: datetime) -> dict[str, float]:
    """What part of an enclosure each place is."""
    amounts: dict[str, Any] = {}
    for zone in declared.zones.values():
        if zone.enclosure == enclosure and any(p.span.holds(at) for p in zone.present):
            amounts[zone.place] = amounts.get(zone.place, 0.0) + amount_at(zone, at, False)
    whole = sum(amounts.values())
    return {place: amount / whole for place, amount in amounts.items()} if whole else {}
