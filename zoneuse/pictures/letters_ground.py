"""The enclosure from above with letters: walls between zones, their names on the walls, shades for the tracks.

A wall stands between cells and takes none away: an animal that rests along it is drawn beside it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TypeVar

from rich.cells import cell_len, set_cell_size

from ..study import visible
from .ground import Ground

SHADES = " ░▒▓█"
GLYPHS = {"core": "█", "much": "▓", "some": "▒", "rare": "░"}
# By the walls up, down, left and right of a corner.
T = TypeVar("T")
_CORNERS = " ╵╷│╴┘┐┤╶└┌├─┴┬┼"
_LEAST_NAME = 3
# Beyond the picture: never a place's id.
_OUT = "\0"
Cells = tuple[tuple[str, ...], ...]


def ground_lines(ground: Ground, width: int) -> Iterator[str]:
    """Heading, picture and key in at most so many cells across."""
    yield from textwrap.wrap(visible(ground.heading), width)
    made, rest = _fitted(ground, width)
    yield from made
    key = [f"{GLYPHS[k.glyph]} {k.says}" for k in ground.key if k.glyph in GLYPHS]
    # An entry stays on one line where it fits on one.
    words = "  ".join(one.replace(" ", "\u00a0") for one in (*key, *rest))
    yield from (line.replace("\u00a0", " ") for line in textwrap.wrap(words, width))


def _fitted(ground: Ground, width: int) -> tuple[list[str], list[str]]:
    """The finest picture that fits; cells are near enough square, a letter being twice as high as it is wide."""
    made: list[str] = []
    rest: list[str] = []
    for across, down, letters in ((1, 1, 2), (1, 2, 1), (2, 2, 2), (2, 4, 1), (4, 4, 2), (4, 8, 1)):
        made, rest = _drawn(_merged(ground, across, down), letters)
        if all(cell_len(line) <= width for line in made):
            return made, rest
    return [set_cell_size(line, width) for line in made], rest


def _merged(ground: Ground, across: int, down: int) -> Ground:
    """Several cells as one: as dark as the darkest of them, in the place of the first of these."""
    rows, columns = len(ground.grid), len(ground.grid[0])
    grid, dark = [], []
    for top in range(0, rows, down):
        places, darks = [], []
        for left in range(0, columns, across):
            some = [
                (ground.dark[r][c], ground.grid[r][c])
                for r in range(top, min(top + down, rows))
                for c in range(left, min(left + across, columns))
            ]
            most = max(level for level, _ in some)
            darks.append(most)
            places.append(next(place for level, place in some if level == most))
        grid.append(tuple(places))
        dark.append(tuple(darks))
    return Ground(tuple(grid), tuple(dark), ground.names, ground.heading, ground.key)


def _drawn(ground: Ground, letters: int) -> tuple[list[str], list[str]]:
    """Lines of the picture, and what the numbers stand for that took the place of names too long."""
    walls, names = _Walls(ground), _Names(ground)
    made = []
    for r in range(len(ground.grid) + 1):
        if any(walls.flat[r]):
            made.append(_wall_line(ground, r, walls, letters, names))
        if r < len(ground.grid):
            made.append(_cell_line(ground.dark[r], walls, r, letters))
    return made, names.rest


class _Walls:
    """Where walls stand: ``upright`` left of each cell and ``flat`` above it, the enclosure's own included;
    ``shown``: the lines between columns on which any row has one."""

    def __init__(self, ground: Ground) -> None:
        rows, columns = len(ground.grid), len(ground.grid[0])
        outer = (_OUT,) * (columns + 2)
        grid = [outer, *((_OUT, *row, _OUT) for row in ground.grid), outer]
        self.upright = [
            [grid[r + 1][c] != grid[r + 1][c + 1] for c in range(columns + 1)] for r in range(rows)
        ]
        self.flat = [[grid[r][c + 1] != grid[r + 1][c + 1] for c in range(columns)] for r in range(rows + 1)]
        self.shown = [any(row[c] for row in self.upright) for c in range(columns + 1)]

    def corner(self, r: int, c: int) -> str:
        """What stands where line ``r`` between rows meets line ``c`` between columns."""
        rows, columns = len(self.upright), len(self.shown) - 1
        up, down = r > 0 and self.upright[r - 1][c], r < rows and self.upright[r][c]
        left, right = c > 0 and self.flat[r][c - 1], c < columns and self.flat[r][c]
        return _CORNERS[up + 2 * down + 4 * left + 8 * right]


def _cell_line(dark: Sequence[int], walls: _Walls, r: int, letters: int) -> str:
    line = ""
    for c in range(len(dark) + 1):
        if walls.shown[c]:
            # Where another row has a wall here, the lighter of both sides goes on.
            between = min(dark[c - 1], dark[c]) if 0 < c < len(dark) else 0
            line += "│" if walls.upright[r][c] else SHADES[between]
        if c < len(dark):
            line += SHADES[dark[c]] * letters
    return line


class _Names:
    """Each place's name once, on the wall above it; a number where the wall is too short, told below."""

    def __init__(self, ground: Ground) -> None:
        self.names = ground.names
        self.told: set[str] = {""}
        self.rest: list[str] = []

    def on(self, place: str, room: int) -> str:
        """What is written on a wall of so many letters above a place."""
        if place in self.told or not room:
            return ""
        self.told.add(place)
        name = visible(self.names.get(place, place))
        if cell_len(name) <= room:
            return name
        if room > 2 * _LEAST_NAME:
            return set_cell_size(name, room - 1) + "…"
        number = str(len(self.rest) + 1)
        self.rest.append(f"{number} {name}")
        return number if len(number) <= room else ""


def _wall_line(ground: Ground, r: int, walls: _Walls, letters: int, names: _Names) -> str:
    """The line between two rows, with the names of the places below it."""
    line: list[str] = []
    below: list[str] = []
    for c, shown in enumerate(walls.shown):
        place = _at(ground.grid, r, c, "")
        if shown:
            corner = walls.corner(r, c)
            line.append(corner if corner != " " else _between(ground, r, c))
            below.append(place)
        if c < len(ground.grid[0]):
            line += ["─" if walls.flat[r][c] else _between(ground, r, c, 0)] * letters
            below += [place] * letters
    start = 0
    for (sign, place), run in groupby(zip(line, below, strict=True)):
        room = len(list(run))
        if sign == "─" and (name := names.on(place, room)):
            line[start : start + cell_len(name)] = [name, *[""] * (cell_len(name) - 1)]
        start += room
    return "".join(line)


def _between(ground: Ground, r: int, c: int, reach: int = 1) -> str:
    """The lightest shade of the cells that meet above and below, and ``reach`` to the left."""
    meet = [_at(ground.dark, i, j, 0) for i in (r - 1, r) for j in range(c - reach, c + 1)]
    return SHADES[min(meet)]


def _at(table: Sequence[Sequence[T]], r: int, c: int, nothing: T) -> T:
    return table[r][c] if 0 <= r < len(table) and 0 <= c < len(table[0]) else nothing
