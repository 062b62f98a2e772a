"""The review: the enclosure with its shares, and a screen for each answer, the sessions and the records behind it."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from textual.app import App
from textual.binding import Binding
from textual.screen import Screen

from ...answers.registry import ANSWERS
from ...study.model import Declaration
from ..recorder.looks import CSS, NIGHT
from .background.asked import Asked
from .background.computing import Computing, Reply
from .background.crossing import Given
from .blocks import OpenAnswer, OpenRecords, Opens, OpenSessions
from .look import REVIEW_CSS

if TYPE_CHECKING:
    from ...journal.reader import Journals

SESSIONS = "sessions"


class ReviewApp(App[str]):
    """Holds what is asked and what is known; the screens draw it."""

    CSS = CSS + REVIEW_CSS
    TITLE = "zoneuse"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [Binding("ctrl+c,ctrl+q", "leave", show=False, priority=True)]  # noqa: RUF012 - Textual reads it so

    def __init__(self, declared: Declaration, clock: Callable[[], datetime], first: str = "") -> None:
        super().__init__()
        self.register_theme(NIGHT)
        self.theme = NIGHT.name
        self.declared, self.clock, self._open_first = declared, clock, first
        self.questions = ANSWERS
        self.asked = Asked()
        self.given: dict[str, Given] = {}
        self.problems: dict[str, tuple[str, ...]] = {}
        self.doing = ""
        self.journals: Journals | None = None
        self._computing: Computing | None = None

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return dict(NIGHT.variables)

    def get_default_screen(self) -> Screen[None]:
        from .home import HomeScreen

        return HomeScreen()

    def on_mount(self) -> None:
        with contextlib.suppress(NotImplementedError, RuntimeError, ValueError):
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, self.exit, "")
        self.ask(self.asked)
        if self._open_first:
            self.call_after_refresh(self.open, OpenAnswer(self._open_first))

    # What is known. ----------------------------------------------------------------------------------------

    @property
    def names(self) -> tuple[str, ...]:
        """Everything that is worked out: the sessions, then the answers in their order."""
        return (SESSIONS, *(q.name for q in self.questions))

    @property
    def share_done(self) -> float:
        return sum(n in self.given or n in self.problems for n in self.names) / len(self.names)

    def ask(self, asked: Asked) -> None:
        """Ask everything anew, with these filters; what was being worked out is dropped."""
        self.asked = asked
        self.given, self.problems, self.doing, self.journals = {}, {}, SESSIONS, None
        self._computing = Computing(self.declared.folder, asked, self.names, self.clock(), self._heard)
        self.run_worker(self._computing.run(), group="answers", exclusive=True)
        self.show()

    def first(self, name: str) -> None:
        if self._computing is not None and name not in self.given:
            self._computing.first(name)

    def _heard(self, reply: Reply) -> None:
        if reply.doing:
            self.doing = reply.name
        elif reply.given is not None:
            self.given[reply.name] = reply.given
        else:
            self.problems[reply.name] = reply.problems
        if self.share_done == 1.0:
            self.doing = ""
        self.show()

    def show(self) -> None:
        """Draw what is in front anew."""
        from .base import ReviewScreen

        if self.is_running and self.screen_stack and isinstance(self.screen, ReviewScreen):
            self.screen.show()

    # Where to go. ------------------------------------------------------------------------------------------

    def open(self, opens: Opens) -> None:
        """Open what a line, a room or a key names."""
        if isinstance(opens, OpenAnswer):
            from .answer_screen import AnswerScreen

            self.first(opens.name)
            if isinstance(self.screen, AnswerScreen):
                self.switch_screen(AnswerScreen(opens.name))
            else:
                self.push_screen(AnswerScreen(opens.name))
        elif isinstance(opens, OpenSessions):
            from .sessions import SessionsScreen

            self.first(SESSIONS)
            self.push_screen(SessionsScreen(opens.title, opens.about))
        elif isinstance(opens, OpenRecords):
            from .records import RecordsScreen

            self.push_screen(RecordsScreen(opens.session, opens.about))

    def action_leave(self) -> None:
        self.exit("")
