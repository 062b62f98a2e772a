"""What a way of watching must be able to do; the recorder holds one of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from ...study.model import Zone
from ..session.instant import Instant
from ..session.ledger import LedgerEntry
from ..session.plan import Who
from .answering import Answering, Flow
from .asking import Prompt
from .sheet import Act, Sheet


class Mode(Protocol):
    """Scans, following, seeing in passing, or a round of the retreats."""

    sheet: Sheet

    @property
    def here(self) -> str:
        """The enclosure that is looked at."""

    @property
    def asked(self) -> Who | None:
        """Whom an event is about unless another is named."""

    def press(self, key: str, instant: Instant) -> None:
        """One of the keeper's keys: whole."""

    def in_count(self, key: str) -> bool:
        """Whether this character is part of a count that is typed, and by itself."""

    def act(self, name: str, instant: Instant) -> None:
        """One of the program's keys, by the action's name."""

    def tick(self, instant: Instant) -> bool:
        """Let time pass. Returns whether a scan began."""

    def prompt(self, instant: Instant) -> Prompt: ...

    def drop_half(self, instant: Instant) -> bool:
        """Drop what is half typed; whether there was anything."""

    def begin_line(self) -> None:
        """A line of keys begins: what the line before left half typed is dropped."""

    def take_line(self, instant: Instant) -> None:
        """A line of keys is over: what it began is recorded as far as it goes."""

    def after_undo(self, act: Act, instant: Instant) -> None:
        """Ask again what was taken back."""

    def after_correction(self, new: LedgerEntry | None, instant: Instant) -> None: ...

    def rebuild(self) -> None:
        """Find the state anew from the records that stand."""

    def hold(self, instant: Instant, on: bool) -> None:
        """The session is paused, or goes on."""

    def new_part(self, instant: Instant) -> None:
        """The session goes on in a new part: what a part by itself must know is said again."""

    def all_done(self, instant: Instant) -> bool: ...

    def end(self, instant: Instant) -> str:
        """Record what is half typed and what is owed; the reason with which the session is closed."""

    def marks_by_zone(self) -> dict[str, list[str]]:
        """Zone id to the marks of who is there: ``1``, ``2?`` a guess, ``3~`` hidden, ``Y:4`` four of a group."""

    def not_found(self) -> list[str]:
        """The keys of those whose newest record says not found."""

    def room_sign(self, zone: Zone) -> str:
        """What stands before a zone's key in its room, beyond who is in it."""


def newest_places(sheet: Sheet) -> dict[str, list[str]]:
    """Zone id to the marks of who is there by each one's newest record."""
    from .sheet import place_marks

    rooms: dict[str, list[str]] = {}
    for who, line in sheet.newest():
        if (zone := line.fields.get("zone")) is not None:
            count = f":{line.fields.get('count')}" if who.group else ""
            rooms.setdefault(zone, []).append(f"{who.key}{count}{place_marks(line.fields)}")
    return rooms


def newest_unseen(sheet: Sheet) -> list[str]:
    """The keys of those whose newest record says not found."""
    return [
        f"{who.key}:{line.fields.get('count')}" if who.group else who.key
        for who, line in sheet.newest()
        if line.kind == "unseen"
    ]


@dataclass(slots=True)
class ByAnswers(Flow):
    """What scans and seeing in passing have in common: one answer after the other, zone and behaviour."""

    sheet: Sheet
    answering: Answering = field(init=False)

    def __post_init__(self) -> None:
        self.answering = Answering(self.sheet, self)

    @property
    def here(self) -> str:
        return self.answering.here

    @property
    def asked(self) -> Who | None:
        draft = self.sheet.draft
        return draft.who if draft is not None and draft.who.id else self.sheet.alone

    def in_count(self, key: str) -> bool:
        return self.answering.in_count()

    def begin_line(self) -> None:
        """Counts are typed anew with each line."""
        self.sheet.typed, self.sheet.doubt = "", None

    def take_line(self, instant: Instant) -> None:
        self.answering.take_line(instant)
        self.answering.settle(instant)

    def marks_by_zone(self) -> dict[str, list[str]]:
        return newest_places(self.sheet)

    def not_found(self) -> list[str]:
        return newest_unseen(self.sheet)

    def room_sign(self, zone: Zone) -> str:
        return ""
