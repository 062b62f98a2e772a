"""The enclosure as it is built: in each room its use, what it offers, its number and its verdict."""

from __future__ import annotations

from collections.abc import Iterator

from ...pictures import RoomShown, RoomsShown, boxes
from .glyphs import interval, key_drawn, key_height, offered
from .grid import NOTHING, Free, Grid, largest, pieces_apart, rooms_of, wall_strokes, words_high
from .rows import NARROW
from .shapes import (
    SMALL,
    USUAL,
    Area,
    Colour,
    Shape,
    Words,
    box,
    fitting,
    head_drawn,
    head_height,
    lines_of,
    width_of,
)

_PAD, _LINE, _BAR = 8.0, 16.0, 9.0
_LEAST_WIDE = 62.0
# A further line of a name, and the least height beneath it for the bar, the number and the verdict.
_NAME, _LEAST_HIGH = 14.0, 60.0


def grid_for(panel: RoomsShown, width: float) -> Grid:
    """The grid, or tidy boxes where its rooms would be too small for words."""
    grid = panel.grid
    rooms = rooms_of(grid, width / len(grid[0]), 60.0)
    if all(r.columns * width / len(grid[0]) >= _LEAST_WIDE for r in rooms.values()):
        return grid
    return boxes(list(rooms), 2 if width < NARROW else 4)


def _cell_height(grid: Grid, width: float) -> float:
    """The least height of a cell at which every room holds all its words, within reason."""
    wide = width / len(grid[0])
    for high in range(34, 112, 2):
        rooms = rooms_of(grid, wide, float(high)).values()
        if all(r.rows * high >= words_high(r.columns * wide) for r in rooms):
            return float(high)
    return 112.0


def rooms_height(panel: RoomsShown, width: float) -> float:
    grid = grid_for(panel, width)
    head = head_height(panel.heading, width) or 2
    return head + len(grid) * _cell_height(grid, width) + 8 + key_height(panel.key, width)


def rooms_drawn(panel: RoomsShown, top: float, width: float) -> Iterator[Shape]:
    yield from head_drawn(panel.heading, top, width)
    top += head_height(panel.heading, width) or 2
    grid = grid_for(panel, width)
    wide, high = width / len(grid[0]), _cell_height(grid, width)
    yield from wall_strokes(grid, wide, high, top)
    pad = 5.0 if width < NARROW else _PAD
    free = rooms_of(grid, wide, high)
    scale = _scale(panel, free, wide, pad)
    for place, room in free.items():
        shown = panel.rooms.get(place)
        if shown is None:
            continue
        x, y = room.left * wide + pad, top + room.top * high + _PAD
        yield from _room(shown, x, y, (room.columns * wide - 2 * pad, room.rows * high - 2 * _PAD), scale)
        yield from _name_again(grid, place, room, shown.name, wide=wide, high=high, top=top)
    yield from key_drawn(panel.key, 0, top + len(grid) * high + 8, width)


def _scale(panel: RoomsShown, free: dict[str, Free], wide: float, pad: float) -> float:
    """Pixels of a whole share: one scale for all rooms, so that bars can be compared."""
    longest = {
        p: max(v for v in (r.used, r.high, r.offered, 0.02) if v is not None)
        for p, r in panel.rooms.items()
        if p in free
    }
    return min(((free[p].columns * wide - 2 * pad) / v for p, v in longest.items()), default=1.0)


def _name_again(
    grid: Grid, place: str, room: Free, label: str, *, wide: float, high: float, top: float
) -> Iterator[Shape]:
    """A place's name in the parts of it that lie apart from its room."""
    for piece in pieces_apart(grid, place, room):
        alone = tuple(
            tuple(place if (r, c) in piece else NOTHING for c in range(len(row)))
            for r, row in enumerate(grid)
        )
        free = largest(alone, place, wide, high)
        says = fitting(label, free.columns * wide - 10, SMALL)
        if len(says) > 2:
            yield Words(free.left * wide + 8, top + free.top * high + 20, says, SMALL, "muted")


def _room(room: RoomShown, x: float, y: float, free: tuple[float, float], scale: float) -> Iterator[Shape]:
    wide, high = free
    bold = width_of(room.name, USUAL, True) <= wide
    size = USUAL if bold else SMALL
    # A name is broken where there is height for it, and cut only where there is none.
    broken = lines_of(room.name, wide, size, bold)
    lines = (
        broken if high - _NAME * (len(broken) - 1) >= _LEAST_HIGH else [fitting(room.name, wide, size, bold)]
    )
    for i, line in enumerate(lines):
        yield Words(x, y + 11 + _NAME * i, line, size, bold=bold)
    y, high = y + _NAME * (len(lines) - 1), high - _NAME * (len(lines) - 1)
    if room.used is None:
        yield Words(x, y + 11 + _LINE, fitting("not on offer", wide, SMALL), SMALL, "muted")
        return
    yield from _bar(room, x, y + 21, scale)
    told: list[tuple[str, Colour, bool]] = [(room.said, "ink", True), (room.verdict, "ink", False)]
    if width_of(f"{room.said}, {room.verdict}", SMALL, True) <= wide:
        told = [(f"{room.said}, {room.verdict}", "ink", True)]
    elif width_of(room.said, SMALL, True) > wide and room.brief:
        told[0] = (room.brief, "ink", True)
    fits = int((high - 40) // _LINE) + 1
    if fits < len(told):
        # The number and the verdict come before the limits.
        told = [told[0], told[-1]][: max(fits, 1)]
    for i, (says, colour, strong) in enumerate(told):
        yield Words(x, y + 52 + i * _LINE, fitting(says, wide, SMALL, strong), SMALL, colour, bold=strong)


def _bar(room: RoomShown, x: float, y: float, scale: float) -> Iterator[Shape]:
    used = room.used or 0.0
    yield Area((box(x, y, max(used * scale, 0.8), _BAR),), "blue" if room.claims else "muted")
    middle = y + _BAR / 2
    if room.low is not None and room.high is not None:
        yield from interval(
            x + room.low * scale,
            x + room.high * scale,
            middle + 8,
            "blue" if room.claims else "ink",
            strong=False,
        )
    if room.offered is not None:
        yield from offered(x + room.offered * scale, middle, _BAR / 2 + 4)
