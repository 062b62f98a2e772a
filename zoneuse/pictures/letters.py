"""The same pictures with letters, for a terminal: 80 columns or 40, readable without colour.

``├──●──┤`` is an estimate with its limits, ``┊`` what it is held against, ``│`` what is offered, ``○`` before and ``●``
after; ``‹`` and ``›`` say that it goes on beyond the edge, and ``0`` stands for a ratio of nothing on a log scale.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size

from ..study import visible
from .description import EstimateRow, EstimateRows, Figure, Matrix, RoomsShown
from .ground import Ground
from .letters_ground import ground_lines
from .letters_plot import chart_lines
from .plot import Chart
from .scales import Scale

NARROW = 60
_STEPS = "▁▂▃▄▅▆▇█"
_NAMES, _NUMBERS, _WORDS, _LEAST_TRACK = 16, 20, 31, 17


@dataclass(frozen=True, slots=True)
class LetterLine:
    """A line of text, and the row it shows where it shows one."""

    says: str
    row: EstimateRow | None = None


def fit(text: str, width: int, right: bool = False) -> str:
    """Text in exactly ``width`` cells; what does not fit ends with a sign of it.

    >>> fit("Moss end", 5), fit("Bark", 6), fit("35 %", 6, right=True)
    ('Moss…', 'Bark  ', '  35 %')
    """
    shown = visible(text)
    length = cell_len(shown)
    if length > width:
        return set_cell_size(shown, max(0, width - 1)) + "…" if width > 0 else ""
    return " " * (width - length) + shown if right else shown + " " * (width - length)


def lines(figure: Figure, width: int) -> list[LetterLine]:
    """Every panel of a picture, one under the other, without title and source."""
    drawn: list[LetterLine] = []
    for panel in figure.panels:
        made = list(panel_lines(panel, width))
        if made and drawn:
            drawn.append(LetterLine(""))
        drawn += made
    return drawn


def panel_lines(
    panel: EstimateRows | RoomsShown | Matrix | Chart | Ground, width: int
) -> Iterator[LetterLine]:
    """One panel in so many cells. Rooms have no letters of their own: their rows say the same."""
    if isinstance(panel, RoomsShown):
        return
    if isinstance(panel, Ground):
        yield from (LetterLine(one) for one in ground_lines(panel, width))
        return
    heading = visible(panel.heading)
    against = (
        next((k.says for k in panel.key if k.glyph == "reference"), "")
        if isinstance(panel, EstimateRows)
        else ""
    )
    if against:
        heading += f"; ┊ {against}"
    yield from (LetterLine(one) for one in textwrap.wrap(heading, width))
    match panel:
        case EstimateRows():
            yield from _rows(panel, width)
        case Matrix():
            yield from (LetterLine(one) for one in _matrix(panel, width))
        case Chart():
            yield from (LetterLine(one) for one in chart_lines(panel, width))


# --- rows ------------------------------------------------------------------------------------------------------


def _rows(panel: EstimateRows, width: int) -> Iterator[LetterLine]:
    if not panel.rows:
        return
    narrow = width < NARROW
    names = min(max(cell_len(visible(r.name)) for r in panel.rows), 12 if narrow else _NAMES)
    # A number with its limits and unit is never clipped: the bar gives way.
    said = min(max(cell_len(visible(r.said)) for r in panel.rows), max(_NUMBERS, 2 * width // 5))
    words = max(cell_len(_verdict(r)) for r in panel.rows)
    if narrow:
        verdicts = min(max(cell_len(r.verdict) for r in panel.rows), 14)
        track = width - verdicts - 3 if verdicts else width - 2
        start = 1
    else:
        verdicts = max(0, min(words, _WORDS, width - names - said - 4 - _LEAST_TRACK))
        track = width - names - said - verdicts - (6 if verdicts else 4)
        start = names + 2
    track = max(track, 8)
    yield LetterLine(" " * start + ticks(panel.scale, track))
    for row in panel.rows:
        if row.group:
            yield LetterLine(fit(row.group, width).rstrip())
        bar = interval(panel.scale, track, row, panel.reference)
        if narrow:
            yield from _row_narrow(row, bar, width, verdicts)
        else:
            yield from _row_wide(row, bar, names, said, verdicts)
    if panel.more:
        yield LetterLine(f"and {panel.more:,} more: --all shows them")


def _verdict(row: EstimateRow) -> str:
    return f"{row.verdict}: {row.beside}" if row.verdict and row.beside else row.verdict or row.beside


def _row_wide(row: EstimateRow, bar: str, names: int, said: int, verdicts: int) -> Iterator[LetterLine]:
    told = textwrap.wrap(visible(_verdict(row)), verdicts) if verdicts else []
    first = f"{fit(row.name, names)}  {bar}  {fit(row.said, said)}"
    yield LetterLine(f"{first}  {told[0] if told else ''}".rstrip(), row)
    for more in told[1:]:
        yield LetterLine(" " * (cell_len(first) + 2) + more, row)


def _row_narrow(row: EstimateRow, bar: str, width: int, verdicts: int) -> Iterator[LetterLine]:
    """Two lines: name and number, then the bar and the verdict."""
    room = width - cell_len(visible(row.said)) - 1
    yield LetterLine(f"{fit(row.name, room)} {visible(row.said)}".rstrip(), row)
    yield LetterLine(f" {bar}  {fit(row.verdict, verdicts)}".rstrip(), row)


def interval(scale: Scale, width: int, row: EstimateRow, reference: float | None = None) -> str:
    """One row's marks in so many cells.

    >>> interval(Scale(0, 10), 11, EstimateRow("", 5, 2, 8), 0)
    '┊ ├──●──┤  '
    """
    cells = [" "] * width

    def cell(value: float) -> int:
        return math.floor(scale.inside(value) * (width - 1) + 0.5)

    if reference is not None:
        cells[cell(reference)] = "┊"
    if row.low is not None and row.high is not None:
        left, right = cell(row.low), cell(row.high)
        for at in range(left, right + 1):
            cells[at] = "┼" if cells[at] == "┊" else "─"
        cells[left] = "‹" if scale.part(row.low) < -1e-9 else "├"
        cells[right] = "›" if scale.part(row.high) > 1 + 1e-9 else "┤"
    if row.offered is not None:
        cells[cell(row.offered)] = "│"
    if row.before is not None:
        cells[cell(row.before)] = "○"
    if row.middle is not None:
        cells[cell(row.middle)] = "0" if scale.part(row.middle) == -math.inf else "●"
    return "".join(cells)


def ticks(scale: Scale, width: int) -> str:
    """The scale's numbers, each over its cell; those that would run together or out of the line are left out.

    >>> ticks(Scale(0, 100, ((0, "0"), (50, "50"), (100, "100 %"))), 21)
    '0         50    100 %'
    """
    cells = [" "] * width
    free = 0
    for value, says in scale.ticks:
        middle = math.floor(scale.inside(value) * (width - 1) + 0.5)
        start = min(max(0, middle - (len(says) - 1) // 2), width - len(says))
        if start >= free and start >= 0:
            cells[start : start + len(says)] = says
            free = start + len(says) + 1
    return "".join(cells).rstrip()


# --- tables of shares --------------------------------------------------------------------------------------------


def _matrix(panel: Matrix, width: int) -> Iterator[str]:
    """Numbers under the first letters of their names; as many columns side by side as fit."""
    if "" in panel.along:
        yield from _strips(panel, width)
        return
    names = min(
        max((cell_len(visible(r.name)) for r in panel.rows), default=0), 12 if width < NARROW else _NAMES
    )
    longest = max((cell_len(visible(n)) for n in panel.along), default=4)
    fits = max(1, (width - names) // (min(longest, 11) + 2))
    each = min(longest, 11) + 2 if fits >= len(panel.along) else 6
    fits = max(1, (width - names) // each)
    for start in range(0, len(panel.along), fits):
        shown = panel.along[start : start + fits]
        yield (" " * names + "".join(" " + fit(n, each - 1, right=True) for n in shown)).rstrip()
        for row in panel.rows:
            part = [_cell(v, start + k in row.strong) for k, v in enumerate(row.values[start : start + fits])]
            yield (fit(row.name, names) + "".join(fit(c, each, right=True) for c in part)).rstrip()


def _strips(panel: Matrix, width: int) -> Iterator[str]:
    """A letter a column where not every column has a name: low to high, ``·`` where nothing is known."""
    longest = max((cell_len(visible(r.name)) for r in panel.rows), default=0)
    names = max(0, min(longest, _NAMES, width - len(panel.along) - 1))
    for row in panel.rows:
        yield f"{fit(row.name, names)} {strip(row.values, 1.0)}"
    along, free = " " * (names + 1), 0
    for at, name in enumerate(panel.along):
        if name and at >= free:
            along = along.ljust(names + 1 + at) + name
            free = at + len(name) + 1
    yield along


def strip(values: Sequence[float | None], most: float) -> str:
    """A letter per value, low to high; ``·`` where there is none.

    >>> strip([0.0, None, 1.0], 1.0)
    '▁·█'
    """
    top = most if most > 0 else 1.0
    return "".join("·" if v is None else _STEPS[min(7, max(0, round(v / top * 7)))] for v in values)


def _cell(value: float | None, strong: bool) -> str:
    if value is None:
        return "·"
    return f"{'*' if strong else ''}{100 * value:.0f}"
