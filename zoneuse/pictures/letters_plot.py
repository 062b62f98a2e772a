"""Charts with two axes, as rows of letters."""

from __future__ import annotations

import math
from collections.abc import Iterator

from .plot import Band, Bars, Blocks, Chart, Dots, EventMark, Level, Mark, Mean, Rug, Stretch, Trace

_DOTS = {"before": "○", "after": "●", "aside": "×"}


class Paper:
    """A sheet of letters with the chart's two scales; the only thing here that is written to."""

    def __init__(self, chart: Chart, width: int, height: int) -> None:
        self.chart, self.width, self.height = chart, width, height
        self.cells = [[" "] * width for _ in range(height)]

    def column(self, x: float) -> int:
        return math.floor(self.chart.x.inside(x) * (self.width - 1) + 0.5)

    def row(self, y: float) -> int:
        part = self.chart.y.inside(y)
        return math.floor((part if self.chart.down else 1 - part) * (self.height - 1) + 0.5)

    def put(self, x: float, y: float, sign: str) -> None:
        if not (math.isnan(x) or math.isnan(y)):
            self.cells[self.row(y)][self.column(x)] = sign

    def within(self, x: float) -> bool:
        return -1e-9 <= self.chart.x.part(x) <= 1 + 1e-9


def chart_lines(chart: Chart, width: int, height: int | None = None) -> Iterator[str]:
    """A chart in so many cells across; ``height`` rows (7, or more where it is drawn high)."""
    height = height or max(5, min(12, round(chart.height / 18)))
    left = max((len(says) for _, says in chart.y.ticks), default=0) + 1
    left = max(left, *(min(len(s.name) + 1, 9) for s in chart.strips)) if chart.strips else left
    paper = Paper(chart, max(width - left, 8), height)
    for kind in (Stretch, Blocks, Band, Level, Rug, Trace, Mean, EventMark, Bars, Dots):
        for mark in chart.marks:
            if isinstance(mark, kind):
                _put(paper, mark)
    heads = [""] * height
    for value, says in chart.y.ticks:
        heads[paper.row(value)] = says
    for head, cells in zip(heads, paper.cells, strict=True):
        yield f"{head.rjust(left - 1)} {''.join(cells)}".rstrip()
    yield from _strips(paper, left)
    if paper.chart.x.ticks:
        yield " " * left + _x_words(paper)
    if chart.x_says:
        yield " " * left + chart.x_says[: paper.width]


def _strips(paper: Paper, left: int) -> Iterator[str]:
    for strip in paper.chart.strips:
        cells = [" "] * paper.width
        for x in filter(paper.within, strip.at):
            cells[paper.column(x)] = "╵"
        for begin, end in strip.spans:
            for at in range(paper.column(begin), paper.column(end) + 1):
                cells[at] = "▬"
        yield f"{strip.name[: left - 1].rjust(left - 1)} {''.join(cells)}".rstrip()


def _x_words(paper: Paper) -> str:
    cells = [" "] * paper.width
    free = 0
    for value, says in paper.chart.x.ticks:
        start = min(max(0, paper.column(value) - (len(says) - 1) // 2), paper.width - len(says))
        if start >= free and start >= 0:
            cells[start : start + len(says)] = says
            free = start + len(says) + 1
    return "".join(cells).rstrip()


def _put(paper: Paper, mark: Mark) -> None:
    match mark:
        case Stretch():
            _columns(paper, mark.x0, mark.x1, "░" if mark.kind == "dark" else "/")
        case Blocks():
            _blocks(paper, mark)
        case Band():
            _band(paper, mark)
        case Level():
            row = paper.cells[paper.row(mark.y)]
            row[:] = ["╌" if c == " " else c for c in row]
        case Rug():
            _rug(paper, mark)
        case Trace():
            _line(paper, mark)
        case Mean():
            row = paper.cells[paper.row(mark.y)]
            a, b = paper.column(mark.x0), paper.column(mark.x1) + 1
            row[a:b] = "━" * (b - a)
        case EventMark():
            _event(paper, mark)
        case Bars() | Dots():
            _points(paper, mark)


def _rug(paper: Paper, mark: Rug) -> None:
    for x, height in zip(mark.x, mark.height, strict=True):
        if height > 0:
            paper.cells[-1][paper.column(x)] = "▂"


def _points(paper: Paper, mark: Bars | Dots) -> None:
    if isinstance(mark, Bars):
        for x, low, high in zip(mark.x, mark.low, mark.high, strict=True):
            _upright(paper, x, low, high, "│")
    sign = "●" if isinstance(mark, Bars) else _DOTS[mark.side]
    for x, y in zip(mark.x, mark.y, strict=True):
        paper.put(x, y, sign)


def _columns(paper: Paper, x0: float, x1: float, sign: str) -> None:
    for at in range(paper.column(x0), paper.column(x1) + 1):
        for row in paper.cells:
            row[at] = sign


def _upright(paper: Paper, x: float, low: float, high: float, sign: str) -> None:
    if any(map(math.isnan, (x, low, high))):
        return
    a, b = sorted((paper.row(low), paper.row(high)))
    for at in range(a, b + 1):
        paper.cells[at][paper.column(x)] = sign


def _blocks(paper: Paper, mark: Blocks) -> None:
    for x0, x1, y0, y1 in mark.boxes:
        a, b = sorted((paper.row(y0), paper.row(y1)))
        for row in paper.cells[a : b + 1]:
            for at in range(paper.column(x0), paper.column(x1) + 1):
                row[at] = "░" if mark.dark else "█"


def _line(paper: Paper, mark: Trace) -> None:
    sign = "·" if mark.ahead or mark.faint else "•"
    for at, y in _between(paper, mark.x, mark.y):
        paper.cells[paper.row(y)][at] = sign


def _between(paper: Paper, x: tuple[float, ...], y: tuple[float, ...]) -> Iterator[tuple[int, float]]:
    """A value for every column between two neighbours: a line has no holes where it is drawn wide."""
    before: tuple[int, float] | None = None
    for one, value in zip(x, y, strict=True):
        if math.isnan(value):
            before = None
            continue
        at = paper.column(one)
        if before is not None:
            for column in range(before[0] + 1, at):
                yield column, before[1] + (value - before[1]) * (column - before[0]) / (at - before[0])
        yield at, value
        before = (at, value)


def _band(paper: Paper, mark: Band) -> None:
    ends = zip(_between(paper, mark.x, mark.low), _between(paper, mark.x, mark.high), strict=False)
    for (at, low), (_, high) in ends:
        a, b = sorted((paper.row(low), paper.row(high)))
        for row in paper.cells[a : b + 1]:
            row[at] = "▒"


def _event(paper: Paper, mark: EventMark) -> None:
    if not paper.within(mark.x):
        return
    at = paper.column(mark.x)
    if mark.kind == "felt":
        paper.cells[-1][at] = mark.says[:1] or "f"
        return
    for row in paper.cells:
        row[at] = "╎" if mark.kind == "other" else "│"
    if mark.kind != "other":
        paper.cells[0][at] = "▽" if mark.kind == "found" else "▼"
