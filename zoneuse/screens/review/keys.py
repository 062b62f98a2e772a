"""Every key of the review."""

from __future__ import annotations

from collections.abc import Sequence

from ..recorder.panels import Chip
from .base import BACK, ReviewScreen
from .drawing.bars import fit
from .drawing.blocks import BLANK, TextBlock, heading, plain_lines, wrapped

# Key, what it does. The page in docs/ is compared with it.
REVIEW_KEYS = (
    ("1 to 9", "an answer, by its number"),
    ("← →", "the answer before, the answer after"),
    ("↑ ↓", "the next line that opens something; scrolls where there is none in sight"),
    ("Enter", "open the line: an answer, the sessions behind it, a session's records, a record to mend"),
    ("Space", "a page on (Page Up and Page Down, Home and End as usual)"),
    ("Esc", "back; on the first screen, leave"),
    ("/", "filter: animals, time of day, period"),
    ("a zone's key", "on the first screen: the sessions behind that zone"),
    ("F2", "the last records, numbered: show one, correct it or take it back"),
    ("F5", "look at the files again"),
    ("? or F1", "these keys"),
    ("Ctrl+C", "leave at once"),
)
_KEY_CELLS = 14
_SIGNS = (
    (
        "├──●──┤",
        "an estimate with its 95 % limits; ‹ and › go on beyond the edge; ┊ is what it is held against",
    ),
    (":", "what it is compared with: what is offered, in proportion, no change"),
    ("██│██", "a bar; the line marks what was offered"),
    ("2.3 ×", "used 2.3 times its share of what is offered"),
    ("1.9 ×?", "the same, and too early to say more or less"),
    ("·", "not watched, or nothing known"),
)


class KeysScreen(ReviewScreen):
    """Keys first, then what the signs of the charts mean."""

    def title_words(self) -> str:
        return "Keys and signs"

    def keys(self) -> Sequence[Chip]:
        return (BACK,)

    def action_keys(self) -> None:
        self.action_back()

    def blocks(self, width: int) -> Sequence[TextBlock]:
        blocks: list[TextBlock] = [plain_lines("Keys", style="bold $who")]
        blocks += [_line(key, says, width) for key, says in REVIEW_KEYS]
        blocks += [*heading("Signs", width), *(_line(sign, says, width) for sign, says in _SIGNS), BLANK]
        mouse = "A touch opens what it hits: a room, a line, a key at the lower edge; the wheel scrolls."
        return [*blocks, wrapped(mouse, width)]


def _line(key: str, says: str, width: int) -> TextBlock:
    return wrapped(says, width, fit(key, _KEY_CELLS), " " * _KEY_CELLS)
