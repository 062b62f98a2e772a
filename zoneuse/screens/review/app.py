"""The review: the enclosure with its shares, and a screen for each answer, the sessions and the records behind it."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import Callable
from datetime import datetime

from textual.binding import Binding
from textual.screen import Screen

from ...journal import Place
from ...study import Declaration
from ..recorder.looks import CSS, NIGHT
from .answer_screen import AnswerScreen
from .background.asked import SESSIONS, ReviewFilters
from .background.computing import Computing, Reply
from .base import ReviewScreen
from .drawing.blocks import (
    OpenAnswer,
    OpenFilters,
    OpenKeys,
    OpenLast,
    OpenMend,
    OpenRecords,
    Opens,
    OpenSessions,
)
from .filters import FilterScreen
from .home import HomeScreen
from .keys import KeysScreen
from .known import Review
from .look import REVIEW_CSS
from .mending import LastRecordsScreen, MendScreen
from .records import RecordsScreen
from .sessions import SessionsScreen


class ReviewApp(Review):
    """Asks in the background, hears the answers, and opens the screens."""

    CSS = CSS + REVIEW_CSS
    TITLE = "zoneuse"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [Binding("ctrl+c,ctrl+q", "leave", show=False, priority=True)]  # noqa: RUF012 - Textual reads it so

    def __init__(self, declared: Declaration, clock: Callable[[], datetime], first: str = "") -> None:
        super().__init__(declared, clock)
        self.register_theme(NIGHT)
        self.theme = NIGHT.name
        self._open_first = first
        self._computing: Computing | None = None

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return dict(NIGHT.variables)

    def get_default_screen(self) -> Screen[None]:
        return HomeScreen()

    def on_mount(self) -> None:
        with contextlib.suppress(NotImplementedError, RuntimeError, ValueError):
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, self.exit, "")
        self.ask(self.asked)
        if self._open_first:
            self.call_after_refresh(self.open, OpenAnswer(self._open_first))

    # What is known. ----------------------------------------------------------------------------------------

    def ask(self, asked: ReviewFilters) -> None:
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
        if self.is_running and self.screen_stack and isinstance(self.screen, ReviewScreen):
            self.screen.show()

    # Where to go. ------------------------------------------------------------------------------------------

    def open(self, opens: Opens) -> None:
        """Open what a line, a room or a key names."""
        if isinstance(opens, OpenAnswer):
            self.first(opens.name)
            if isinstance(self.screen, AnswerScreen):
                self.switch_screen(AnswerScreen(opens.name))
            else:
                self.push_screen(AnswerScreen(opens.name))
        elif isinstance(opens, OpenSessions):
            self.first(SESSIONS)
            self.push_screen(SessionsScreen(opens.title, opens.about))
        elif isinstance(opens, OpenRecords):
            self.push_screen(RecordsScreen(opens.session, opens.about))
        elif isinstance(opens, OpenLast):
            if not isinstance(self.screen, LastRecordsScreen):
                self.push_screen(LastRecordsScreen())
        elif isinstance(opens, OpenMend):
            self.push_screen(MendScreen(Place(*opens.place)))
        elif isinstance(opens, OpenFilters):
            self.push_screen(FilterScreen())
        elif isinstance(opens, OpenKeys):
            self.push_screen(KeysScreen())

    def action_leave(self) -> None:
        self.exit("")
