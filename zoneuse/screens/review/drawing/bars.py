"""Charts as rows of text: bars, dots with their intervals, strips. Plain letters and blocks every terminal has.

An interval is written ``├──●──┤``: its ends, and the estimate. ``┊`` is what it is compared with; ``‹`` and ``›``
say that it goes on beyond the edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size

from ....pictures import EstimateRow
from ....pictures import Scale as FigureScale
from ....pictures import interval as drawn


def fit(text: str, width: int, right: bool = False) -> str:
    """Text in exactly ``width`` cells; what does not fit ends with a sign of it.

    >>> fit("Moss end", 5), fit("Bark", 6), fit("35 %", 6, right=True)
    ('Moss…', 'Bark  ', '  35 %')
    """
    length = cell_len(text)
    if length > width:
        return set_cell_size(text, max(0, width - 1)) + "…" if width > 0 else ""
    return " " * (width - length) + text if right else text + " " * (width - length)


@dataclass(frozen=True, slots=True)
class CellScale:
    """``low`` to ``high`` laid over ``width`` cells; ``log`` where the values are ratios."""

    low: float
    high: float
    width: int
    log: bool = False

    def cell(self, value: float) -> int:
        """Which cell a value falls in; outside the scale below 0 or from ``width`` on."""
        low, high, at = self.low, self.high, value
        if self.log:
            low, high, at = math.log(low), math.log(high), math.log(value) if value > 0 else -math.inf
        if at == -math.inf:
            return -1
        return math.floor((at - low) / (high - low) * (self.width - 1) + 0.5)


def interval(
    scale: CellScale,
    low: float | None,
    middle: float | None,
    high: float | None,
    against: float | None = None,
) -> str:
    """One estimate with its limits on a scale.

    >>> interval(CellScale(0, 10, 11), 2, 5, 8, against=0)
    '┊ ├──●──┤  '
    """
    seen = against is not None and 0 <= scale.cell(against) < scale.width
    row = EstimateRow("", middle, low, high)
    return drawn(
        FigureScale(scale.low, scale.high, log=scale.log), scale.width, row, against if seen else None
    )


def ticks(scale: CellScale, values: Sequence[float], words: Sequence[str]) -> str:
    """The scale's numbers, each over its cell, those that would run together left out.

    >>> ticks(CellScale(0, 100, 21), [0, 50, 100], ["0", "50", "100 %"])
    '0         50     100 %'
    """
    cells = [" "] * (scale.width + 6)
    free = 0
    for value, word in zip(values, words, strict=True):
        start = max(0, scale.cell(value) - (len(word) - 1) // 2)
        start = min(start, scale.width - len(word) + 1) if value == values[-1] else start
        if start >= free and start >= 0 and start + len(word) <= len(cells):
            cells[start : start + len(word)] = word
            free = start + len(word) + 1
    return "".join(cells).rstrip()


def bar(value: float | None, most: float, width: int, mark: float | None = None) -> str:
    """A bar of ``value`` where ``most`` fills the width; ``│`` marks what it is compared with.

    >>> bar(0.35, 0.5, 10, mark=0.15)
    '██│████   '
    >>> bar(0.1, 0.5, 10, mark=0.4)
    '██░░░░░│  '
    """
    cells = [" "] * width
    if width <= 0 or most <= 0:
        return "".join(cells)
    filled = 0
    if value is not None and value > 0:
        halves = max(1, round(2 * width * min(1.0, value / most)))
        filled = halves // 2
        cells[:filled] = "█" * filled
        if halves % 2:
            cells[filled] = "▌"
            filled += 1
    if mark is not None and mark > 0:
        at = max(0, round(width * min(1.0, mark / most)) - 1)
        cells[filled:at] = "░" * max(0, at - filled)
        cells[at] = "│"
    return "".join(cells)


def dots(columns: Sequence[tuple[str, float] | None], height: int, most: float) -> list[str]:
    """A dot per column, rows from high to low; None is a parting line.

    >>> dots([("o", 0.0), None, ("x", 1.0)], 2, 1.0)
    [' :x', 'o: ']
    """
    rows = [[" "] * len(columns) for _ in range(height)]
    for x, column in enumerate(columns):
        if column is None:
            for row in rows:
                row[x] = ":"
        else:
            sign, value = column
            level = min(height - 1, max(0, math.floor(value / most * (height - 1) + 0.5)))
            rows[height - 1 - level][x] = sign
    return ["".join(row) for row in rows]


def rounded_up(value: float) -> float:
    """The next share a scale can end with: 0.1, 0.2, 0.25, 0.5, 0.75 or 1.

    >>> rounded_up(0.44), rounded_up(0.06)
    (0.5, 0.1)
    """
    return next((end for end in (0.1, 0.2, 0.25, 0.5, 0.75) if value <= end), 1.0)
