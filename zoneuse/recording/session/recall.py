"""What earlier sessions tell, so that a session asks only what can have changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from ...journal import Entry, Journals, Session
from ...study import METHODS, Declaration, slot_at

# What goes on until it is said to be over; everything else said in context is of its moment.
PERIODS = ("shedding", "gravid", "ill", "brumating", "quarantine")
# A session left open longer ago than this is closed, not continued.
CONTINUE_H = 12.0


@dataclass(frozen=True, slots=True)
class Recall:
    """What is known when a session starts."""

    observer: str | None = None
    light: str | None = None
    fed: datetime | None = None
    recharged: datetime | None = None
    open_periods: tuple[Entry, ...] = ()
    unfinished: tuple[Session, ...] = ()
    sessions: int = 0
    slots: dict[str, int] = field(default_factory=dict)
    # The slot of each session that counts, by its id.
    slot_of: dict[str, str] = field(default_factory=dict)
    unread: int = 0

    @property
    def unread_words(self) -> str:
        """That something of the journals is damaged, in words; empty where all could be read."""
        if not self.unread:
            return ""
        places = "1 place" if self.unread == 1 else f"{self.unread} places"
        return f"Damaged records in {places} of the journals are left out: zoneuse check says which."


def _of(journals: Journals, kind: str, what: str) -> list[Entry]:
    """The entries of a kind that are of one thing: feeds, water."""
    return [e for e in journals.entries(kind) if e.record.fields["what"] == what]


def _unfinished(session: Session, now: datetime) -> bool:
    """Whether a session is open and new enough to go on with."""
    return session.closed is None and session.method in METHODS and hours_since(session, now) < CONTINUE_H


def recall(declared: Declaration, journals: Journals, now: datetime) -> Recall:
    """Last observer, light, feed and recharge, open periods, and sessions nobody finished (newest first)."""
    watched = [s for s in journals.sessions.values() if s.watched and not s.source]
    light = _ordered(_of(journals, "context", "light source"), now)
    slot_of = {
        session.id: session_slot(declared, session.opened)
        for session in journals.sessions.values()
        if session.watched and session.method != "ad-libitum" and _counts(session)
    }
    slots = Counter(slot_of.values())
    return Recall(
        observer=watched[-1].observer if watched else None,
        light=str(light[-1].record.fields.get("value")) if light else None,
        fed=_last(_of(journals, "context", "fed"), now),
        recharged=_last(_of(journals, "adjusted", "water"), now),
        open_periods=open_periods(journals, now),
        unfinished=tuple(s for s in reversed(watched) if _unfinished(s, now)),
        sessions=sum(slots.values()),
        slots=dict(slots),
        slot_of=slot_of,
        unread=sum(not problem.hint for problem in journals.problems),
    )  # fmt: skip


def open_periods(journals: Journals, now: datetime) -> tuple[Entry, ...]:
    """Shedding, gravid and the like that began and have not been said to be over, oldest first."""
    newest: dict[tuple[str, str | None], Entry] = {}
    for entry in _ordered(journals.entries("context"), now):
        fields = entry.record.fields
        if fields["what"] in PERIODS:
            newest[fields["what"], fields.get("animal")] = entry
    return tuple(e for e in newest.values() if e.record.fields.get("until") is None)


def began(entry: Entry) -> datetime:
    """When a period began: as it was said, else when it was recorded."""
    told = entry.record.get("from")
    try:
        return datetime.fromisoformat(told) if told else entry.record.at
    except ValueError:
        return entry.record.at


def session_slot(declared: Declaration, opened: datetime) -> str:
    """The slot of a whole session: that of its opening, by the first enclosure's lights."""
    return slot_at(declared, next(iter(declared.enclosures)), opened)


def _counts(session: Session) -> bool:
    return any(e.record.kind in ("seen", "unseen", "checked") for e in session.entries)


def _ordered(entries: Iterable[Entry], now: datetime) -> list[Entry]:
    return sorted((e for e in entries if e.record.at <= now + timedelta(hours=1)), key=lambda e: e.record.at)


def _last(entries: list[Entry], now: datetime) -> datetime | None:
    found = _ordered(entries, now)
    return found[-1].record.at if found else None


def hours_since(session: Session, now: datetime) -> float:
    """Hours since the last record of a session."""
    last = max((e.record.at for e in session.entries), default=session.opened)
    return (now - last).total_seconds() / 3600
