"""What all screens of the review share: two lines on top, how far the work is, a list, and the keys."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from ..recorder.panels import Chip, Chips
from .background.asked import SESSIONS
from .drawing.blocks import OpenAnswer, OpenFilters, OpenKeys, OpenLast, Opens, TextBlock
from .known import Review
from .leaf import Leaf

LEAST = (38, 16)
NARROW = 60
BACK = Chip("esc", "back", action="back")
FILTERS = Chip("/", "filter", action="filter")
KEYS = Chip("?", "keys", action="keys")
LAST = Chip("F2", "mend", action="last")


class ReviewScreen(Screen[None]):
    """A screen whose content is one list of blocks; ``show`` draws it anew from what the app knows."""

    BINDINGS = [  # noqa: RUF012 - Textual reads it so
        Binding("escape,backspace", "back", show=False),
        Binding("slash", "filter", show=False),
        Binding("question_mark,f1", "keys", show=False),
        Binding("f5", "again", show=False),
        Binding("f2", "last", show=False),
        *(Binding(str(n), f"answer({n})", show=False) for n in range(1, 10)),
    ]

    composed = False

    def compose(self) -> ComposeResult:
        yield Static(id="small")
        yield Static(id="title")
        yield Static(id="asked")
        yield Static(id="bar")
        yield from self.above()
        self.leaf = Leaf(self.blocks)
        yield self.leaf
        self.chips = Chips(self._chip_pressed, 2)
        self.chips.id = "keys"
        yield self.chips

    @property
    def review(self) -> Review:
        return cast(Review, self.app)

    @property
    def narrow(self) -> bool:
        return self.size.width < NARROW

    # What each screen has of its own. ----------------------------------------------------------------------

    def above(self) -> Iterable[Widget]:
        """What stands over the list."""
        return ()

    def title_words(self) -> str:
        raise NotImplementedError

    def blocks(self, width: int) -> Sequence[TextBlock]:
        raise NotImplementedError

    def keys(self) -> Sequence[Chip]:
        return (Chip("⏎", "open", action="open"), BACK, FILTERS, KEYS)

    def chosen(self, opens: Opens) -> None:
        self.review.open(opens)

    # Drawing. ----------------------------------------------------------------------------------------------

    def draw_above(self) -> None:
        """Draw what stands over the list."""

    def on_mount(self) -> None:
        self.composed = True
        self.leaf.focus()
        self.show()

    def on_screen_resume(self) -> None:
        self.show()

    def on_resize(self, event: events.Resize) -> None:
        width, height = event.size.width, event.size.height
        small = width < LEAST[0] or height < LEAST[1]
        self.set_class(small, "small")
        self.query_one("#small", Static).update(
            Content(f"This window is {width} x {height}; the answers need {LEAST[0]} x {LEAST[1]} at least.")
        )
        self.show()

    def show(self) -> None:
        """Draw everything anew."""
        app, width = self.review, self.size.width
        if not self.composed or not width:
            return
        self.draw_above()
        self.query_one("#title", Static).update(Content(self.title_words()).truncate(width, ellipsis=True))
        asked = Content(app.asked.words(app.declared, width)).truncate(width, ellipsis=True)
        self.query_one("#asked", Static).update(asked)
        self.query_one("#bar", Static).update(self._bar(width))
        self.leaf.show()
        self.chips.show(self.keys())

    def _bar(self, width: int) -> Content:
        """How far the answers are worked out; a plain line once they are."""
        app = self.review
        if not app.doing:
            return Content("─" * width)
        name = next((q.short for q in app.questions if q.name == app.doing), "the journals")
        words = f" reading {name} " if app.doing in (SESSIONS, "study") else f" working out {name} "
        room = max(0, width - len(words) - 2)
        filled = round(app.share_done * room)
        return Content("━" * filled + "─" * (room - filled) + words[:width] + "──")

    # Keys and touches. -------------------------------------------------------------------------------------

    def on_leaf_chosen(self, event: Leaf.Chosen) -> None:
        event.stop()
        self.chosen(event.opens)

    def _chip_pressed(self, chip: Chip, event: events.Event) -> None:
        if chip.action == "open":
            self.leaf.action_open()
        else:
            getattr(self, f"action_{chip.action}")()

    def action_back(self) -> None:
        self.app.pop_screen()

    def action_filter(self) -> None:
        self.review.open(OpenFilters())

    def action_keys(self) -> None:
        self.review.open(OpenKeys())

    def action_last(self) -> None:
        self.review.open(OpenLast())

    def action_again(self) -> None:
        """Look at the files again: a session may have been recorded meanwhile."""
        self.review.ask(self.review.asked)

    def action_answer(self, number: int) -> None:
        questions = self.review.questions
        if number <= len(questions):
            self.review.open(OpenAnswer(questions[number - 1].name))
