"""Why an answer has nothing to go on, and what the keeper can do about it."""

from __future__ import annotations

from dataclasses import dataclass

from .filters import select
from .phrases import asked_words, counted
from .question import Question

NO_SESSION, ONLY_READINGS, FILTERED, ONLY_EVENTS, KEPT_OUT, NOBODY = (
    "no_session", "only_readings", "filtered", "only_events", "kept_out", "nobody",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Nothing:
    """``why`` is one of the codes above; ``sessions`` are those on record, ``asked`` the filters in words."""

    why: str
    sessions: int
    asked: str = ""


def nothing(question: Question) -> Nothing:
    """What stands between the question and an answer.

    Moments that time budgets were cut out of beforehand count as what is on record.
    """
    moments, asked = question.moments, asked_words(question.declared, question.filters)
    recorded = len(question.journals.sessions)
    if not recorded or not len(moments):
        measured = question.readings is not None and any(question.readings().values())
        return Nothing(ONLY_READINGS if measured else NO_SESSION, recorded)
    sessions = select(moments, type(question.filters)())["session"].nunique()
    if not sessions:
        counted_events = moments["zone"].isna().all() and moments["behaviour"].isna().all()
        return Nothing(ONLY_EVENTS if counted_events else KEPT_OUT, recorded)
    if not len(question.rows):
        return Nothing(FILTERED, sessions, asked)
    return Nothing(NOBODY, question.rows["session"].nunique(), asked)


def nothing_said(found: Nothing, what: str = "Nobody was found") -> str:
    """What there is, then what to do; ``what`` is said of sessions that hold nothing of the kind."""
    begin = "Watch a session with zoneuse watch, or take in the notes you have with zoneuse sightings."
    asked = f" ({found.asked})" if found.asked else ""
    said = {
        NO_SESSION: f"No session is on record yet. {begin}",
        ONLY_READINGS: f"Only readings are on record, no session yet. zoneuse climate answers from those. {begin}",
        FILTERED: (
            f"Nothing on record matches what was asked for{asked}. Without that, "
            f"{'1 session is' if found.sessions == 1 else f'{found.sessions:,} sessions are'} on record."
        ),
        ONLY_EVENTS: (
            "What is on record counts what happened, not where anybody was. zoneuse activity and zoneuse shifts answer "
            "from that."
        ),
        KEPT_OUT: (
            "Nothing on record counts here: it was seen in passing, or is left out. zoneuse check says why. "
            "Shares come from sessions: zoneuse watch."
        ),
        NOBODY: f"{what} in the {counted(found.sessions, 'session')} on record{asked}.",
    }
    return said[found.why]
