"""What was written down beside the moments, as tables: sessions, events, feeds, weights, notes, and the rest."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

import pandas as pd

from ..journal import Entry, Journals, RecordError, parse_time
from .column import AT, TIMES, PackageColumn
from .declared import Row

FED, WEIGHED = "fed", "weighed"

SESSIONS = (
    PackageColumn("session", "string", "the session's id"),
    AT,
    *TIMES[1:],
    PackageColumn("observer", "string", "who watched"),
    PackageColumn(
        "method", "string", "scan, focal, ad-libitum or retreat-round; record for notes and changes alone"
    ),
    PackageColumn("every_s", "number", "from one scan to the next", "s"),
    PackageColumn("minutes", "number", "how long it was to last", "min"),
    PackageColumn("parts", "integer", "files it is kept in"),
    PackageColumn("closed", "string", "finished, left or recovered; empty: never closed"),
    PackageColumn("source", "string", "the file it was taken in from; empty: recorded here"),
)
EVENTS = (
    PackageColumn("record", "integer", "number of the record, as in records"),
    *TIMES,
    PackageColumn("session", "string", "the session's id"),
    PackageColumn("animal", "string", "the animal's id"),
    PackageColumn("group", "string", "the group's id, for animals not told apart"),
    PackageColumn("zone", "string", "the zone's id"),
    PackageColumn("behaviour", "string", "the momentary behaviour's id"),
    PackageColumn("left_out", "string", "why it enters no rate; empty where it counts"),
)
_WHERE = (PackageColumn("session", "string", "the session it was written in"),)
_ANIMAL = PackageColumn("animal", "string", "the animal's id; empty: all, or nobody in particular")
_UNTIL = PackageColumn("until", "datetime", "when it ended; empty for a moment, and for what goes on")
FEEDS = (
    PackageColumn("feed", "integer", "number of the row, from 1"),
    *TIMES,
    *_WHERE,
    _ANIMAL,
    PackageColumn("value", "string", "what was fed, as written"),
)
WEIGHTS = (
    PackageColumn("weighing", "integer", "number of the row, from 1"),
    *TIMES,
    *_WHERE,
    _ANIMAL,
    PackageColumn("weight", "number", "the weight; empty where what was written is no number", "g"),
    PackageColumn("value", "string", "the weight as written"),
)
NOTES = (
    PackageColumn("note", "integer", "number of the row, from 1"),
    *TIMES,
    *_WHERE,
    _ANIMAL,
    PackageColumn("text", "string", "the note"),
)
CONTEXT = (
    PackageColumn("context", "integer", "number of the row, from 1"),
    *TIMES,
    *_WHERE,
    _ANIMAL,
    PackageColumn("zone", "string", "the zone's id"),
    PackageColumn(
        "what", "string", "shedding, gravid, handled, disturbed, ill, watered, a body temperature, …"
    ),
    PackageColumn("value", "string", "what was told of it, as written"),
    _UNTIL,
)


def session_rows(journals: Journals) -> list[Row]:
    """Every session, and every file of notes and changes."""
    return [
        {"session": s.id, "at": s.opened, "at_utc": s.opened, "observer": s.observer or None, "method": s.method,
         "every_s": s.every_s, "minutes": s.minutes, "parts": s.parts, "closed": s.closed,
         "source": s.source.get("name") if s.source else None}
        for s in journals.sessions.values()
    ]  # fmt: skip


def event_frame(records: pd.DataFrame) -> pd.DataFrame:
    """The momentary events among the records, in their numbers."""
    found = records[records["kind"] == "happened"]
    return found.assign(
        record=found.index + 1, at_utc=found["at"], left_out=found["left_out"].replace("", None)
    )


def feed_rows(journals: Journals) -> list[Row]:
    return [
        {"feed": i, **row, "value": _text(row["value"])} for i, row in enumerate(_context(journals, FED), 1)
    ]


def weight_rows(journals: Journals) -> list[Row]:
    return [
        {"weighing": i, **row, "weight": _number(row["value"]), "value": _text(row["value"])}
        for i, row in enumerate(_context(journals, WEIGHED), 1)
    ]


def note_rows(journals: Journals) -> list[Row]:
    found = [
        {**_base(entry, entry.record.at), "text": entry.record.get("text")}
        for entry in journals.entries("noted")
    ]
    return [{"note": i, **row} for i, row in enumerate(_by_time(found), 1)]


def context_rows(journals: Journals) -> list[Row]:
    """All that is neither a feed nor a weight."""
    found = _context(journals, "")
    return [{"context": i, **row, "value": _text(row["value"])} for i, row in enumerate(found, 1)]


def named_animals(journals: Journals) -> set[str]:
    """The animals that notes, feeds and the like name."""
    return {str(a) for e in journals.entries("noted", "context") if (a := e.record.get("animal"))}


def named_zones(journals: Journals) -> set[str]:
    return {str(z) for e in journals.entries("context") if (z := e.record.get("zone"))}


def _context(journals: Journals, what: str) -> list[Row]:
    """Context records: of one kind, or of none that has a table of its own."""
    found = []
    for entry in journals.entries("context"):
        record = entry.record
        mine = record.get("what") == what if what else record.get("what") not in (FED, WEIGHED)
        if mine:
            start = _time(record.get("from")) or record.at
            found.append(
                {**_base(entry, start), "zone": record.get("zone"), "what": record.get("what"),
                 "value": record.get("value"), "until": _time(record.get("until"))}
            )  # fmt: skip
    return _by_time(found)


def _base(entry: Entry, at: datetime) -> Row:
    animal = entry.record.get("animal")
    return {"at": at, "at_utc": at, "session": entry.session, "animal": animal or None}


def _by_time(rows: Iterable[Row]) -> list[Row]:
    return sorted(rows, key=lambda row: row["at"])


def _text(value: Any) -> str | None:
    if value is None:
        return None
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _time(told: object) -> datetime | None:
    if told is None:
        return None
    try:
        return parse_time(told)
    except RecordError:
        return None
