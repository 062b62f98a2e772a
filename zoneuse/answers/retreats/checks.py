"""The checks of the retreats: who was found where, what was looked into, how many were known alive."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...journal import Session
from ...stats.arrays import Floats
from ...study import Declaration, home, slot_at, study_day, under_of, value_at, zone_offered
from ...study.model import Zone
from ...tables import ONE_ROUND, ROUND, amount_at, treatments_of
from ..filters import Filters
from ..question import Question

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Checks:
    """One enclosure's checks in order of time.

    ``where`` is checks x animals, the column of ``retreats``, -1 where not found in a retreat (not found at
    all, not looked for, or outside the retreats); ``out`` marks those found outside, ``lives`` those known
    to be there then. ``counts`` is checks x retreats, everything found: animals told apart, those of
    ``groups`` and those of whom only this is known. ``looked`` marks the retreats looked into, ``lifted``
    those whose cover was lifted; ``capacity`` is how much of a retreat there is, 0 where it is not there.
    ``alive`` and ``found`` count all animals at a check; ``months`` are those of the study days, as 2026-03.
    """

    enclosure: str
    retreats: tuple[str, ...]
    animals: tuple[str, ...]
    at: tuple[datetime, ...]
    days: tuple[date, ...]
    months: NDArray[np.str_]
    where: Ints
    out: Flags
    lives: Flags
    counts: Ints
    groups: dict[str, Ints]
    groups_out: dict[str, Ints]
    looked: Flags
    lifted: Flags
    capacity: Floats
    alive: Ints
    found: Ints

    def __len__(self) -> int:
        return len(self.at)


def retreats_of(declared: Declaration, enclosure: str | None = None) -> tuple[str, ...]:
    """The places (of one enclosure) with the role ``retreat``, or all where none has that role."""
    return tuple(dict.fromkeys(zone.place for zone in _retreat_zones(declared, enclosure)))


def _retreat_zones(declared: Declaration, enclosure: str | None) -> list[Zone]:
    zones = list(declared.zones.values())
    listed = [z for z in zones if z.role == "retreat"] if any(z.role == "retreat" for z in zones) else zones
    return [z for z in listed if enclosure in (None, z.enclosure)]


def check_rows(moments: pd.DataFrame) -> pd.DataFrame:
    """The part of `moments` that is a check: whole retreat rounds, and the first scan of each scan session.

    ``check`` names the check: a session, or a part of one that is at least six hours from the next. An
    animal met twice in one round counts where it was met last.
    """
    scans = moments[(moments["method"] == "scan") & moments["scan"].notna()]
    first = scans["scan"] == scans.groupby("session")["scan"].transform("min")
    rounds = moments[moments["method"] == ROUND]
    kept = pd.concat([scans[first], rounds]).sort_values(["session", "at"], kind="stable")
    later = kept.groupby("session")["at"].diff() > ONE_ROUND
    number = later.groupby(kept["session"]).cumsum().astype(int)
    kept = kept.assign(check=kept["session"].astype(str) + "#" + number.astype(str))
    again = kept["animal"].notna() & kept.duplicated(["check", "animal"], keep="last")
    return kept[~again].sort_values(["at", "session"], kind="stable").reset_index(drop=True)


def checks_by_enclosure(question: Question, rows: pd.DataFrame) -> list[Checks]:
    """The checks of each enclosure, from ``check_rows``; rounds at which nobody (asked for) was found are checks too.

    A round of a second observer, all of whose moments stay out, is no check.
    """
    declared, sessions = question.declared, question.journals.sessions
    looks = {s.id: _looks(declared, s) for s in sessions.values() if s.method == ROUND}
    out = question.moments["out"]
    kept_out = set(question.moments["session"]) - set(question.moments["session"][out == ""])
    counting = {name: look for name, look in looks.items() if name not in kept_out}
    empty = _empty_rounds(question, counting, rows)
    enclosures = sorted({*rows["enclosure"], *(where for _, where in empty)})
    return [
        _checks(question, e, rows[rows["enclosure"] == e], [s for s, where in empty if where == e], looks)
        for e in enclosures
    ]


@dataclass(frozen=True, slots=True)
class _Looks:
    """Zones a round looked into, left out, and lifted."""

    into: frozenset[str]
    skipped: frozenset[str]
    lifted: frozenset[str]
    enclosures: frozenset[str]


def _looks(declared: Declaration, session: Session) -> _Looks:
    records = [e.record for e in session.entries if e.record.kind == "checked"]
    known = [r for r in records if r.get("zone") in declared.zones]
    skipped = {r.get("zone") for r in known if r.get("skipped")}
    return _Looks(
        frozenset(r.get("zone") for r in known) - skipped,
        frozenset(skipped),
        frozenset(r.get("zone") for r in known if r.get("lifted")),
        frozenset(declared.zones[r.get("zone")].enclosure for r in known),
    )


def _empty_rounds(
    question: Question, looks: dict[str, _Looks], rows: pd.DataFrame
) -> list[tuple[Session, str]]:
    """Rounds without a row in an enclosure they looked into, inside the filters, with that enclosure."""
    declared, filters = question.declared, question.filters
    if filters.behaviours:
        return []
    have = set(zip(rows["session"], rows["enclosure"], strict=True))
    found = []
    for name, look in looks.items():
        session = question.journals.sessions[name]
        early = filters.since is not None and session.opened < filters.since
        late = filters.until is not None and session.opened >= filters.until
        if early or late or not look.into:
            continue
        for enclosure in look.enclosures:
            other = filters.slot is not None and slot_at(declared, enclosure, session.opened) != filters.slot
            if not other and (name, enclosure) not in have and _asked(question, session, enclosure):
                found.append((session, enclosure))
    return found


def _asked(question: Question, session: Session, enclosure: str) -> bool:
    """Whether a round without a row lies in the treatments and phases asked for."""
    filters = question.filters
    under = under_of(next(iter(treatments_of(session).values()), None), question.declared, enclosure, "")
    during = not filters.phases or any(p.holds(session.opened, enclosure) for p in filters.phases)
    return during and (not filters.treatments or under in filters.treatments)


def _checks(
    question: Question, enclosure: str, rows: pd.DataFrame, empty: Sequence[Session], looks: dict[str, _Looks]
) -> Checks:
    declared, filters = question.declared, question.filters
    retreats = retreats_of(declared, enclosure)
    first = rows.groupby("check", sort=False).agg(at=("at", "min"), session=("session", "first"))
    moments = [(at.to_pydatetime(), str(session), str(check)) for check, at, session in first.itertuples()]
    moments += [(session.opened, session.id, f"{session.id}#0") for session in empty]
    moments.sort()
    at = tuple(when for when, _, _ in moments)
    number = {check: i for i, (_, _, check) in enumerate(moments)}
    check = np.asarray(rows["check"].map(number), np.int64)
    column = {place: i for i, place in enumerate(retreats)}
    place = np.asarray(rows["place"].map(column).fillna(-1), np.int64)
    animals = _told_apart(declared, enclosure, rows, at, filters)
    lives = np.array([[home(declared.animals[a], when) == enclosure for a in animals] for when in at], bool)
    lives = lives.reshape(len(at), len(animals))
    where, out = _where(rows, check, place, animals, len(at))
    weight = np.asarray(rows["weight"], np.int64)
    seen = np.asarray(rows["zone"].notna(), np.bool_)
    groups, groups_out = _grouped(rows, check, place, (len(at), len(retreats)))
    looked, lifted, capacity = _looked(declared, enclosure, moments, retreats, looks)
    counts = _counted(check, place, weight, place >= 0, (len(at), len(retreats)))
    # A retreat that held somebody was there, whatever its dates say, and counts with its first amount.
    here = _retreat_zones(declared, enclosure)
    usual = np.array(
        [sum(z.amount[0].value for z in here if z.place == place and z.amount) for place in retreats]
    )
    days = tuple(study_day(declared, when) for when in at)
    return Checks(
        enclosure, retreats, animals, at, days, np.array([f"{day:%Y-%m}" for day in days], str),
        where, out, lives | (where >= 0) | out, counts, groups, groups_out, looked | (counts > 0), lifted,
        np.where((counts > 0) & (capacity <= 0), usual, capacity),
        _alive(declared, enclosure, at, lives, filters),
        np.bincount(check[seen], weight[seen], len(at)).astype(np.int64),
    )  # fmt: skip


def _told_apart(
    declared: Declaration, enclosure: str, rows: pd.DataFrame, at: Sequence[datetime], filters: Filters
) -> tuple[str, ...]:
    """Animals told apart that were ever looked for here, or lived here at any of the checks."""
    asked = [a for a in declared.animals if not filters.animals or a in filters.animals]
    there = set(rows["animal"].dropna())
    return tuple(
        a for a in asked if a in there or any(home(declared.animals[a], when) == enclosure for when in at)
    )


def _where(
    rows: pd.DataFrame, check: Ints, place: Ints, animals: Sequence[str], checks: int
) -> tuple[Ints, Flags]:
    who = rows["animal"].map({a: i for i, a in enumerate(animals)}).fillna(-1).to_numpy(np.int64)
    known = who >= 0
    where = np.full((checks, len(animals)), -1, np.int64)
    out = np.zeros(where.shape, bool)
    where[check[known], who[known]] = place[known]
    outside = known & (place < 0) & rows["zone"].notna().to_numpy()
    out[check[outside], who[outside]] = True
    return where, out


def _grouped(
    rows: pd.DataFrame, check: Ints, place: Ints, shape: tuple[int, int]
) -> tuple[dict[str, Ints], dict[str, Ints]]:
    """By group: how many were found in each retreat at each check, and how many outside them."""
    weight, seen = np.asarray(rows["weight"], np.int64), rows["zone"].notna().to_numpy()
    inside, outside = {}, {}
    for group in sorted(set(rows["group"].dropna())):
        mine = (rows["group"] == group).to_numpy() & seen
        inside[group] = _counted(check, place, weight, mine & (place >= 0), shape)
        here = mine & (place < 0)
        outside[group] = np.bincount(check[here], weight[here], shape[0]).astype(np.int64)
    return inside, outside


def _counted(check: Ints, place: Ints, weight: Ints, rows: Flags, shape: tuple[int, int]) -> Ints:
    cell = check[rows] * shape[1] + place[rows]
    found = np.bincount(cell, weight[rows], shape[0] * shape[1]).reshape(shape)
    return np.asarray(found, np.int64)


def _looked(
    declared: Declaration,
    enclosure: str,
    moments: Sequence[tuple[datetime, str, str]],
    retreats: Sequence[str],
    looks: dict[str, _Looks],
) -> tuple[Flags, Flags, Floats]:
    """Looked into, lifted, and how much of each retreat there was.

    A scan looks at every retreat; a round without `checked` records (a table) as well; one with them only
    at those it names and does not leave out.
    """
    zones = _retreat_zones(declared, enclosure)
    shape = len(moments), len(retreats)
    looked, lifted, capacity = np.zeros(shape, bool), np.zeros(shape, bool), np.zeros(shape)
    column = {place: i for i, place in enumerate(retreats)}
    for i, (at, session, _) in enumerate(moments):
        look = looks.get(session)
        for zone in zones:
            if not zone_offered(declared, zone, at):
                continue
            j = column[zone.place]
            capacity[i, j] += amount_at(zone, at, equal=False)
            named = look is None or not (look.into or look.skipped) or zone.id in look.into
            looked[i, j] |= named
            lifted[i, j] |= look is not None and zone.id in look.lifted
    return looked, lifted, capacity


def _alive(
    declared: Declaration, enclosure: str, at: Sequence[datetime], lives: Flags, filters: Filters
) -> Ints:
    """How many are known alive at each check: animals told apart and the sizes of groups."""
    groups = [g for g in declared.groups.values() if not filters.animals or g.id in filters.animals]
    sizes = [sum(value_at(g.size, when) or 0 for g in groups if home(g, when) == enclosure) for when in at]
    return np.asarray(lives.sum(axis=1) + np.array(sizes, np.int64), np.int64)
