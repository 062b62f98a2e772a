"""The enclosure with, in each room, a bar of its use, a line at what it offers, and the ratio in figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ...answers.answer import Answer
from ...answers.showing.plain import rows
from ...study.model import Declaration
from ...tables.availability import places_of
from .canvas import BLUE, INK, MUTED, NARROW, SMALL, USUAL, Canvas, both, fitting, width_of, words
from .sketch_grid import (
    NOTHING,
    Grid,
    Room,
    largest,
    pieces_apart,
    rooms_of,
    sketch_of,
    wall,
    walls,
    words_high,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SAID = {
    "avoided": "used less",
    "favoured": "used more",
    "in proportion": "in proportion",
    "too early": "too early",
}
_PAD, _LINE, _BAR, _LEGEND = 8, 16, 9, 30
_LEAST_WIDE = 62


def zones_drawn(declared: Declaration, zones: Answer) -> str:
    """The sketch as SVG, wide and narrow; its description says every number in it."""
    table = {str(r["zone"]): r for r in rows(zones.table)}
    verdicts = {f.about[0]: f.verdict for f in zones.findings if f.about}
    says = ". ".join(
        [_described(zones.labels.get(p, p), table.get(p), verdicts.get(p, "")) for p in places_of(declared)]
    )
    drawn = sketch_of(declared)

    def tall(width: int) -> int:
        grid = _grid(declared, drawn, width)
        return len(grid) * _cell_height(grid, width) + _LEGEND

    def paint(canvas: Canvas) -> None:
        grid = _grid(declared, drawn, canvas.width)
        _paint(canvas, grid, table, verdicts, zones.labels)

    return both("zones", f"Use of each zone of {zones.study}", says + ".", tall, paint)


def _described(label: str, row: Mapping[str, Any] | None, verdict: str) -> str:
    if row is None:
        return f"{label}: not on offer in what was asked for"
    return (
        f"{label}: {100 * row['used']:.0f} % of the time, {100 * row['available']:.0f} % offered, {row['ratio']:.2f} "
        f"times its share ({limits_said(row, 'ratio')}), {SAID.get(verdict, verdict)}"
    )


def limits_said(row: Mapping[str, Any], name: str, percent: bool = False) -> str:
    """``1.49–3.12``, or ``26–45 %``; a dash where there are none."""
    low, high = row[f"{name}_low"], row[f"{name}_high"]
    if low is None or high is None:
        return "–"
    return f"{100 * low:.0f}–{100 * high:.0f} %" if percent else f"{low:.2f}–{high:.2f}"


def _grid(declared: Declaration, drawn: Grid | None, width: int) -> Grid:
    """The sketch, or tidy boxes where there is none or its rooms would be too small for words."""
    if drawn is not None:
        rooms = rooms_of(drawn, width / len(drawn[0]), 60.0)
        if all(r.columns * width / len(drawn[0]) >= _LEAST_WIDE for r in rooms.values()):
            return drawn
    places = places_of(declared)
    columns = min(len(places), 2 if width <= NARROW else 4)
    cut = [places[i : i + columns] for i in range(0, len(places), columns)]
    fine = columns * len(cut[-1])  # so many cells that every row divides evenly
    return tuple(tuple(row[i * len(row) // fine] for i in range(fine)) for row in cut)


def _name_again(
    axes: Axes, grid: Grid, place: str, room: Room, label: str, *, wide: float, high: float
) -> None:
    """Write a place's name into the parts of it that lie apart from its room."""
    for piece in pieces_apart(grid, place, room):
        alone = tuple(
            tuple(place if (r, c) in piece else NOTHING for c in range(len(row)))
            for r, row in enumerate(grid)
        )
        free = largest(alone, place, wide, high)
        says = fitting(label, free.columns * wide - 10, SMALL)
        if len(says) > 2:
            words(axes, free.left * wide + 8, free.top * high + 20, says, SMALL, color=MUTED)


def _cell_height(grid: Grid, width: int) -> int:
    """The least height of a cell at which every room holds all its words, within reason."""
    wide = width / len(grid[0])
    for high in range(34, 112, 2):
        rooms = rooms_of(grid, wide, float(high)).values()
        if all(r.rows * high >= words_high(r.columns * wide) for r in rooms):
            return high
    return 112


