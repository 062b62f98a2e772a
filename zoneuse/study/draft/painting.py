"""The sketch as a canvas of cells: painted, rubbed out, and written back without touching rows that stay."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ..keys import cells_of
from ..model import ONLY
from ..sketch import NOTHING
from ..toml.edits import GONE, Edit, Place
from .forms import section

Cells = tuple[tuple[str, ...], ...]
# What there is to paint on before anything is painted: columns, rows.
CANVAS = (12, 6)
_LARGEST = (36, 24)


def whole(cells: Sequence[Sequence[str]]) -> Cells:
    """Cells with every row as long as the longest."""
    width = max((len(row) for row in cells), default=0)
    return tuple((*row, *[NOTHING] * (width - len(row))) for row in cells)


def rows_of(cells: Cells) -> list[str]:
    """The rows as study.toml has them."""
    wide = any(len(cell) > 1 for row in cells for cell in row)
    return [(" " if wide else "").join(row) for row in cells]


def place_of(enclosure: str) -> Place:
    return ("enclosure", "sketch") if enclosure == ONLY else ("enclosures", enclosure, "sketch")


def sketched(values: Mapping[str, Any], enclosure: str) -> Cells:
    """What is painted in an enclosure so far."""
    *above, last = place_of(enclosure)
    rows = section(values, tuple(above)).get(str(last))
    return whole(cells_of(map(str, rows))) if isinstance(rows, list) else ()


def canvas(cells: Cells, least: tuple[int, int] = CANVAS) -> Cells:
    """The sketch with room to paint on, to its right and below it."""
    width = max(len(cells[0]) if cells else 0, least[0])
    height = max(len(cells), least[1])
    rows = [(*row, *[NOTHING] * (width - len(row))) for row in cells]
    return (*rows, *[(NOTHING,) * width] * (height - len(rows)))


def trimmed(cells: Cells) -> Cells:
    """Without empty rows below and empty columns to the right."""
    rows = list(cells)
    while rows and all(c == NOTHING for c in rows[-1]):
        rows.pop()
    width = max((i + 1 for row in rows for i, c in enumerate(row) if c != NOTHING), default=0)
    return tuple(row[:width] for row in rows)


def painted(cells: Cells, spots: Iterable[tuple[int, int]], key: str) -> Cells:
    """With the cells at (row, column) in a room's key, or rubbed out with "". The canvas grows where it must."""
    wanted = [(r, c) for r, c in spots if 0 <= r < _LARGEST[1] and 0 <= c < _LARGEST[0]]
    if not wanted:
        return cells
    grown = canvas(cells, (max(c for _, c in wanted) + 1, max(r for r, _ in wanted) + 1))
    rows = [list(row) for row in grown]
    for r, c in wanted:
        rows[r][c] = key or NOTHING
    return tuple(tuple(row) for row in rows)


def rectangle(one: tuple[int, int], other: tuple[int, int]) -> list[tuple[int, int]]:
    """The cells between two corners."""
    (top, bottom), (left, right) = sorted((one[0], other[0])), sorted((one[1], other[1]))
    return [(r, c) for r in range(top, bottom + 1) for c in range(left, right + 1)]


def drawn(values: Mapping[str, Any], enclosure: str, cells: Cells) -> list[Edit]:
    """The edits by which a sketch becomes these cells: row by row."""
    place = place_of(enclosure)
    before = section(values, place[:-1]).get("sketch")
    rows = rows_of(trimmed(cells))
    if not rows:
        return [Edit(place, GONE)] if before is not None else []
    if isinstance(before, list) and before:
        # Row by row, so that words behind a row stay.
        surplus = [Edit((*place, i), GONE) for i in range(len(before) - 1, len(rows) - 1, -1)]
        changed = [
            Edit((*place, i), row) for i, row in enumerate(rows) if i >= len(before) or row != before[i]
        ]
        return [*surplus, *changed]
    return [Edit(place, rows)]


def repainted(values: Mapping[str, Any], enclosure: str, old: str, new: str) -> list[Edit]:
    """The sketch with one key in place of another ("": nothing)."""
    cells = sketched(values, enclosure)
    if not any(old in row for row in cells):
        return []
    after = tuple(tuple((new or NOTHING) if c == old else c for c in row) for row in cells)
    return drawn(values, enclosure, after)
