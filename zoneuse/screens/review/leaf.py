"""The one list of the review: blocks of lines to scroll through, those that open something to choose among."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual import events
from textual.binding import Binding
from textual.content import Content
from textual.message import Message
from textual.widget import Widget

from .drawing.blocks import Opens, TextBlock

# A mark at the left and a bar at the right.
GUTTERS = 3
_WHEEL = 3


class Leaf(Widget, can_focus=True):
    """Arrows move to the next block that opens something, or scroll where there is none in sight."""

    DEFAULT_CSS = "Leaf { height: 1fr; }"
    BINDINGS = [  # noqa: RUF012 - Textual reads it so
        Binding("up", "step(-1)", show=False),
        Binding("down", "step(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown,space", "page(1)", show=False),
        Binding("home", "end(-1)", show=False),
        Binding("end", "end(1)", show=False),
        Binding("enter", "open", show=False),
    ]

    class Chosen(Message):
        """A block was opened."""

        def __init__(self, opens: Opens) -> None:
            super().__init__()
            self.opens = opens

    def __init__(self, make: Callable[[int], Sequence[TextBlock]]) -> None:
        super().__init__()
        self._make = make
        self._blocks: tuple[TextBlock, ...] = ()
        self._lines: list[tuple[int, Content]] = []
        self._first: list[int] = []
        self.top = 0
        self.at: int | None = None
        self._made_for = 0

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        """As high as its lines, where the screen lets it be."""
        return sum(len(block.lines) for block in self._make(max(1, width - GUTTERS)))

    def show(self) -> None:
        """Make the blocks anew; the cursor stays on what it was on, or near it."""
        width = self.size.width - GUTTERS
        if width < 1:
            return
        before = self._blocks[self.at].opens if self.at is not None else None
        lines = len(self._lines)
        self._blocks = tuple(self._make(width))
        self._lines, self._first = [], []
        for number, block in enumerate(self._blocks):
            self._first.append(len(self._lines))
            self._lines += [(number, line) for line in block.lines]
        self.at = self._found(before)
        self.top = min(self.top, self._most_top())
        self._made_for = width
        self.refresh(layout=self.styles.is_auto_height and len(self._lines) != lines)

    def _found(self, opens: Opens | None) -> int | None:
        same = [i for i, b in enumerate(self._blocks) if b.opens is not None and b.opens == opens]
        if same and self.at in same:
            return self.at
        return same[0] if same else next((i for i, b in enumerate(self._blocks) if b.opens), None)

    def go_to(self, opens: Opens) -> None:
        """Put the cursor on what opens this."""
        self.at = self._found(opens)
        self._into_sight()

    def on_resize(self) -> None:
        seen = self.at is not None and self._in_sight(self.at)
        if self.size.width - GUTTERS != self._made_for:
            self.show()
        if seen:
            self._into_sight()

    # Moving. -----------------------------------------------------------------------------------------------

    def _most_top(self) -> int:
        return max(0, len(self._lines) - max(1, self.size.height))

    def _scroll(self, lines: int) -> None:
        self.top = min(self._most_top(), max(0, self.top + lines))
        self.refresh()

    def _in_sight(self, number: int) -> bool:
        """Whether any line of a block is on the screen."""
        first = self._first[number]
        last = first + len(self._blocks[number].lines) - 1
        return first < self.top + self.size.height and last >= self.top

    def _into_sight(self) -> None:
        if self.at is not None and self._lines:
            first = self._first[self.at]
            last = first + len(self._blocks[self.at].lines)
            if first < self.top or last - first >= self.size.height:
                self.top = first
            elif last > self.top + self.size.height:
                self.top = last - self.size.height
        self._scroll(0)

    def action_step(self, way: int) -> None:
        opening = [i for i, b in enumerate(self._blocks) if b.opens is not None]
        here = self.at
        if here is not None and not self._in_sight(here):
            # After scrolling: the nearest one in sight, from the side one comes from.
            following = [i for i in opening if self._in_sight(i)]
        else:
            following = [i for i in opening if here is None or (i - here) * way > 0]
        ahead = next(iter(following if way > 0 else reversed(following)), None)
        if ahead is not None and self._near(ahead, way):
            self.at = ahead
            self._into_sight()
            if ahead == opening[0]:
                self._scroll(
                    -min(self.top, self._first[ahead] if self._first[ahead] < self.size.height else 0)
                )
        else:
            self._scroll(way)

    def _near(self, number: int, way: int) -> bool:
        """Whether a block is in sight or just beyond the edge, so that nothing is jumped over unread."""
        first = self._first[number]
        if way > 0:
            return first <= self.top + self.size.height
        return first + len(self._blocks[number].lines) - 1 >= self.top - 1

    def action_page(self, way: int) -> None:
        self._scroll(way * max(1, self.size.height - 2))
        self._follow(0)

    def action_end(self, way: int) -> None:
        self._scroll(way * len(self._lines))
        self._follow(0 if way < 0 else -1)

    def _follow(self, which: int) -> None:
        """The cursor comes along where it is left behind: Enter opens only what can be seen."""
        seen = [i for i, b in enumerate(self._blocks) if b.opens is not None and self._in_sight(i)]
        if seen and (self.at not in seen or which):
            self.at = seen[which]

    def action_open(self) -> None:
        # What cannot be seen is not opened.
        if self.at is not None and self._in_sight(self.at):
            opens = self._blocks[self.at].opens
            if opens is not None:
                self.post_message(self.Chosen(opens))

    # The mouse. --------------------------------------------------------------------------------------------

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        event.stop()
        self._scroll(_WHEEL)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        event.stop()
        self._scroll(-_WHEEL)

    def on_click(self, event: events.Click) -> None:
        line = self.top + event.y
        if line < len(self._lines):
            number = self._lines[line][0]
            if self._blocks[number].opens is not None:
                self.at = number
                self.refresh()
                self.action_open()

    # Drawing. ----------------------------------------------------------------------------------------------

    def render(self) -> Content:
        width, height = self.size.width - GUTTERS, self.size.height
        rows = []
        thumb = self._thumb(height)
        for y in range(height):
            line = self.top + y
            number, words = self._lines[line] if line < len(self._lines) else (-1, Content(""))
            chosen = number >= 0 and number == self.at and self.has_focus
            mark = "› " if chosen and line == max(self._first[number], self.top) else "  "
            words = words.truncate(width, ellipsis=True)
            words = words.pad_right(max(0, width - words.cell_length))
            if chosen:
                words = words.stylize("bold $who")
            rows.append(Content.assemble((mark, "bold $key"), words, (thumb[y], "$wall")))
        return Content("\n").join(rows)

    def _thumb(self, height: int) -> str:
        """Where in the whole one is, at the right edge; nothing where all is in sight."""
        if len(self._lines) <= height or height < 2:
            return " " * height
        size = max(1, height * height // len(self._lines))
        start = round((height - size) * self.top / max(1, self._most_top()))
        return " " * start + "┃" * size + " " * (height - size - start)

    def on_focus(self) -> None:
        self.refresh()

    def on_blur(self) -> None:
        self.refresh()
