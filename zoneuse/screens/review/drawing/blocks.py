"""What a screen lists: blocks of lines, some of which open something. Made anew for each width."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size
from textual.content import Content

from ....study import visible
from ..background.crossing import Heading, TableRow
from .bars import fit

_UNIT = re.compile(r"(\d) (?=[%°])")
_GAP = 2
# A space at which a line is not broken.
_KEPT = "\u00a0"


@dataclass(frozen=True, slots=True)
class OpenAnswer:
    """Open an answer's screen."""

    name: str


@dataclass(frozen=True, slots=True)
class OpenSessions:
    """Open the sessions behind something; ``about`` are its ids, none for all of them."""

    title: str
    about: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OpenRecords:
    """Open one session's records."""

    session: str
    about: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OpenLast:
    """Open the last records of every kind."""


@dataclass(frozen=True, slots=True)
class OpenMend:
    """Open one record, to be mended: session, part, number, and the identity of its file."""

    place: tuple[str, int, int, str]


@dataclass(frozen=True, slots=True)
class OpenFilters:
    """Open the choice of filters."""


@dataclass(frozen=True, slots=True)
class OpenKeys:
    """Open the list of keys."""


@dataclass(frozen=True, slots=True)
class Pressed:
    """Something of the screen's own: a choice to make."""

    what: str
    value: str = ""


Opens = OpenAnswer | OpenSessions | OpenRecords | OpenLast | OpenMend | OpenFilters | OpenKeys | Pressed


@dataclass(frozen=True, slots=True)
class TextBlock:
    """Lines that belong together; ``opens`` says what Enter or a touch does."""

    lines: tuple[Content, ...]
    opens: Opens | None = None


def plain_lines(*lines: str, style: str = "", opens: Opens | None = None) -> TextBlock:
    return TextBlock(tuple(Content.styled(line, style) if style else Content(line) for line in lines), opens)


BLANK = plain_lines("")


def wrapped(
    text: str, width: int, first: str = "", rest: str = "", style: str = "", *, opens: Opens | None = None
) -> TextBlock:
    """Sentences, broken at spaces; a value and its unit stay on one line."""
    shown = _KEPT.join(visible(part) for part in text.split(_KEPT))
    kept = _UNIT.sub(f"\\1{_KEPT}", shown)
    lines = broken(kept, max(width, 16), first, rest)
    return plain_lines(*(line.replace(_KEPT, " ") for line in lines), style=style, opens=opens)


def broken(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """Lines of at most ``width`` cells; letters of two cells count as two, a word too long is cut.

    >>> broken("two words here", 9, "- ", "  ")
    ['- two', '  words', '  here']
    """
    lines, line = [], first
    for word in text.split(" "):
        gap = "" if line in (first, rest) else " "
        if line not in (first, rest) and cell_len(line) + cell_len(gap + word) > width:
            lines.append(line)
            line, gap = rest, ""
        while cell_len(line + gap + word) > width:
            room = max(1, width - cell_len(line + gap))
            head = set_cell_size(word, room).rstrip(" ") or word[:1]
            lines.append(line + gap + head)
            word, line, gap = word[len(head) :], rest, ""
        line += gap + word
    return [*lines, line]


def heading(text: str, width: int) -> list[TextBlock]:
    """A blank line and what comes next."""
    return [BLANK, wrapped(text, width, style="bold $who")]


def table(headings: Sequence[Heading], rows: Sequence[TableRow], width: int, narrow: bool) -> list[TextBlock]:
    """Rows under their headings; each opens the sessions behind it. The first columns give way where it is wide."""
    if not headings or not rows:
        return []
    picked = [i for i, one in enumerate(headings) if one.narrow or not narrow]
    gap = 1 if narrow else _GAP
    cells = [[visible(row.cells[i]) for i in picked] for row in rows]
    heads = [headings[i].text for i in picked]
    left = [headings[i].left for i in picked]
    wants = [max(map(cell_len, column)) for column in zip(heads, *cells, strict=True)]
    widths = _shrunk(wants, left, width - gap * (len(picked) - 1), heads)
    blocks = [plain_lines(*_lines(heads, widths, left, gap), style="$muted")]
    for row, line in zip(rows, cells, strict=True):
        title = " ".join(itertools.compress(line, left))
        opens = OpenSessions(title, row.about) if row.about else None
        blocks.append(plain_lines(*_lines(line, widths, left, gap), opens=opens))
    return blocks


def _shrunk(wants: list[int], left: list[bool], room: int, heads: list[str]) -> list[int]:
    """Columns of words fold where they do not fit; numbers stay whole."""
    widths = list(wants)
    while sum(widths) > room:
        wordy = [c for c in range(len(widths)) if left[c] and widths[c] > max(6, min(cell_len(heads[c]), 8))]
        if not wordy:
            break
        widest = max(wordy, key=lambda c: widths[c])
        widths[widest] -= 1
    return widths


def _lines(cells: Sequence[str], widths: Sequence[int], left: Sequence[bool], gap: int) -> Iterable[str]:
    """A row's cells, words folded over several lines."""
    folded = [
        broken(cell, width) if is_left and cell_len(cell) > width else [cell]
        for cell, width, is_left in zip(cells, widths, left, strict=True)
    ]
    for number in range(max(len(lines) for lines in folded)):
        parts = [
            fit(lines[number] if number < len(lines) else "", width, right=not is_left)
            for lines, width, is_left in zip(folded, widths, left, strict=True)
        ]
        yield (" " * gap).join(parts).rstrip()