def _paint(
    canvas: Canvas,
    grid: Grid,
    table: Mapping[str, Mapping[str, Any]],
    verdicts: Mapping[str, str],
    labels: Mapping[str, str],
) -> None:
    wide, high = canvas.width / len(grid[0]), float(_cell_height(grid, canvas.width))
    axes = canvas.sheet
    _walls(axes, grid, wide, high)
    rooms = rooms_of(grid, wide, high)
    longest = {
        p: max([v for v in (table[p]["used"], table[p]["used_high"], table[p]["available"]) if v is not None])
        for p in rooms
        if p in table
    }
    # One scale for all rooms, so that bars can be compared.
    pad = 5 if canvas.narrow else _PAD
    scale = (
        min((rooms[p].columns * wide - 2 * pad) / max(v, 0.02) for p, v in longest.items())
        if longest
        else 1.0
    )
    for place, room in rooms.items():
        x, y = room.left * wide + pad, room.top * high + _PAD
        free = room.columns * wide - 2 * pad, room.rows * high - 2 * _PAD
        _words_of(
            axes,
            x,
            y,
            free,
            scale,
            label=labels.get(place, place),
            row=table.get(place),
            verdict=verdicts.get(place, ""),
        )
        _name_again(axes, grid, place, room, labels.get(place, place), wide=wide, high=high)
    _legend(axes, canvas, len(grid) * high)


def _walls(axes: Axes, grid: Grid, wide: float, high: float) -> None:
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
        style: dict[str, Any] = {"color": INK if outer else MUTED, "lw": 1.6 if outer else 1.0}
        if way == "level":
            xs, ys = [inside(begin * wide, w), inside(end * wide, w)], [inside(line * high, h)] * 2
        else:
            xs, ys = [inside(line * wide, w)] * 2, [inside(begin * high, h), inside(end * high, h)]
        axes.plot(xs, ys, solid_capstyle="projecting" if outer else "butt", zorder=2 if outer else 1, **style)


def _words_of(
    axes: Axes, x: float, y: float, free: tuple[float, float], scale: float, *, label: str,
    row: Mapping[str, Any] | None, verdict: str,
) -> None:  # fmt: skip
    wide, high = free
    bold = width_of(label, USUAL, True) <= wide
    if bold:
        words(axes, x, y + 11, label, USUAL, fontweight="bold")
    else:
        words(axes, x, y + 11, fitting(label, wide, SMALL), SMALL)
    if row is None:
        words(axes, x, y + 11 + _LINE, fitting("not on offer", wide, SMALL), SMALL, color=MUTED)
        return
    _bar(axes, x, y + 21, scale, row)
    ratio = next(
        s for s in (f"{row['ratio']:.2f} times its share", f"{row['ratio']:.2f} × share", f"{row['ratio']:.2f} ×")
        if width_of(s, USUAL, True) <= wide or s.endswith("×")
    )  # fmt: skip
    said, limits = SAID.get(verdict, verdict), limits_said(row, "ratio")
    told: list[tuple[str, str, bool]] = [(ratio, INK, True), (limits, MUTED, False), (said, INK, False)]
    if width_of(f"{limits}, {said}", SMALL) <= wide:
        told[1:] = [(f"{limits}, {said}", INK, False)]
    fits = int((high - 40) // _LINE) + 1
    if fits < len(told):
        told = [told[0], (said, INK, False)][: max(fits, 1)]
    for i, (says, colour, bold) in enumerate(told):
        weight = "bold" if bold else "normal"
        words(
            axes,
            x,
            y + 52 + i * _LINE,
            fitting(says, wide, SMALL, bold),
            SMALL,
            color=colour,
            fontweight=weight,
        )


def _bar(axes: Axes, x: float, y: float, scale: float, row: Mapping[str, Any]) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((x, y), max(row["used"] * scale, 0.8), _BAR, facecolor=BLUE, edgecolor="none"))
    middle = y + _BAR / 2
    if row["used_low"] is not None and row["used_high"] is not None:
        axes.plot(
            [x + row["used_low"] * scale, x + row["used_high"] * scale], [middle + 8] * 2, color=BLUE, lw=1.4
        )
    offered = x + row["available"] * scale
    axes.plot([offered] * 2, [y - 4, y + _BAR + 4], color=INK, lw=2, solid_capstyle="butt")


def _legend(axes: Axes, canvas: Canvas, top: float) -> None:
    from matplotlib.patches import Rectangle

    y = top + 20
    items: Sequence[tuple[str, str]] = (
        ("bar", "time spent there"), ("line", "95 % limits"), ("tick", "share of what is offered")
    )  # fmt: skip
    if canvas.narrow:
        items = (("bar", "time there"), ("line", "95 %"), ("tick", "share offered"))
    x = 1.0
    for kind, says in items:
        if kind == "bar":
            axes.add_patch(Rectangle((x, y - 8), 18, _BAR, facecolor=BLUE, edgecolor="none"))
        elif kind == "line":
            axes.plot([x, x + 18], [y - 3.5] * 2, color=BLUE, lw=1.4)
        else:
            axes.plot([x + 14] * 2, [y - 11, y + 4], color=INK, lw=2, solid_capstyle="butt")
        words(axes, x + 24, y, says, SMALL, color=MUTED)
        x += 24 + width_of(says, SMALL) + 18
