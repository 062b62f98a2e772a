"""The enclosure from above: the walls between its zones, their names, and shades where tracks were."""

from __future__ import annotations

from collections.abc import Iterator

from ...pictures import Ground
from .glyphs import SHADES, key_drawn, key_height
from .grid import Grid, largest, wall_strokes
from .shapes import SMALL, USUAL, Area, Shape, Words, box, fitting, lines_of, width_of

_HEAD, _LINE, _NAME_HIGH, _CELL_MOST, _HIGH_MOST = 6.0, 16.0, 17.0, 22.0, 420.0


def _cell(ground: Ground, width: float) -> float:
    """The side of a cell in pixels."""
    return min(width / len(ground.grid[0]), _CELL_MOST, _HIGH_MOST / len(ground.grid))


def _head(ground: Ground, width: float) -> list[str]:
    return lines_of(ground.heading, width, USUAL, True)


def ground_height(ground: Ground, width: float) -> float:
    head = _LINE * len(_head(ground, width)) + _HEAD
    return head + len(ground.grid) * _cell(ground, width) + 8 + key_height(ground.key, width)


def ground_drawn(ground: Ground, top: float, width: float) -> Iterator[Shape]:
    for number, line in enumerate(_head(ground, width)):
        yield Words(0, top + 13 + number * _LINE, line, USUAL, bold=True)
    top += _LINE * len(_head(ground, width)) + _HEAD
    side = _cell(ground, width)
    for r, row in enumerate(ground.dark):
        yield from _shades(row, top + r * side, side)
    yield from wall_strokes(ground.grid, side, side, top)
    yield from _frame(ground, side, top)
    for place, name in ground.names.items():
        yield from _name(ground.grid, place, name, side, top)
    yield from key_drawn(ground.key, 0, top + len(ground.grid) * side + 8, width)


def _shades(row: tuple[int, ...], y: float, side: float) -> Iterator[Shape]:
    """Cells that are alike and beside each other in one piece, so that no seam shows between them."""
    start = 0
    for c in range(1, len(row) + 1):
        if c == len(row) or row[c] != row[start]:
            if row[start]:
                area = box(start * side, y, (c - start) * side, side)
                yield Area((area,), "blue", see_through=SHADES[row[start] - 1])
            start = c


def _frame(ground: Ground, side: float, top: float) -> Iterator[Shape]:
    whole = tuple(tuple("whole" for _ in row) for row in ground.grid)
    yield from wall_strokes(whole, side, side, top)


def _name(grid: Grid, place: str, name: str, side: float, top: float) -> Iterator[Shape]:
    """A place's name in its widest corner, on paper, so that it can be read over any shade."""
    if not place:
        return
    free = largest(grid, place, side, side)
    says = fitting(name, free.columns * side - 8, SMALL)
    if len(says) < 2 or not free.rows:
        return
    x, y = free.left * side + 3, top + free.top * side + 3
    if free.rows * side >= _NAME_HIGH:
        yield Area((box(x, y, width_of(says, SMALL) + 4, _NAME_HIGH - 3),), "paper", see_through=0.85)
        yield Words(x + 2, y + 11, says, SMALL)
