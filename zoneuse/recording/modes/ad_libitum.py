"""Seeing in passing (ad libitum): anything, any time; kept and shown, never counted in shares."""

from __future__ import annotations

from dataclasses import dataclass, field

from ...study.model import Zone
from ..session.instant import Instant
from ..session.ledger import LedgerEntry
from ..session.plan import Who
from .answering import Answering, answer_prompt
from .asking import Prompt
from .mode import newest_places, newest_unseen
from .sheet import Act, Sheet


@dataclass(slots=True)
class AdLibitum:
    """Who, then zone, then behaviour. One animal alone is always the one meant."""

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

    def prompt(self, instant: Instant) -> Prompt:
        self._ask_alone()
        if self.sheet.draft is None:
            return Prompt("Who is seen?", choices=self.sheet.choices("who", "event"))
        return answer_prompt(self.sheet, self.answering)

    def _ask_alone(self) -> None:
        if self.sheet.draft is None and self.sheet.alone is not None:
            self.answering.ask_anew(self.sheet.alone)

    def press(self, key: str, instant: Instant) -> None:
        self._ask_alone()
        self.answering.press(key, instant)

    def in_count(self, key: str) -> bool:
        return self.answering.in_count()

    def act(self, name: str, instant: Instant) -> None:
        self._ask_alone()
        self.answering.act(name, instant)

    def tick(self, instant: Instant) -> bool:
        return False

    def drop_half(self, instant: Instant) -> bool:
        if self.answering.drop_half(instant):
            return True
        if self.sheet.draft is not None and self.sheet.alone is None:
            self.sheet.draft = None
            return True
        return False

    def begin_line(self) -> None:
        """Counts are typed anew with each line."""
        self.sheet.typed, self.sheet.doubt = "", None

    def take_line(self, instant: Instant) -> None:
        self.answering.take_line(instant)
        self.answering.settle(instant)

    def end(self, instant: Instant) -> str:
        self.answering.settle(instant)
        return "finished"

    def new_part(self, instant: Instant) -> None:
        """Every record says all there is to say."""

    def all_done(self, instant: Instant) -> bool:
        return True

    def after_undo(self, act: Act, instant: Instant) -> None:
        """Nobody is asked again: anything may come next."""

    def after_correction(self, new: LedgerEntry | None, instant: Instant) -> None:
        """Nothing hangs on an earlier record."""

    def rebuild(self) -> None:
        """There is no state beyond the records."""

    def hold(self, instant: Instant, on: bool) -> None:
        """No beat runs."""

    def first_line(self) -> dict[str, list[str]]:
        return newest_places(self.sheet)

    def not_found(self) -> list[str]:
        return newest_unseen(self.sheet)

    def room_sign(self, zone: Zone) -> str:
        return ""

    # What the answers ask. ---------------------------------------------------------------------------------

    def scan_now(self) -> int | None:
        return None

    def answered(self, lines: list[LedgerEntry]) -> None:
        """Every sighting stands by itself."""

    def ask_next(self, instant: Instant) -> None:
        """Anybody may be next."""

    def idle_key(self, key: str, instant: Instant) -> None:
        self.answering.idle_key(key, instant)

    def idle_act(self, name: str, instant: Instant) -> None:
        self.answering.idle_act(name, instant)
