"""Colonies: who was found in which retreat, and who is found together, in the order that puts alike side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...answers.answer import Answer
from ...answers.showing.plain import rows
from .canvas import BLUE, FAINT, INK, MUTED, SMALL, Canvas, both, fitting, width_of, words

_ROW, _CELL_MOST = 30, 48
MOST_ANIMALS = 40
# Narrower cells hold the figure alone; the caption says that it is per cent.
_ROOM_FOR_SIGN = 46


def homes_drawn(retreats: Answer, labels: Mapping[str, str]) -> str:
    """Animals (or groups) down, retreats along; in each cell the share of checks, as a figure and a bar."""
    table = rows(retreats.table)
    who = list(dict.fromkeys(str(r["animal"] or r["group"]) for r in table))
    places = list(dict.fromkeys(str(r["zone"]) for r in table))
    cells = {(str(r["animal"] or r["group"]), str(r["zone"])): r for r in table}
    says = ". ".join(
        f"{labels.get(w, w)}: " + ", ".join(
            f"{labels.get(p, p)} {100 * cells[w, p]['share']:.0f} %" for p in places if cells[w, p]["share"] > 0
        )
        for w in who
    )  # fmt: skip

    def paint(canvas: Canvas) -> None:
        left = _gutter([labels.get(w, w) for w in who], canvas)
        wide = (canvas.width - left) / len(places)
        head = _heading_height([labels.get(p, p) for p in places], wide)
        axes = canvas.sheet
        _headings(axes, [labels.get(p, p) for p in places], left, wide, head)
        for i, one in enumerate(who):
            y = head + i * _ROW
            axes.plot([0, canvas.width], [y, y], color=FAINT, lw=0.7)
            words(axes, 0, y + 16, fitting(labels.get(one, one), left - 8, SMALL), SMALL)
            for j, place in enumerate(places):
                _share(axes, left + j * wide, y, wide, cells[one, place])

    def tall(width: int) -> int:
        wide = (width - _gutter_for(width, [labels.get(w, w) for w in who])) / len(places)
        return round(_heading_height([labels.get(p, p) for p in places], wide)) + len(who) * _ROW + 6

    return both(
        "homes",
        "Who was found in which retreat",
        "Share of checks at which each was found there. " + says + ".",
        tall,
        paint,
    )


def _gutter(names: Sequence[str], canvas: Canvas) -> float:
    return _gutter_for(canvas.width, names)


def _gutter_for(width: int, names: Sequence[str]) -> float:
    return min(max(width_of(n, SMALL) for n in names) + 12, width * 0.3)


def _heading_height(names: Sequence[str], wide: float) -> float:
    longest = max(width_of(n, SMALL) for n in names)
    return 26.0 if longest <= wide - 8 else min(longest, 110.0) + 12


def _headings(
    axes: Any, names: Sequence[str], left: float, wide: float, head: float, *, size: float = SMALL
) -> None:
    level = head <= 26.0
    for j, name in enumerate(names):
        x = left + j * wide
        if level:
            words(axes, x + 4, head - 9, name, size, color=MUTED)
        else:
            words(axes, x + wide / 2 + size / 3, head - 6, fitting(name, head - 10, size), size, color=MUTED,
                  rotation=90, ha="center", va="bottom")  # fmt: skip


def _share(axes: Any, x: float, y: float, wide: float, row: Mapping[str, Any]) -> None:
    if not row["share"]:
        words(axes, x + 4, y + 16, "–", SMALL, color=MUTED)
        return
    weight = "bold" if row["home"] else "normal"
    sign = " %" if wide >= _ROOM_FOR_SIGN else ""
    words(axes, x + 4, y + 16, f"{100 * row['share']:.0f}{sign}", SMALL, fontweight=weight)
    end = x + 4 + row["share"] * (wide - 8)
    axes.plot([x + 4, end], [y + 23] * 2, color=BLUE, lw=4, solid_capstyle="butt")


def together_drawn(
    number: int, names: Sequence[str], values: NDArray[np.float64], labels: Mapping[str, str]
) -> str:
    """Animals along and down in clustered order; the larger a square, the more often the two were found together."""
    pairs = [
        (
            values[i, j],
            f"{labels.get(names[i], names[i])} and {labels.get(names[j], names[j])} {values[i, j]:.2f}",
        )
        for i in range(len(names))
        for j in range(i)
        if not np.isnan(values[i, j])
    ]
    says = "From most to least often together: " + "; ".join(
        said for _, said in sorted(pairs, reverse=True)[:40]
    )

    def sizes(width: int) -> tuple[float, float, float]:
        left = _gutter_for(width, [labels.get(n, n) for n in names])
        cell = min((width - left) / len(names), _CELL_MOST)
        return left, cell, _heading_height([labels.get(n, n) for n in names], cell)

    def tall(width: int) -> int:
        _, cell, head = sizes(width)
        return round(head + len(names) * cell) + 6

    def paint(canvas: Canvas) -> None:
        left, cell, head = sizes(canvas.width)
        axes = canvas.sheet
        shown = [labels.get(n, n) for n in names]
        # Thirty animals on a phone: small words that a finger can enlarge rather than words over words.
        size = min(SMALL, 0.86 * cell)
        _headings(axes, shown, left, cell, head, size=size)
        levels = [head + i * cell for i in range(len(names))]
        axes.hlines(levels, left, left + len(names) * cell, color=FAINT, lw=0.7)
        for y, name in zip(levels, shown, strict=True):
            words(axes, 0, y + cell / 2 + size / 3, fitting(name, left - 8, size), size)
        _squares(axes, left, head, cell, values)

    return both(f"together{number}", "Who is found together", says + ".", tall, paint)


def _squares(axes: Any, left: float, top: float, cell: float, values: NDArray[np.float64]) -> None:
    """A square for each pair; its area, not its side, grows with the index: twice as often is twice the ink."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    numbered = cell >= 30
    row, column = np.nonzero(np.nan_to_num(values) > 0)
    half = (cell - min(8.0, 0.14 * cell)) * np.sqrt(values[row, column]) / 2
    x, y = left + (column + 0.5) * cell, top + (row + 0.5) * cell
    corners = np.stack(
        [np.stack([x + a * half, y + b * half], axis=1) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))],
        axis=1,
    )
    if len(corners):
        shape = Path.make_compound_path_from_polys(corners)
        axes.add_patch(PathPatch(shape, facecolor=BLUE, edgecolor="none", alpha=0.28 if numbered else 1.0))
    for i, j in zip(*np.nonzero(~np.isnan(values) & ~np.eye(len(values), dtype=bool)), strict=True):
        if numbered:
            at = left + (j + 0.5) * cell, top + (i + 0.5) * cell + 4
            words(axes, *at, f"{values[i, j]:.2f}".removeprefix("0"), SMALL, color=INK, ha="center")
