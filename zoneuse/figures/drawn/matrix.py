"""Names down and along, with a number in each cell and a bar or a square that grows with it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ...pictures import Matrix
from .glyphs import key_drawn, key_height
from .shapes import SMALL, Area, Shape, Stroke, Words, box, fitting, head_drawn, head_height, width_of

_ROW, _CELL_MOST, _LEVEL = 30.0, 48.0, 26.0


def _sizes(panel: Matrix, width: float) -> tuple[float, float, float, float]:
    """Width of the names, of a cell, height of a row and of the names along."""
    left = min(max((width_of(r.name, SMALL) for r in panel.rows), default=0) + 12, width * 0.3)
    cell = (width - left) / max(len(panel.along), 1)
    row = _ROW
    if panel.squares:
        cell = row = min(cell, _CELL_MOST)
    longest = max((width_of(n, SMALL) for n in panel.along), default=0)
    head = _LEVEL if longest <= cell - 8 else min(longest, 110.0) + 12
    return left, cell, row, head


def matrix_height(panel: Matrix, width: float) -> float:
    _, _, row, head = _sizes(panel, width)
    return head_height(panel.heading, width) + key_height(panel.key, width) + head + len(panel.rows) * row + 8


def matrix_drawn(panel: Matrix, top: float, width: float) -> Iterator[Shape]:
    yield from head_drawn(panel.heading, top, width)
    top += head_height(panel.heading, width)
    yield from key_drawn(panel.key, 0, top, width)
    top += key_height(panel.key, width)
    left, cell, high, head = _sizes(panel, width)
    # Thirty animals on a phone: small words that a finger can enlarge rather than words over words.
    size = min(SMALL, 0.86 * cell) if panel.squares else SMALL
    for j, name in enumerate(panel.along):
        x = left + j * cell
        if head <= _LEVEL:
            middle = panel.squares
            at = x + cell / 2 if middle else x + 4
            yield Words(at, top + head - 9, name, size, "muted", "middle" if middle else "start")
        else:
            says = fitting(name, head - 10, size)
            yield Words(x + cell / 2 + size / 3, top + head - 6, says, size, "muted", upright=True)
    for i, row in enumerate(panel.rows):
        y = top + head + i * high
        yield Stroke(((0, y), (left + len(panel.along) * cell, y)), "faint", 0.8)
        yield Words(
            0, y + high / 2 + 4 - (3 if not panel.squares else 0), fitting(row.name, left - 8, size), size
        )
        for j, value in enumerate(row.values):
            strong = j in row.strong
            if panel.squares:
                yield from _square(left + j * cell, y, cell, value)
            else:
                yield from _share(left + j * cell, y, cell, value, strong=strong)


def _share(x: float, y: float, wide: float, value: float | None, *, strong: bool) -> Iterator[Shape]:
    if value is None or value <= 0:
        yield Words(x + 4, y + 16, "–" if value is None else "0", SMALL, "muted")
        return
    yield Words(x + 4, y + 16, f"{100 * value:.0f}", SMALL, bold=strong)
    room = wide - 8
    yield Area((box(x + 4, y + 21, max(room * min(value, 1.0), 1), 4),), "blue" if strong else "muted")


def _square(x: float, y: float, cell: float, value: float | None) -> Iterator[Shape]:
    """A square whose area, not its side, grows with the number: twice as often is twice the ink."""
    if value is None:
        return
    numbered = cell >= 30
    if value > 0:
        side = (cell - min(8.0, 0.14 * cell)) * math.sqrt(value)
        corner = x + (cell - side) / 2, y + (cell - side) / 2
        yield Area((box(*corner, side, side),), "blue", see_through=0.28 if numbered else 1.0)
    if numbered:
        said = f"{value:.2f}".removeprefix("0") if value < 0.995 else "1"
        yield Words(x + cell / 2, y + cell / 2 + 4, said, SMALL, anchor="middle")
