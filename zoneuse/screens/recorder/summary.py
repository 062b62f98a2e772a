"""What the session was; Enter leaves."""

from __future__ import annotations

from pathlib import Path
from typing import cast

from textual import events
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from ...recording import Recorder
from .boxes import AskText, scroll_page
from .host import Host, part_of

_RETRY_S = 3.0


class SummaryScreen(Screen[None]):
    """It leaves when all is on the disk, and not by the key that brought it here."""

    AUTO_FOCUS = ""

    def __init__(self) -> None:
        super().__init__()
        self.drawn = False

    def compose(self) -> ComposeResult:
        yield Static(id="banner")
        # What a practice tells is longer than a phone's screen.
        page = VerticalScroll(classes="box page" if self.recorder.practice is not None else "box", id="page")
        page.can_focus = False
        with page:
            yield Static(id="summary")

    @property
    def recorder(self) -> Host:
        return cast(Host, self.app)

    @property
    def core(self) -> Recorder:
        core = self.recorder.core
        assert core is not None
        return core

    def on_mount(self) -> None:
        self.drawn = True
        self.set_interval(_RETRY_S, self._retry)
        self.show()

    def _retry(self) -> None:
        if self.core.ledger.waiting:
            self.core.ledger.retry(self.recorder.clocks())
            self.show()

    def show(self) -> None:
        if not self.drawn:
            return
        lines = ["The session is finished.", "", *self.recorder.closing_words(self.core)]
        if self.recorder.practice is not None:
            lines[0] = "The practice is finished."
        end = "Enter leaves." if not self.core.ledger.waiting else "F6 writes them to another folder."
        if (summary := part_of(self, "summary", Static)) is not None:
            summary.update(Content("\n".join([*lines, "", end])))

    def take_key(self, event: events.Key) -> None:
        if event.key == "f6":
            self._elsewhere()
        elif event.key in ("enter", "escape"):
            self._leave()
        elif self.drawn:
            scroll_page(self, event.key)

    def take_text(self, text: str) -> None:
        """Nothing is asked."""

    def on_click(self, event: events.Click) -> None:
        if not self.recorder.touched_twice(event):
            self._leave()

    def _leave(self) -> None:
        if not self.core.ledger.waiting and not self.recorder.left:
            self.recorder.leave_with("\n".join(self.recorder.closing_words(self.core)))

    def _elsewhere(self) -> None:
        def take(folder: Path) -> None:
            self.core.ledger.go_elsewhere(folder, self.recorder.clocks())
            self.show()

        def check(text: str) -> Path:
            return Path(text.strip() or ".").expanduser()

        hint = "A folder on another disk. Copy that file into the study's journal folder later."
        self.app.push_screen(AskText("Write the records to another folder", hint, check, take))
