"""Lines to choose from; the one that Enter takes has a mark before it, so that it is not told by its shade alone."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from textual.content import Content
from textual.widgets import OptionList
from textual.widgets.option_list import Option

_MARK, _NONE = "▸ ", "  "


class MarkedList(OptionList):
    """``at`` is the marked line, None where one has to be gone to first. A long line goes on below its own words."""

    can_focus = False

    def __init__(self, says: Sequence[str] = (), at: int | None = None, id: str | None = None) -> None:
        super().__init__(id=id)
        self._says, self._at = list(says), at

    def show(self, says: Sequence[str], at: int | None) -> None:
        self._says, self._at = list(says), at
        self._lay()

    def go_to(self, at: int | None) -> None:
        """Mark another line."""
        old, self._at = self._at, at
        for index in {old, at} - {None}:
            assert index is not None
            if index < self.option_count:
                self.replace_option_prompt_at_index(index, self._line(index))
        self.highlighted = at

    def on_mount(self) -> None:
        self._lay()

    def on_resize(self) -> None:
        self._lay()

    def _lay(self) -> None:
        self.set_options([Option(self._line(index)) for index in range(len(self._says))])
        self.highlighted = self._at

    def _line(self, index: int) -> Content:
        # Before it is laid out, and where there is hardly any room, a line is not parted here.
        width = self.scrollable_content_region.width or self.app.size.width
        words = self._says[index]
        rows = textwrap.wrap(words, width - len(_MARK)) if width > 2 * len(_MARK) + 6 else [words]
        mark = _MARK if index == self._at else _NONE
        return Content(mark + f"\n{_NONE}".join(rows))
