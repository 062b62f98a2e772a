"""What opens over another screen: a line of text, a list, a page. Each takes its keys itself, in their order.

Keys that arrive in one bundle are handled one by one before anything is drawn: no box waits to be mounted, or to have
the focus, and no key reaches the screen beneath an open box.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import OptionList, Static

from ..text_line import TextLine
from .host import part_of
from .listed import MarkedList

_JUMP = 8


@runtime_checkable
class KnowsClosed(Protocol):
    """An app that wants to know by which key a box was closed."""

    def box_closed(self, by: str) -> None: ...


class Box(ModalScreen[None]):
    """A box at the lower edge. It closes once, whatever is pressed or touched how often."""

    AUTO_FOCUS = ""

    def __init__(self) -> None:
        super().__init__()
        self.open = True
        self.drawn = False

    def on_mount(self) -> None:
        """From here on there is something to draw on; keys may have come before."""
        self.drawn = True
        self.draw()

    def draw(self) -> None:
        """Show what changed."""

    def on_key(self, event: events.Key) -> None:
        """For apps that leave the order of keys to Textual."""
        event.stop()
        event.prevent_default()
        self.take_key(event)

    def on_paste(self, event: events.Paste) -> None:
        event.stop()
        self.take_text(event.text)

    def take_key(self, event: events.Key) -> None:
        """One key, already in its order."""
        if event.key == "escape":
            self.close("escape")

    def take_text(self, text: str) -> None:
        """Pasted text: of use only where text is asked for."""

    def close(self, by: str) -> bool:
        """Close it; ``by`` is the key (or ``mouse``) that did. False where it was closed already."""
        if not self.open:
            return False
        self.open = False
        if isinstance(self.app, KnowsClosed):
            self.app.box_closed(by)
        if self.app.screen_stack and self.app.screen is self:
            self.app.pop_screen()
        return True


def _cursored(line: TextLine, width: int) -> Content:
    """The line with its cursor, moved so that the cursor is in sight."""
    part, at = line.window(width)
    return Content.assemble(part[:at], (part[at : at + 1], "reverse"), part[at + 1 :])


class AskText(Box):
    """One line of text. A mistake is said under it and can be mended.

    ``check`` turns the text into what ``take`` is given; it raises ValueError, in words, where it cannot. A value that
    is ``proposed`` is taken by Enter, and gives way to the first letter typed.
    """

    def __init__(
        self,
        title: str,
        hint: str,
        check: Callable[[str], Any],
        take: Callable[[Any], None],
        value: str = "",
        *,
        proposed: bool = False,
    ) -> None:
        super().__init__()
        self._title, self._hint, self._check, self._take = title, hint, check, take
        self._proposed = proposed
        self.line = TextLine(value, len(value))

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Content(self._title))
            yield Static(id="text")
            yield Static(Content(self._hint), id="hint")

    def on_resize(self) -> None:
        self.draw()

    def draw(self) -> None:
        text, hint = part_of(self, "text", Static), part_of(self, "hint", Static)
        if self.drawn and text is not None and hint is not None:
            text.update(_cursored(self.line, max(8, self.size.width - 5)))
            hint.update(Content(self._hint))

    def take_key(self, event: events.Key) -> None:
        if event.key == "enter":
            self._enter()
        elif event.key == "escape":
            self.close("escape")
        else:
            if self._proposed and event.is_printable:
                self.line = TextLine()
            self._proposed = False
            self.line.press(event.key, event.character if event.is_printable else None)
            self.draw()

    def take_text(self, text: str) -> None:
        self.line.insert(text)
        self.draw()

    def _enter(self) -> None:
        try:
            answer = self._check(self.line.value)
        except ValueError as error:
            self._hint = f"{error}."
            self.draw()
            return
        if self.close("enter"):
            self._take(answer)


@dataclass(frozen=True, slots=True)
class ListItem:
    """One line of a list: ``key`` goes to it, or takes it at once in a menu."""

    says: str
    value: Any
    key: str = ""

    @property
    def shown(self) -> str:
        return f"{self.key:<2} {self.says}" if self.key else self.says


class Pick(Box):
    """One of several things: its key or the arrows go to it, Enter takes it; or by touch.

    ``at`` is the line that Enter takes at once, None where one has to be gone to first. ``at_once``: a key takes.
    """

    def __init__(
        self,
        title: str,
        choices: Sequence[ListItem],
        take: Callable[[Any], None],
        at: int | None = 0,
        at_once: bool = False,
    ) -> None:
        super().__init__()
        self._title, self._choices, self._take = title, list(choices), take
        self._at, self._at_once = at, at_once
        # The first character of a key of two.
        self._half = ""

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Content(self._title), id="title")
            yield MarkedList([one.shown for one in self._choices], self._at, id="lines")

    def draw(self) -> None:
        title, lines = part_of(self, "title", Static), part_of(self, "lines", MarkedList)
        if self.drawn and title is not None and lines is not None:
            title.update(Content(self._title))
            lines.go_to(self._at)

    def take_key(self, event: events.Key) -> None:
        steps = {"down": 1, "up": -1, "pagedown": _JUMP, "pageup": -_JUMP, "home": -(10**6), "end": 10**6}
        if event.key == "escape":
            self.close("escape")
        elif event.key == "enter":
            if self._at is None:
                self._title = "Go to a line first: its key, or ↑ and ↓. Esc closes."
                self.draw()
            else:
                self._chosen(self._at, "enter")
        elif event.key in steps:
            start = -1 if self._at is None and steps[event.key] > 0 else self._at or 0
            self._at = max(0, min(start + steps[event.key], len(self._choices) - 1))
            self.draw()
        elif event.character:
            self._go_to(event)

    def _go_to(self, event: events.Key) -> None:
        """To the next line that has this key, or waits for its second character."""
        typed, self._half = self._half + (event.character or ""), ""
        mine = [i for i, one in enumerate(self._choices) if one.key == typed]
        if not mine and any(one.key.startswith(typed) for one in self._choices):
            self._half = typed
            return
        if mine and self._at_once:
            self._chosen(mine[0], event.key)
        elif mine:
            self._at = next((i for i in mine if self._at is not None and i > self._at), mine[0])
            self.draw()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self._chosen(event.option_index, "mouse")

    def _chosen(self, index: int, by: str) -> None:
        value = self._choices[index].value
        if self.close(by):
            self._take(value)


def _hung(line: str, width: int) -> list[str]:
    """A line in as many rows as it needs, those after the first set in."""
    indent = " " * (len(line) - len(line.lstrip()) + 2)
    return textwrap.wrap(line, width, subsequent_indent=indent, drop_whitespace=True) or [""]


class Page(Box):
    """Lines to read."""

    CLOSED_BY = ("escape", "enter", "question_mark", "f1", "f5", "percent_sign", "space")

    def __init__(self, lines: Sequence[str]) -> None:
        super().__init__()
        self._lines = lines

    def compose(self) -> ComposeResult:
        page = VerticalScroll(classes="box page", id="page")
        page.can_focus = False
        with page:
            yield Static(id="lines")

    def on_resize(self) -> None:
        self.draw()

    def draw(self) -> None:
        lines = part_of(self, "lines", Static)
        if self.drawn and lines is not None:
            # Within the box's lines, its edges and the room for a scrollbar.
            width = max(12, self.size.width - 6)
            rows = [
                row
                for line in [*self._lines, "", "Esc or a touch closes this."]
                for row in _hung(line, width)
            ]
            lines.update(Content("\n".join(rows)))

    def on_click(self, event: events.Click) -> None:
        event.stop()
        self.close("mouse")

    def take_key(self, event: events.Key) -> None:
        if event.key in self.CLOSED_BY:
            self.close(event.key)
        else:
            scroll_page(self, event.key)


def scroll_page(screen: Screen[None], key: str) -> None:
    """Move a screen's page of text by the keys for it."""
    page = part_of(screen, "page", VerticalScroll)
    if page is None:
        return
    moves = {
        "down": page.scroll_down, "up": page.scroll_up, "pagedown": page.scroll_page_down,
        "pageup": page.scroll_page_up, "home": page.scroll_home, "end": page.scroll_end,
    }  # fmt: skip
    if key in moves:
        moves[key](animate=False)
