"""Seeing in passing (ad libitum): anything, any time; kept and shown, never counted in shares."""

from __future__ import annotations

from dataclasses import dataclass

from ..session.moment import Moment
from .answering import Answering
from .recorder import Prompt
from .stages import answer_prompt


@dataclass(slots=True)
class Passing(Answering):
    """Who, then zone, then behaviour. One animal alone is always the one meant."""

    def prompt(self, moment: Moment) -> Prompt:
        if self.event_open is not None:
            return self._event_prompt(self.event_open)
        if self.draft is None and len(self.plan.who) == 1:
            self._ask(self.plan.who[0], moment)
        if self.draft is None:
            return Prompt("Who is seen?", choices=self._choices("who", "event"))
        return answer_prompt(self)

    def _press(self, key: str, moment: Moment) -> None:
        if self.draft is None and len(self.plan.who) == 1:
            self._ask(self.plan.who[0], moment)
        # Explicit base: a slotted dataclass is a new class, which the short form of super() cannot find.
        Answering._press(self, key, moment)

    def _drop_half(self, moment: Moment) -> bool:
        if Answering._drop_half(self, moment):
            return True
        if self.draft is not None and len(self.plan.who) > 1:
            self.draft = None
            return True
        return False
