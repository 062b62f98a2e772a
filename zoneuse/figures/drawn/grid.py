"""A grid of places: the room each has for words, its parts that lie apart, and the walls between."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from .shapes import Stroke

Grid = tuple[tuple[str, ...], ...]
NOTHING = ""
# How high a room's words stand, in pixels; in a wide room two of them share a line.
WORDS_HIGH, LINE_HIGH, WORDS_WIDE = 102, 16, 150


@dataclass(frozen=True, slots=True)
class Free:
    """The free rectangle of a place, in cells."""

    top: int
    left: int
    rows: int
    columns: int


@functools.cache
def rooms_of(grid: Grid, wide: float, high: float) -> dict[str, Free]:
    """For each place the rectangle of its cells with most room for words."""
    return {
        p: largest(grid, p, wide, high) for p in dict.fromkeys(p for row in grid for p in row if p != NOTHING)
    }


def words_high(wide: float) -> int:
    """How high the words of a room so wide stand."""
    return WORDS_HIGH - (LINE_HIGH if wide >= WORDS_WIDE else 0)


def largest(grid: Grid, place: str, wide: float, high: float) -> Free:
    """The rectangle of a place's cells that suits its words best; cells are ``wide`` by ``high`` pixels."""
    best, worth = Free(0, 0, 0, 0), -1.0
    for top in range(len(grid)):
        for left in range(len(grid[0])):
            columns = len(grid[0]) - left
            for bottom in range(top, len(grid)):
                run = 0
                while run < columns and grid[bottom][left + run] == place:
                    run += 1
                columns = run
                if not columns:
                    break
                tall = bottom - top + 1
                # Enough for the words first; then width, as it makes all bars longer.
                need = words_high(columns * wide)
                value = (
                    min(tall * high, need) * min(columns * wide, WORDS_WIDE) / need + 0.05 * columns * wide
                )
                if value > worth:
                    best, worth = Free(top, left, tall, columns), value
    return best


def pieces_apart(grid: Grid, place: str, room: Free) -> Iterator[set[tuple[int, int]]]:
    """The parts of a place that hang together and do not hold its room."""
    left = {(r, c) for r, row in enumerate(grid) for c, cell in enumerate(row) if cell == place}
    while left:
        piece, edge = set(), [left.pop()]
        while edge:
            r, c = edge.pop()
            piece.add((r, c))
            near = {(r - 1, c), (r + 1, c), (r, c - 1), (r, c + 1)} & left
            left -= near
            edge += near
        if (room.top, room.left) not in piece:
            yield piece


def wall(one: str, other: str) -> str:
    """What stands between two cells: nothing, an inner wall, or the enclosure's own."""
    return "" if one == other else "outer" if NOTHING in (one, other) else "inner"


def walls(edges: list[tuple[tuple[str, int], int, str]]) -> Iterator[tuple[tuple[str, int], int, int, bool]]:
    """Walls in one piece: (line, from, to, whether it is the enclosure's own)."""
    for line, listed in itertools.groupby(sorted(edges), key=lambda e: e[0]):
        steps = list(listed)
        for kind, run in itertools.groupby(steps, key=lambda e: e[2]):
            cells = [e[1] for e in run]
            if kind:
                yield line, cells[0], cells[-1] + 1, kind == "outer"


def wall_strokes(grid: Grid, wide: float, high: float, top: float) -> Iterator[Stroke]:
    """The walls as lines, for cells of ``wide`` by ``high`` pixels."""

    def at(r: int, c: int) -> str:
        return grid[r][c] if 0 <= r < len(grid) and 0 <= c < len(grid[0]) else NOTHING

    def inside(value: float, most: float) -> float:
        return min(max(value, 0.8), most - 0.8)

    w, h = wide * len(grid[0]), high * len(grid)
    edges = []
    for r in range(len(grid) + 1):
        for c in range(len(grid[0]) + 1):
            edges.append((("level", r), c, wall(at(r - 1, c), at(r, c))))
            edges.append((("upright", c), r, wall(at(r, c - 1), at(r, c))))
    for (way, line), begin, end, outer in walls(edges):
        colour, width = ("ink" if outer else "muted"), (1.6 if outer else 1.0)
        if way == "level":
            y = top + inside(line * high, h)
            points = ((inside(begin * wide, w), y), (inside(end * wide, w), y))
        else:
            x = inside(line * wide, w)
            points = ((x, top + inside(begin * high, h)), (x, top + inside(end * high, h)))
        yield Stroke(points, colour, width)  # type: ignore[arg-type]
