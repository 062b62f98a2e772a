"""The terminal side: keys, touches and drags in, the drawn lines out."""

from __future__ import annotations

from textual import events
from textual.app import App, ComposeResult
from textual.content import Content
from textual.driver import Driver
from textual.widget import Widget

from ..patient_driver import patient
from ..recorder.looks import NIGHT
from .desk import Desk
from .face import Target, lines
from .keys import paste, press, touch
from .moves import open_page
from .sketching import drag, release

_LOOKS = {
    "head": "bold $who", "dim": "$muted", "key": "$key", "who": "$who", "good": "$success", "warn": "bold $warning",
    "wall": "$wall", "here": "bold $who", "cursor": "reverse", "": "$foreground",
}  # fmt: skip


class Face(Widget):
    """The whole screen, and what each of its characters means to a finger."""

    DEFAULT_CSS = "Face { width: 100%; height: 100%; }"

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self._targets: list[list[Target]] = []

    def render(self) -> Content:
        drawn = lines(self.desk, self.size.width, self.size.height)
        self._targets = [[piece.target for piece in line for _ in piece.text] for line in drawn]
        rows = [Content.assemble(*((piece.text, _LOOKS[piece.look]) for piece in line)) for line in drawn]
        return Content("\n").join(rows)

    def target(self, event: events.MouseEvent) -> Target:
        """What lies under a finger."""
        row = self._targets[event.y] if 0 <= event.y < len(self._targets) else []
        return row[event.x] if 0 <= event.x < len(row) else ()

    def on_mouse_down(self, event: events.MouseDown) -> None:
        if target := self.target(event):
            touch(self.desk, target)
            self.after()

    def on_mouse_move(self, event: events.MouseMove) -> None:
        if event.button and self.desk.pen:
            drag(self.desk, self.target(event))
            self.after()

    def on_mouse_up(self, event: events.MouseUp) -> None:
        release(self.desk)

    def after(self) -> None:
        if self.desk.left:
            self.app.exit()
        self.refresh()


class BuildApp(App[None]):
    """A study being declared."""

    CSS = "Screen { background: $background; color: $foreground; }"
    TITLE = "zoneuse"
    ENABLE_COMMAND_PALETTE = False
    AUTO_FOCUS = ""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.register_theme(NIGHT)
        self.theme = NIGHT.name
        self.desk = desk
        open_page(desk, desk.page)

    def get_driver_class(self) -> type[Driver]:
        return patient(super().get_driver_class())

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return dict(NIGHT.variables)

    def compose(self) -> ComposeResult:
        self.face = Face(self.desk)
        yield self.face

    async def on_event(self, event: events.Event) -> None:
        """Keys go to the desk in their order, whatever is drawn; nothing of Textual's own keys is wanted."""
        if isinstance(event, events.Key):
            if not self.desk.left:
                press(self.desk, event.key, event.character if event.is_printable else None)
                self.face.after()
        elif isinstance(event, events.Paste):
            paste(self.desk, event.text)
            self.face.after()
        else:
            await super().on_event(event)
