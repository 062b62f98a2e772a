"""What is on record beside the moments: feeds, sheds, weights, illness, notes, and changes, in order of time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from ...journal import Entry, Journals, RecordError, parse_time

NOTED = "noted"


@dataclass(frozen=True, slots=True)
class ContextEvent:
    """A context record or a free note. ``until`` is None for a moment and for a period still open (``running``)."""

    at: datetime
    until: datetime | None
    what: str
    animal: str | None
    value: str | float | None
    running: bool = False


def events(journals: Journals) -> list[ContextEvent]:
    """Every feed, shed, weight, sign and note that counts, by time."""
    found = [_event(entry) for entry in journals.entries("context", "noted")]
    return sorted(found, key=lambda e: (e.at, e.what, e.animal or ""))


def _event(entry: Entry) -> ContextEvent:
    record = entry.record
    if record.kind == "noted":
        return ContextEvent(record.at, None, NOTED, record.get("animal"), str(record.get("text")))
    start, until = _time(record.get("from")), _time(record.get("until"))
    return ContextEvent(
        at=start or record.at,
        until=until,
        what=str(record.get("what")),
        animal=record.get("animal"),
        value=record.get("value"),
        running=start is not None and until is None,
    )


def _time(told: object) -> datetime | None:
    """A time as a record tells it; one that is none counts as not told."""
    if told is None:
        return None
    try:
        return parse_time(told)
    except RecordError:
        return None
