"""Charts with two axes, as shapes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ...pictures import (
    Band,
    Bars,
    Blocks,
    Chart,
    Dots,
    EventMark,
    Key,
    Level,
    Mean,
    Rug,
    Stretch,
    Strip,
    Trace,
)
from ...pictures.plot import Mark
from .glyphs import (
    AHEAD_DASHES,
    FOUND_DASHES,
    LIMIT_DASHES,
    after,
    cross,
    key_drawn,
    key_height,
    pointer,
    settling,
    shaped,
)
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
    width_of,
)

_FOOT, _STRIP, _SAYS = 22.0, 18.0, 16.0
_TOP_ROOM, _UNDER_KEY = 10.0, 7.0


@dataclass(frozen=True, slots=True)
class PlotArea:
    """Where a chart's values lie on the sheet."""

    chart: Chart
    left: float
    top: float
    wide: float
    high: float

    def x(self, value: float) -> float:
        return self.left + self.chart.x.inside(value) * self.wide

    def y(self, value: float) -> float:
        part = self.chart.y.inside(value)
        return self.top + (part if self.chart.down else 1 - part) * self.high

    @property
    def bottom(self) -> float:
        return self.top + self.high

    @property
    def right(self) -> float:
        return self.left + self.wide

    def within(self, x: float) -> bool:
        return -1e-9 <= self.chart.x.part(x) <= 1 + 1e-9


def _keys(chart: Chart) -> tuple[Key, ...]:
    return chart.key


def _named_events(chart: Chart) -> bool:
    return any(isinstance(m, EventMark) and m.kind != "felt" for m in chart.marks)


def chart_height(chart: Chart, width: float) -> float:
    head = (head_height(chart.heading, width) or 6) + key_height(_keys(chart), width)
    room = _TOP_ROOM if _named_events(chart) else 0
    return (
        head
        + room
        + _UNDER_KEY
        + chart.height
        + len(chart.strips) * _STRIP
        + (_FOOT if chart.x.ticks else 6)
        + (_SAYS if chart.x_says else 0)
        + 6
    )


def chart_drawn(chart: Chart, top: float, width: float) -> Iterator[Shape]:
    y = top
    yield from head_drawn(chart.heading, y, width)
    y += head_height(chart.heading, width) or 6
    yield from key_drawn(_keys(chart), 0, y, width)
    y += key_height(_keys(chart), width) + _UNDER_KEY + (_TOP_ROOM if _named_events(chart) else 0)
    words = [says for _, says in chart.y.ticks] + [strip.name for strip in chart.strips]
    left = min(max((width_of(w, SMALL) for w in words), default=0.0) + 8, width * 0.25)
    field = PlotArea(chart, left, y, width - left - 6, chart.height)
    yield from _backdrop(field)
    for mark in chart.marks:
        if not isinstance(mark, Stretch) and not (isinstance(mark, Blocks) and mark.dark):
            yield from _mark(field, mark)
    low = field.bottom
    for number, strip in enumerate(chart.strips):
        yield from _strip(field, strip, low + 4 + number * _STRIP)
    low += len(chart.strips) * _STRIP
    yield from _x_words(field, low)
    if chart.x_says:
        yield Words(left, low + _FOOT + 9, fitting(chart.x_says, width - left, SMALL), SMALL, "muted")


def _backdrop(field: PlotArea) -> Iterator[Shape]:
    for mark in field.chart.marks:
        if isinstance(mark, Stretch) and mark.kind == "dark":
            a, b = field.x(mark.x0), field.x(mark.x1)
            yield Area((box(a, field.top, b - a, field.high),), "shade", see_through=0.55)
        elif isinstance(mark, Blocks) and mark.dark and mark.boxes:
            yield Area(tuple(_box(field, b) for b in mark.boxes), "shade", see_through=0.55)
    for value, says in field.chart.y.ticks:
        y = field.y(value)
        yield Stroke(((field.left, y), (field.right, y)), "faint", 0.8)
        yield Words(field.left - 6, y + 4, says, SMALL, "muted", "end")
    for mark in field.chart.marks:
        if isinstance(mark, Stretch) and mark.kind == "settling":
            yield from settling(field.x(mark.x0), field.x(mark.x1), field.top, field.bottom)


def _box(field: PlotArea, corners: tuple[float, float, float, float]) -> tuple[tuple[float, float], ...]:
    x0, x1, y0, y1 = corners
    a, b, c, d = field.x(x0), field.x(x1), field.y(y0), field.y(y1)
    # What was too short to see is drawn high enough to be seen.
    return box(a, min(c, d), max(b - a, 1.6), max(abs(d - c), 2.5))


def _x_words(field: PlotArea, low: float) -> Iterator[Shape]:
    yield Stroke(((field.left, field.bottom), (field.right, field.bottom)), "faint", 1.0)
    free = -math.inf
    for value, says in field.chart.x.ticks:
        wide, x = width_of(says, SMALL), field.x(value)
        x = min(max(x, field.left + wide / 2 - 8), field.right + 4 - wide / 2)
        if x - wide / 2 >= free:
            yield Words(x, low + 17, says, SMALL, "muted", "middle")
            free = x + wide / 2 + 6


