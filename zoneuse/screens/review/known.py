"""What the screens of a review draw from and ask of: everything but how it is shown."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from textual.app import App
from textual.driver import Driver

from ...answers.registry import ANSWERS
from ...study import Declaration
from ..patient_driver import patient
from .background.asked import SESSIONS, ReviewFilters
from .background.crossing import Given
from .drawing.blocks import Opens

if TYPE_CHECKING:
    from ...journal import Journals


class Review(App[str]):
    """Holds what is asked and what is known. The app that runs it knows the screens; the screens know this."""

    def __init__(self, declared: Declaration, clock: Callable[[], datetime]) -> None:
        super().__init__()
        self.declared, self.clock = declared, clock
        self.questions = ANSWERS
        self.asked = ReviewFilters()
        self.given: dict[str, Given] = {}
        self.problems: dict[str, tuple[str, ...]] = {}
        self.doing = ""
        self.journals: Journals | None = None

    def get_driver_class(self) -> type[Driver]:
        return patient(super().get_driver_class())

    @property
    def names(self) -> tuple[str, ...]:
        """Everything that is worked out: the sessions, then the answers in their order."""
        return (SESSIONS, *(q.name for q in self.questions))

    @property
    def share_done(self) -> float:
        return sum(n in self.given or n in self.problems for n in self.names) / len(self.names)

    def ask(self, asked: ReviewFilters) -> None:
        """Ask everything anew, with these filters."""
        raise NotImplementedError

    def first(self, name: str) -> None:
        """Work this one out before the others."""
        raise NotImplementedError

    def open(self, opens: Opens) -> None:
        """Open what a line, a room or a key names."""
        raise NotImplementedError
