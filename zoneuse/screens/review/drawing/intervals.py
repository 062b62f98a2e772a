"""What the charts are made of: rows of intervals on one scale, and grids of shares."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rich.cells import cell_len

from ....answers.showing.said import points as points_said
from ....study import visible
from ..background.crossing import Given
from .bars import CellScale, fit, interval, rounded_up, ticks
from .blocks import OpenSessions, TextBlock, plain_lines, wrapped

NUMBER = 7
_LEAST_TRACK = 8


@dataclass(frozen=True, slots=True)
class ChartSpace:
    """What every chart needs: the answer, the room there is, the keeper's keys, and the unit of temperature."""

    given: Given
    width: int
    narrow: bool
    keys: Mapping[str, str]
    fahrenheit: bool = False

    def label(self, name: str) -> str:
        return visible(self.given.labels.get(name, name))

    def short(self, name: str) -> str:
        """The label, or on a phone the keeper's key."""
        return self.keys.get(name, self.label(name)) if self.narrow else self.label(name)

    def names(self, names: Sequence[str]) -> int:
        """Cells for the names at the left."""
        longest = max((cell_len(self.label(n)) for n in names), default=0)
        return min(longest, 12 if self.narrow else 20)


@dataclass(frozen=True, slots=True)
class IntervalLine:
    """A row of an interval chart."""

    about: tuple[str, ...]
    name: str
    low: float | None
    middle: float | None
    high: float | None
    said: str
    against: float | None = None


def intervals(chart: ChartSpace, lines: Sequence[IntervalLine], low: float, high: float,
              at: Sequence[tuple[float, str]], *, log: bool = False,
              said: int = NUMBER) -> list[TextBlock]:  # fmt: skip
    """Dots with their limits, one under the other, on one scale with its numbers on top."""
    names = min(max((cell_len(line.name) for line in lines), default=0), 12 if chart.narrow else 24)
    # A number is never clipped: the bar gives way.
    longest = max((cell_len(line.said) for line in lines), default=0)
    said = max(said, min(longest, chart.width - names - 2 - _LEAST_TRACK))
    room = chart.width - names - said - 2
    scale = CellScale(low, high, max(room, _LEAST_TRACK), log)
    blocks = [
        plain_lines(" " * (names + 1) + ticks(scale, [v for v, _ in at], [w for _, w in at]), style="$muted")
    ]
    for line in lines:
        row = interval(scale, line.low, line.middle, line.high, line.against)
        words = f"{fit(line.name, names)} {row} {fit(line.said, said, right=True)}"
        blocks.append(plain_lines(words, opens=OpenSessions(line.name, line.about)))
    return blocks


def percents(top: float) -> list[tuple[float, str]]:
    """Whole per cents from 0 to the end of a scale."""
    parts = {0.25: 1, 0.75: 3}.get(top, 2)
    steps = [top * k / parts for k in range(parts + 1)]
    return [(v, f"{100 * v:.0f}{' %' if v == steps[-1] else ''}") for v in steps]


def percent(value: float | None) -> str:
    return "–" if value is None else f"{100 * value:.0f} %"


def points(
    about: tuple[str, ...], name: str, low: float | None, middle: float | None, high: float | None
) -> IntervalLine:
    said = points_said(middle)
    return IntervalLine(about, name, low, middle, high, said, 0.0)


def around_zero(chart: ChartSpace, lines: Sequence[IntervalLine]) -> list[TextBlock]:
    ends = [abs(v) for line in lines for v in (line.low, line.middle, line.high) if v is not None]
    most = rounded_up(max(ends, default=0.1))
    at = [(-most, f"−{100 * most:.0f}"), (0.0, "0"), (most, f"+{100 * most:.0f}")]
    return intervals(chart, lines, -most, most, at, said=5)


def grid(
    chart: ChartSpace, names: Sequence[str], columns: Sequence[str], values: Mapping[tuple[str, str], float | None],
    nothing: str = "·",
) -> list[TextBlock]:  # fmt: skip
    """Shares in whole per cent, a row per name and a column per zone or animal, under its key."""
    left = chart.names(names)
    # Two figures and a gap, three where somebody is always there.
    least = 4 if any(v is not None and v >= 0.995 for v in values.values()) else 3
    least = max([least, *(cell_len(chart.keys.get(c, "")) + 1 for c in columns)])
    each = max(least, min(7, (chart.width - left) // max(1, len(columns))))
    fitting = max(1, (chart.width - left) // each)
    blocks = []
    for start in range(0, len(columns), fitting):
        shown = columns[start : start + fitting]
        head = "".join(fit(chart.keys.get(c, c[:2]), each, right=True) for c in shown)
        blocks.append(plain_lines(" " * left + head, style="$key"))
        for name in names:
            cells = [values.get((name, c)) for c in shown]
            row = "".join(fit(nothing if v is None else f"{100 * v:.0f}", each, right=True) for v in cells)
            blocks.append(
                plain_lines(
                    fit(chart.label(name), left) + row, opens=OpenSessions(chart.label(name), (name,))
                )
            )
    return blocks


def legend(chart: ChartSpace, columns: Sequence[str]) -> list[TextBlock]:
    """What the keys over a grid's columns stand for."""
    words = [f"{chart.keys[c]} {chart.label(c)}".replace(" ", "\u00a0") for c in columns if c in chart.keys]
    return [wrapped("  ".join(words), chart.width, style="$muted")] if words else []
