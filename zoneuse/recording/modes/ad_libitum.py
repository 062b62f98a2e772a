"""Seeing in passing (ad libitum): anything, any time; kept and shown, never counted in shares."""

from __future__ import annotations

from dataclasses import dataclass

from ..session.instant import Instant
from ..session.ledger import LedgerEntry
from .answering import answer_prompt
from .asking import Prompt
from .mode import ByAnswers
from .sheet import Act


@dataclass(slots=True)
class AdLibitum(ByAnswers):
    """Who, then zone, then behaviour. One animal alone is always the one meant."""

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
