"""The last records of every kind, newest first, in words, and what became of each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from ...journal import Entry, Journals, Place, Session
from ...study import Declaration, spoken_time
from ..words import line_words, span_words

MANY = 20
# What the program adds by itself; not a record somebody made.
PROGRAM = ("opened", "paused", "resumed", "took-back", "closed")
_SPOKEN_SPAN_S = 86_400


@dataclass(frozen=True, slots=True)
class Made:
    """A record as it was first written, in its session, and as it counts now: None where it was taken back."""

    session: Session
    first: Entry
    now: Entry | None


def last_made(journals: Journals, most: int = MANY) -> list[Made]:
    """The newest records of all sessions, newest first, those taken back among them: so a number stays one's own.

    What was watched or noted comes in the order it was written; a table of past notes by when things happened.
    """
    made: list[tuple[datetime, int, Made]] = []
    for session in journals.sessions.values():
        in_force = {e.stood: e for e in session.entries}
        for entry in (*session.entries, *session.void):
            if entry.written or entry.place in journals.corrections or entry.record.kind in PROGRAM:
                continue
            record = entry.record
            written = record.at if session.source else record.entered or record.at
            made.append((written, record.n, Made(session, entry, in_force.get(entry.place))))
    made.sort(key=lambda m: m[:2], reverse=True)
    return [one for _, _, one in made[:most]]


def made_at(journals: Journals, place: Place) -> Made | None:
    """The record of a place, or the one a correction there stands for; None for what nobody made."""
    session = journals.sessions.get(place.session)
    for one in (session,) if session is not None else ():
        found = [e for e in (*one.entries, *one.void) if place in (e.place, e.stood)]
        stood = next((e.stood for e in found if e.place == place), place)
        first = next((e for e in (*one.void, *one.entries) if e.place == stood and not e.written), None)
        if first is None or first.record.kind in PROGRAM:
            return None
        return Made(one, first, next((e for e in one.entries if stood in (e.stood, e.place)), None))
    return None


def made_words(declared: Declaration, made: Made, now: datetime) -> str:
    """``2 minutes ago: weighed Ida 12 g``, and what became of it."""
    counts = made.now or made.first
    text = f"{_ago(declared, counts.record.at, now)}: {line_words(declared, counts.record)}"
    if made.now is None:
        return f"{text}  (taken back)"
    if made.now.place != made.first.place:
        return f"{text}  (corrected; was: {line_words(declared, made.first.record)})"
    return text


def _ago(declared: Declaration, at: datetime, now: datetime) -> str:
    seconds = (now - at).total_seconds()
    if 0 <= seconds < _SPOKEN_SPAN_S:
        return f"{span_words(seconds)} ago"
    return spoken_time(at, declared.timezone)
