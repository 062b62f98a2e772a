"""The enclosure as rooms of lines and corners, from a study's sketch or as a tidy grid."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

# Corner pieces by the arms they join: up 1, down 2, left 4, right 8.
_CORNERS = " ╵╷│╴┘┐┤╶└┌├─┴┬┼"
NOTHING = "."
# Rows of cells; a cell holds a zone's key, or a dot.
Cells = Sequence[Sequence[str]]


@dataclass(frozen=True, slots=True)
class Room:
    """The free rectangle inside a zone where its words go; ``left`` and ``top`` in characters from 0."""

    key: str
    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class SketchDrawing:
    """``lines`` hold the walls; ``owner`` says whose key each character belongs to ("" where it is wall)."""

    lines: tuple[str, ...]
    owner: tuple[tuple[str, ...], ...]
    rooms: Mapping[str, Room]


@dataclass(frozen=True, slots=True)
class SketchFigure:
    """Something to be seen in a room: its text, ``x`` from 0 to 1 across the room, and which free row it keeps to."""

    text: str
    x: float
    row: int = 0


def figure_at(figure: SketchFigure, room: Room, words: int) -> tuple[int, int]:
    """The column and line at which a figure is drawn, in characters; ``words`` lines of the room are taken.

    Where no line is free it shares the last one and keeps to the right half.
    """
    free = room.height - words
    if free > 0:
        left, width, top = room.left, room.width, room.top + words + figure.row % free
    else:
        half = room.width // 2
        left, width, top = room.left + half, room.width - half, room.top + room.height - 1
    column = left + round(figure.x * max(0, width - len(figure.text)))
    return max(room.left, min(column, room.left + room.width - len(figure.text))), top


def grid_for(keys: Sequence[str], width: int, height: int) -> tuple[tuple[str, ...], ...]:
    """A tidy grid of rooms where there is no sketch: as square as the space allows, the last row stretched.

    >>> grid_for("abc", 40, 10)
    (('a', 'b'), ('c', 'c'))
    """
    if not keys:
        return ()
    most = max(1, (width - 1) // 9)
    columns = min(len(keys), most, _square(len(keys), width, height))
    rows = [list(keys[i : i + columns]) for i in range(0, len(keys), columns)]
    last = rows[-1]
    rows[-1] = [last[min(i * len(last) // columns, len(last) - 1)] for i in range(columns)]
    return tuple(tuple(row) for row in rows)


def _square(count: int, width: int, height: int) -> int:
    """Columns that make rooms of about 2.5 characters in width to one in height."""
    return max(1, round(math.sqrt(count * max(width, 1) / (5 * max(height, 1)))))


def with_all(sketch: Cells, keys: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """The sketch made rectangular, with a row below it for zones it does not show."""
    width = max((len(row) for row in sketch), default=0)
    rows = [(*row, *[NOTHING] * (width - len(row))) for row in sketch]
    undrawn = [key for key in keys if not any(key in row for row in rows)]
    if undrawn and width:
        wide = max(width, len(undrawn))
        rows = [_widened(row, wide) for row in rows]
        rows.append(_widened(undrawn, wide))
    return tuple(rows)


def _widened(row: Sequence[str], width: int) -> tuple[str, ...]:
    return tuple(row[i * len(row) // width] for i in range(width))


def draw(sketch: Cells, width: int, height: int, least: int = 3) -> SketchDrawing | None:
    """Walls between unlike neighbours, to fill the space given; None where a room would be narrower than ``least``."""
    rows, columns = len(sketch), len(sketch[0]) if sketch else 0
    if not rows or not columns or (width - 1) < columns * 2 or (height - 1) < rows:
        return None
    xs = [round(i * (width - 1) / columns) for i in range(columns + 1)]
    ys = [round(i * (height - 1) / rows) for i in range(rows + 1)]
    rooms = _rooms(sketch, (xs, ys), least)
    if rooms is None:
        return None
    arms = _arms(sketch, xs, ys)
    lines = tuple("".join(_CORNERS[a] for a in row) for row in arms)
    return SketchDrawing(lines, _owners(sketch, arms, xs, ys), rooms)


def _rooms(sketch: Cells, edges: tuple[Sequence[int], Sequence[int]], least: int) -> dict[str, Room] | None:
    """Each zone's free rectangle; None where one has none, or one too small for words."""
    rooms = {}
    for key in _keys(sketch):
        room = _largest(sketch, key, *edges)
        if room is None or room.width < least or room.height < 1:
            return None
        rooms[key] = room
    return rooms


