"""Shapes: what a layout makes of a picture, in pixels of 1/96 inch from the top left corner."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from ...study import visible

Colour = Literal["ink", "muted", "faint", "paper", "blue", "rust", "shade", "none"]
SMALL, USUAL, TITLE = 11.5, 12.5, 16.0
# Widths of the letters from space to tilde, in thousandths of their size: those of a broad typeface, so that words
# laid out by them fit in any usual one.
_WIDTHS = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775,
    752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390,
    337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612,
    635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
)  # fmt: skip
_OTHER = {"·": 0.318, "–": 0.5, "°": 0.5, "…": 1.0, "—": 1.0, "×": 0.838, "≥": 0.838, "\u00a0": 0.318}
_BOLD = 1.13


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points."""

    points: tuple[tuple[float, float], ...]
    colour: Colour
    width: float
    dashes: tuple[float, ...] = ()
    round: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A filled outline; several rings of points may make one shape."""

    rings: tuple[tuple[tuple[float, float], ...], ...]
    fill: Colour
    edge: Colour = "none"
    width: float = 0.0
    see_through: float = 1.0


@dataclass(frozen=True, slots=True)
class Disc:
    x: float
    y: float
    radius: float
    fill: Colour
    edge: Colour
    width: float = 1.3


@dataclass(frozen=True, slots=True)
class Words:
    x: float
    y: float
    says: str
    size: float = SMALL
    colour: Colour = "ink"
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False
    upright: bool = False


Shape = Stroke | Area | Disc | Words


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes on a sheet of ``width`` by ``height`` pixels."""

    width: float
    height: float
    shapes: tuple[Shape, ...]


def box(x: float, y: float, wide: float, high: float) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))


def width_of(says: str, size: float = SMALL, bold: bool = False) -> float:
    """How wide words will be at most, in pixels.

    >>> round(width_of("Moss end", 10))
    47
    """
    total = sum(_letter(c) for c in visible(says))
    return total * size * (_BOLD if bold else 1.0)


def _letter(c: str) -> float:
    if " " <= c <= "~":
        return _WIDTHS[ord(c) - 32] / 1000
    if c in _OTHER:
        return _OTHER[c]
    if unicodedata.combining(c):
        return 0.0
    return 1.05 if unicodedata.east_asian_width(c) in "WF" else 0.75


def fitting(says: str, width: float, size: float = SMALL, bold: bool = False) -> str:
    """Words cut to a width, with an ellipsis where something is gone."""
    shown = visible(says)
    if width_of(shown, size, bold) <= width:
        return shown
    while shown and width_of(shown + "…", size, bold) > width:
        shown = shown[:-1]
    return shown.rstrip() + "…" if shown else ""


# The height of a heading's first line, and of each further one.
HEAD, HEAD_MORE = 22.0, 17.0


def head_height(heading: str, width: float) -> float:
    """What a panel's heading takes: it is broken into lines, never cut; nothing where there is none."""
    return HEAD + HEAD_MORE * (len(lines_of(heading, width, USUAL, True)) - 1) if heading else 0.0


def head_drawn(heading: str, top: float, width: float) -> Iterator[Shape]:
    for number, line in enumerate(lines_of(heading, width, USUAL, True)):
        yield Words(0, top + 13 + HEAD_MORE * number, line, USUAL, bold=True)


def lines_of(says: str, width: float, size: float = SMALL, bold: bool = False) -> list[str]:
    """Words broken into lines of a width; a word too long for one is cut."""
    lines: list[str] = []
    for word in visible(says).split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size, bold) <= width:
            lines[-1] = longer
        else:
            lines.append(fitting(word, width, size, bold))
    return lines
