"""Rows on one scale: name, interval, number, verdict, and what is needed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from ...pictures import EstimateRow, EstimateRows, Scale
from .glyphs import after, before, interval, key_drawn, key_height, offered
from .shapes import (
    SMALL,
    Area,
    Colour,
    Shape,
    Stroke,
    Words,
    box,
    fitting,
    head_drawn,
    head_height,
    lines_of,
    width_of,
)

NARROW = 460.0
_LINE, _AXIS, _GROUP, _GAP = 15.0, 20.0, 22.0, 12.0


@dataclass(frozen=True, slots=True)
class PanelColumns:
    """Where the columns of a panel of rows begin and how wide they are; ``verdicts`` is 0 on a narrow sheet."""

    names: float
    track: float
    track_wide: float
    numbers: float
    numbers_wide: float
    verdicts: float
    verdicts_wide: float


def columns_of(panel: EstimateRows, width: float) -> PanelColumns:
    narrow = width < NARROW
    names = min(max((width_of(r.name, SMALL, r.claims) for r in panel.rows), default=0.0), width * 0.3)
    said = max((width_of(r.said, SMALL, True) for r in panel.rows), default=0.0)
    words = max(
        (max(width_of(r.verdict, SMALL, True), _beside_wide(r, width)) for r in panel.rows), default=0.0
    )
    if narrow:
        numbers = min(max(said, min(words, width * 0.36)), width * 0.42)
        track = names + _GAP
        return PanelColumns(0, track, width - track - numbers - _GAP, width - numbers, numbers, 0, 0)
    verdicts = min(words, width * 0.27)
    right = width - verdicts
    numbers = right - said - (_GAP if words else 0)
    track = names + _GAP + 4
    return PanelColumns(0, track, numbers - _GAP - 4 - track, numbers, said, right, verdicts)


def _beside_wide(row: EstimateRow, width: float) -> float:
    return min(width_of(row.beside, SMALL), width * 0.27)


def _beside(row: EstimateRow, at: PanelColumns) -> list[tuple[float, str, Colour, bool, int]]:
    """The words at the right of a row: x, words, colour, bold, line."""
    wide = at.verdicts_wide or at.numbers_wide
    more = lines_of(row.beside, wide, SMALL) if row.beside else []
    told: list[tuple[float, str, Colour, bool, int]] = (
        [(at.numbers, row.said, "ink", row.claims, 0)] if row.said else []
    )
    x, line = (at.verdicts, 0) if at.verdicts_wide else (at.numbers, 1 if row.said else 0)
    if row.verdict:
        told.append((x, fitting(row.verdict, wide, SMALL, row.claims), "ink", row.claims, line))
        line += 1
    return told + [(x, says, "muted", False, line + k) for k, says in enumerate(more)]


def _row_height(row: EstimateRow, at: PanelColumns) -> float:
    lines = max((b[4] for b in _beside(row, at)), default=0) + 1
    return max(24.0, 9 + _LINE * lines) + (_GROUP if row.group else 0)


def rows_height(panel: EstimateRows, width: float) -> float:
    at = columns_of(panel, width)
    head = head_height(panel.heading, width) + key_height(panel.key, width) + _AXIS
    return head + sum(_row_height(r, at) for r in panel.rows) + 6 + (_LINE + 4 if panel.more else 0)


def rows_drawn(panel: EstimateRows, top: float, width: float) -> Iterator[Shape]:
    at = columns_of(panel, width)
    y = top
    yield from head_drawn(panel.heading, y, width)
    y += head_height(panel.heading, width)
    yield from key_drawn(panel.key, 0, y, width)
    y += key_height(panel.key, width)
    high = sum(_row_height(r, at) for r in panel.rows)
    yield from _axis(panel, at, y, high)
    y += _AXIS
    for row in panel.rows:
        if row.group:
            yield Words(0, y + 15, fitting(row.group, width, SMALL, True), SMALL, "muted", bold=True)
        tall, start = _row_height(row, at), y + (_GROUP if row.group else 0)
        yield from _row(panel, row, at, start + 12)
        y += tall
    if panel.more:
        yield Words(0, y + 14, f"and {panel.more:,} more", SMALL, "muted")


def _axis(panel: EstimateRows, at: PanelColumns, top: float, high: float) -> Iterator[Shape]:
    free = -math.inf
    for value, says in panel.scale.ticks:
        x = _x(panel.scale, at, value)
        yield Stroke(((x, top + _AXIS - 2), (x, top + _AXIS + high)), "faint", 0.8)
        wide = width_of(says, SMALL)
        if x - wide / 2 > free:
            yield Words(x, top + 12, says, SMALL, "muted", "middle")
            free = x + wide / 2 + 4
    if panel.reference is not None:
        x = _x(panel.scale, at, panel.reference)
        yield Stroke(((x, top + _AXIS - 2), (x, top + _AXIS + high)), "muted", 1.3, (4.0, 3.0))


def _x(scale: Scale, at: PanelColumns, value: float) -> float:
    return at.track + scale.inside(value) * at.track_wide


def _row(panel: EstimateRows, row: EstimateRow, at: PanelColumns, y: float) -> Iterator[Shape]:
    names_wide = at.track - 8
    yield Words(0, y + 4, fitting(row.name, names_wide, SMALL, row.claims), SMALL, bold=row.claims)
    scale, colour = panel.scale, "blue" if row.claims else "ink"
    if row.low is not None and row.high is not None:
        low, high = scale.part(row.low), scale.part(row.high)
        nothing = row.low <= 0 and scale.log and row.middle is not None and row.middle <= 0
        yield from interval(
            _x(scale, at, row.low), _x(scale, at, row.high), y, colour, strong=row.claims,  # type: ignore[arg-type]
            open_left=low < -1e-9 and not nothing, open_right=high > 1 + 1e-9,
        )  # fmt: skip
    if row.offered is not None:
        yield from offered(_x(scale, at, row.offered), y)
    if row.before is not None:
        yield from before(_x(scale, at, row.before), y)
    if row.middle is not None:
        x = _x(scale, at, row.middle)
        if scale.part(row.middle) == -math.inf:
            # A ratio of 0 has no place on a log scale: the figure itself stands at its edge.
            yield Area((box(x - 6, y - 7, 13, 14),), "paper")
            yield Words(x, y + 4, "0", SMALL, colour, "middle", bold=True)  # type: ignore[arg-type]
        else:
            yield from after(x, y, colour)  # type: ignore[arg-type]
    for x, says, ink, bold, line in _beside(row, at):
        yield Words(x, y + 4 + line * _LINE, says, SMALL, ink, bold=bold)