def _owners(
    sketch: Cells, arms: Sequence[Sequence[int]], xs: Sequence[int], ys: Sequence[int]
) -> tuple[tuple[str, ...], ...]:
    """Whose key each character belongs to, empty where it is wall or nothing."""
    return tuple(
        tuple(
            "" if arms[y][x] or (key := _at(sketch, _cell(ys, y), _cell(xs, x))) == NOTHING else key
            for x in range(xs[-1] + 1)
        )
        for y in range(ys[-1] + 1)
    )


def _keys(sketch: Cells) -> list[str]:
    return list(dict.fromkeys(key for row in sketch for key in row if key != NOTHING))


def _at(sketch: Cells, row: int, column: int) -> str:
    if 0 <= row < len(sketch) and 0 <= column < len(sketch[0]):
        return sketch[row][column]
    return NOTHING


def _cell(edges: Sequence[int], at: int) -> int:
    """Which cell a character lies in; on a wall, the one before it."""
    return next((i for i in range(len(edges) - 1) if edges[i] <= at < edges[i + 1]), len(edges) - 2)


def _arms(sketch: Cells, xs: Sequence[int], ys: Sequence[int]) -> list[list[int]]:
    """For each character the directions in which a wall leaves it."""
    arms = [[0] * (xs[-1] + 1) for _ in range(ys[-1] + 1)]
    for r in range(len(ys)):
        for c in range(len(xs)):
            if c + 1 < len(xs) and _at(sketch, r - 1, c) != _at(sketch, r, c):
                for x in range(xs[c], xs[c + 1]):
                    arms[ys[r]][x] |= 8
                    arms[ys[r]][x + 1] |= 4
            if r + 1 < len(ys) and _at(sketch, r, c - 1) != _at(sketch, r, c):
                for y in range(ys[r], ys[r + 1]):
                    arms[y][xs[c]] |= 2
                    arms[y + 1][xs[c]] |= 1
    return arms


def _largest(sketch: Cells, key: str, xs: Sequence[int], ys: Sequence[int]) -> Room | None:
    """The largest rectangle of characters all inside one zone."""
    best: Room | None = None
    cells = [(r, c) for r, row in enumerate(sketch) for c, cell in enumerate(row) if cell == key]
    for top, left in cells:
        right_end = len(sketch[0])
        for bottom in range(top, len(sketch)):
            right = left
            while right < right_end and sketch[bottom][right] == key:
                right += 1
            right_end = right
            if right_end == left:
                break
            room = Room(
                key, xs[left] + 1, ys[top] + 1, xs[right_end] - xs[left] - 1, ys[bottom + 1] - ys[top] - 1
            )
            if room.width > 0 and room.height > 0 and (best is None or _worth(room) > _worth(best)):
                best = room
    return best


def _worth(room: Room) -> tuple[int, int]:
    """Words want width: a room counts at most four lines high."""
    return room.width * min(room.height, 4), room.height


def room_lines(room: Room, pieces: Sequence[str]) -> list[str]:
    """The words of a room, most important first, cut to what fits and never past it."""
    lines: list[str] = []
    for piece in pieces:
        if piece and len(lines) < room.height:
            lines.append(piece if len(piece) <= room.width else piece[: max(0, room.width - 1)] + "…")
    return lines