def _mark(field: PlotArea, mark: Mark) -> Iterable[Shape]:
    match mark:
        case Trace():
            return _line(field, mark)
        case Band():
            return _band(field, mark)
        case Dots():
            return _dots(field, mark)
        case Bars():
            return _bars(field, mark)
        case Level():
            return _level(field, mark)
        case Mean():
            return _mean(field, mark)
        case EventMark():
            return _event(field, mark)
        case Rug():
            return _rug(field, mark)
        case Blocks():
            return [Area(tuple(_box(field, b) for b in mark.boxes), "blue")] if mark.boxes else []
    return []


def _runs(*columns: tuple[float, ...]) -> Iterator[list[tuple[float, ...]]]:
    """Stretches without a missing value."""
    rows = list(zip(*columns, strict=True))
    for known, run in itertools.groupby(rows, key=lambda row: not any(map(math.isnan, row))):
        if known:
            yield list(run)


def _line(field: PlotArea, mark: Trace) -> Iterator[Shape]:
    for run in _runs(mark.x, mark.y):
        points = tuple((field.x(x), field.y(y)) for x, y in run)
        if len(points) == 1:
            yield from after(*points[0], radius=1.8)
        elif mark.ahead:
            yield Stroke(points, "blue", 1.6, AHEAD_DASHES, True)
        else:
            yield Stroke(points, "muted" if mark.faint else "blue", 0.8 if mark.faint else 2.2, (), True)


def _band(field: PlotArea, mark: Band) -> Iterator[Shape]:
    for run in _runs(mark.x, mark.low, mark.high):
        above = [(field.x(x), field.y(high)) for x, _, high in run]
        below = [(field.x(x), field.y(low)) for x, low, _ in reversed(run)]
        yield Area(((*above, *below),), "shade")


def _dots(field: PlotArea, mark: Dots) -> Iterator[Shape]:
    for x, y in zip(mark.x, mark.y, strict=True):
        at = field.x(x), field.y(y)
        if mark.side == "aside":
            yield from cross(*at)
        elif mark.side == "before":
            yield from shaped(*at, mark.shape, "paper", "ink")
        else:
            yield from shaped(*at, mark.shape, "blue", "blue")


def _bars(field: PlotArea, mark: Bars) -> Iterator[Shape]:
    for x, y, low, high in zip(mark.x, mark.y, mark.low, mark.high, strict=True):
        if math.isnan(y):
            continue
        at = field.x(x)
        if not (math.isnan(low) or math.isnan(high)):
            a, b = field.y(low), field.y(high)
            yield Stroke(((at, a), (at, b)), "blue", 1.6)
            for end in (a, b):
                yield Stroke(((at - 3, end), (at + 3, end)), "blue", 1.4)
        yield from after(at, field.y(y), radius=3.4)


def _level(field: PlotArea, mark: Level) -> Iterator[Shape]:
    y, colour = field.y(mark.y), "rust" if mark.limit else "muted"
    yield Stroke(((field.left, y), (field.right, y)), colour, 1.5, LIMIT_DASHES)  # type: ignore[arg-type]
    if mark.says:
        yield Words(field.right - 2, y - 4, mark.says, SMALL, colour, "end")  # type: ignore[arg-type]


def _mean(field: PlotArea, mark: Mean) -> Iterator[Shape]:
    a, b = field.x(mark.x0), field.x(mark.x1)
    b = max(b, a + 8)
    colour: Colour = "ink" if mark.side == "before" else "blue"
    if mark.low is not None and mark.high is not None:
        top, bottom = field.y(mark.high), field.y(mark.low)
        yield Area((box(a, min(top, bottom), b - a, abs(bottom - top)),), "shade", see_through=0.7)
    yield Stroke(((a, field.y(mark.y)), (b, field.y(mark.y))), colour, 2.4)


def _event(field: PlotArea, mark: EventMark) -> Iterator[Shape]:
    if not field.within(mark.x):
        return
    x = field.x(mark.x)
    if mark.kind == "felt":
        yield Stroke(((x, field.bottom - 5), (x, field.bottom + 3)), "ink", 1.4)
        yield Words(x, field.bottom - 8, mark.says, 10.5, "ink", "middle")
        return
    if mark.kind == "other":
        yield Stroke(((x, field.top), (x, field.bottom)), "muted", 1.0, LIMIT_DASHES)
    else:
        found = mark.kind == "found"
        yield Stroke(((x, field.top), (x, field.bottom)), "ink", 1.2, FOUND_DASHES if found else ())
        yield from pointer(x, field.top, found)
    if mark.says:
        wide = width_of(mark.says, SMALL)
        right = x + 8 + wide <= field.right + 6
        yield Words(
            x + 7 if right else x - 7, field.top - 3, mark.says, SMALL, "ink", "start" if right else "end"
        )


def _rug(field: PlotArea, mark: Rug) -> Iterator[Shape]:
    most = max(mark.height, default=0.0) or 1.0
    for x, height in zip(mark.x, mark.height, strict=True):
        if height > 0:
            at = field.x(x)
            yield Stroke(((at, field.bottom), (at, field.bottom - 3 - 13 * height / most)), "ink", 2.0)


def _strip(field: PlotArea, strip: Strip, top: float) -> Iterator[Shape]:
    y = top + _STRIP / 2
    yield Words(field.left - 6, y + 4, fitting(strip.name, field.left - 6, 10.5), 10.5, "muted", "end")
    for x in strip.at:
        if field.within(x):
            yield Stroke(((field.x(x), y - 5), (field.x(x), y + 5)), "ink", 1.6)
    for begin, end in strip.spans:
        a, b = field.x(begin), field.x(end)
        yield Stroke(((a, y), (max(b, a + 3), y)), "ink", 4.0)
