"""The `records` table: every sighting on record, and whether it counts or why it is left out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import pandas as pd

from ..journal import Entry, Journals, Session
from ..study import ANY_TIME, Declaration, home, slot_at, under_of
from .moments import (
    BUDGET,
    HANDLED,
    NOT_DECLARED,
    NOT_HERE,
    OUTSIDE,
    RECORDED_AGAIN,
    SECOND_OBSERVER,
    watching,
)
from .watched import SIGHTINGS, SPENT, treatments_of

# Column: what it holds. The order is the table's.
COLUMNS: dict[str, str] = {
    "at": "when, UTC",
    "session": "the session it counts in",
    "written_in": "the session whose file holds it",
    "part": "the part of that session",
    "n": "its number there",
    "kind": "seen, unseen, happened or spent",
    "animal": "the animal's id",
    "group": "the group's id, for animals not told apart",
    "zone": "the zone's id",
    "behaviour": "the behaviour's id",
    "slot": "dawn, day, dusk or night by the lights, or any time",
    "left_out": "why it enters no share and no rate; empty where it counts",
    "behaviour_left_out": "why what it says was done enters no answer; empty where it does, or says nothing",
    "treatment": "what it was recorded under",
    "enclosure": "where that was, as far as it is known",
}
CORRECTED = "corrected"
TAKEN_BACK = "taken back"
AGAIN = "answered again"
BETWEEN = "shorter than the interval"
NO_ORIGINAL = "corrects a record that is not here"
NO_BEHAVIOUR = "another kind of behaviour"
EVENT = "happened"
# What somebody asked for, or the method brings with it; nobody need be told each time.
EXPECTED = frozenset({CORRECTED, TAKEN_BACK, AGAIN, BETWEEN, BUDGET, "ad libitum", "a count of nobody"})

REMEDIES = {
    HANDLED: "Nothing: it counts again once the animal has changed its zone by itself",
    SECOND_OBSERVER: "Nothing: the session opened first counts; zoneuse observers holds the two against each other",
    RECORDED_AGAIN: "Nothing, if the same was written down twice; else correct the times with zoneuse mend",
    NOT_DECLARED: "Put the id back into study.toml; end it with an until date if it is gone",
    NOT_HERE: "Correct the animal's present and lives in study.toml, or the record with zoneuse mend",
    OUTSIDE: "Nothing, if it was between the zones; else draw their outlines to meet",
    NO_ORIGINAL: "Perhaps the file of what it corrects has not been synchronised yet",
    NO_BEHAVIOUR: "Let the behaviour be what it was when it was recorded, or give the other an id of its own",
}


@dataclass(frozen=True)
class Recorded:
    """``moments`` and ``records``, made together so that each record is in one of them or left out by name."""

    moments: pd.DataFrame
    records: pd.DataFrame


def recorded(declared: Declaration, journals: Journals) -> Recorded:
    """Every moment watched (columns of ``moments.COLUMNS``) and every sighting on record (``COLUMNS``)."""
    entries = list(_sightings(journals))
    row_of = {(s.id, i): row for row, (s, i, _) in enumerate(entries) if i >= 0}
    watched = watching(declared, journals, row_of)
    of_row = _fates(watched.moments)
    under: dict[str, Mapping[tuple[int, str], object]] = {}
    rows = []
    for row, (session, i, entry) in enumerate(entries):
        why = of_row.get(row)
        if why is None:
            why = watched.dropped.get(row) or _why(declared, journals, session, entry, counts=i >= 0)
        if session.id not in under:
            under[session.id] = treatments_of(session)
        rows.append(_row(declared, session, entry, why, under[session.id]))
    frame = pd.DataFrame(rows, columns=list(COLUMNS))
    frame["at"] = pd.to_datetime(frame["at"], utc=True).astype("datetime64[ms, UTC]")
    return Recorded(watched.moments, frame)


def _sightings(journals: Journals) -> Iterator[tuple[Session, int, Entry]]:
    """Session, index among its entries (-1: taken back) and entry of every sighting there is a record of."""
    for session in journals.sessions.values():
        for i, entry in enumerate(session.entries):
            if entry.record.kind in (*SIGHTINGS, EVENT, SPENT):
                yield session, i, entry
        for entry in session.void:
            if entry.record.kind in (*SIGHTINGS, EVENT, SPENT):
                yield session, -1, entry


def _fates(moments: pd.DataFrame) -> dict[int, str]:
    """By record that gave moments: "" where any of them counts, else the first one's reason."""
    found = moments[["record", "out"]].dropna(subset="record")
    ordered = found.sort_values("out", kind="stable").drop_duplicates("record")
    return {int(row): out for row, out in zip(ordered["record"], ordered["out"], strict=True)}


def _why(declared: Declaration, journals: Journals, session: Session, entry: Entry, counts: bool) -> str:
    """Why a record gave no moment; "" for an event that counts."""
    record = entry.record
    if not counts:
        known = entry.place in journals.replaced or entry.place in journals.corrections
        return CORRECTED if known else TAKEN_BACK
    if record.kind != EVENT:
        if not session.watched:
            return NO_ORIGINAL
        return BETWEEN if session.method == "focal" else AGAIN
    if missing := undeclared(declared, entry):
        return missing
    return NO_BEHAVIOUR if declared.behaviours[record.fields["behaviour"]].lasts else ""


def undeclared(declared: Declaration, entry: Entry) -> str:
    """``not declared: animal a9`` for the first id of a record that study.toml no longer has, else ""."""
    for field in ("animal", "group", "zone", "behaviour"):
        name = entry.record.get(field)
        known = getattr(declared, f"{field}s")
        if name is not None and name not in known:
            return f"{NOT_DECLARED}: {field} {name}"
    return ""


def _behaviour_lost(declared: Declaration, entry: Entry) -> str:
    """Why the behaviour of a sighting is not known any more."""
    name = entry.record.get("behaviour")
    if name is None or entry.record.kind == EVENT:
        return ""
    behaviour = declared.behaviours.get(name)
    if behaviour is None:
        return f"{NOT_DECLARED}: behaviour {name}"
    # A budget of what only happens says how long was watched for it.
    return "" if behaviour.lasts or entry.record.kind == SPENT else NO_BEHAVIOUR


def _row(
    declared: Declaration, session: Session, entry: Entry, why: str, under: Mapping[tuple[int, str], object]
) -> tuple[object, ...]:
    record, place = entry.record, entry.place
    zone = declared.zones.get(record.get("zone") or "")
    one = declared.animals.get(record.get("animal") or "") or declared.groups.get(record.get("group") or "")
    where = zone.enclosure if zone else home(one, record.at) if one else None
    return (
        record.at, session.id, place.session, place.part, place.n, record.kind, record.get("animal"),
        record.get("group"), record.get("zone"), record.get("behaviour"),
        slot_at(declared, where, record.at) if where else ANY_TIME, why, _behaviour_lost(declared, entry),
        under_of(under.get(entry.in_part), declared, where or "", one.id if one else ""), where,
    )  # fmt: skip
