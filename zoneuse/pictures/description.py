"""What a picture shows, as data: panels of rows, rooms, charts and tables, each with its scale and marks.

One glyph for one thing, in every renderer: an interval with its estimate, what is offered, before and after, found in
the readings and put on record, a limit set by the keeper.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from .ground import Ground
from .key import Key
from .plot import Chart
from .scales import Scale


@dataclass(frozen=True, slots=True)
class EstimateRow:
    """One line: an estimate with its limits, and in words its number, its verdict, and what stands beside it.

    ``offered`` is what the estimate is held against; ``before`` an earlier estimate, drawn hollow. ``claims``: the
    verdict stands, so the row is drawn strongly. ``group`` is a heading above the first of several rows.
    """

    name: str
    middle: float | None
    low: float | None = None
    high: float | None = None
    offered: float | None = None
    before: float | None = None
    said: str = ""
    verdict: str = ""
    beside: str = ""
    claims: bool = False
    group: str = ""
    about: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EstimateRows:
    """Rows on one scale. ``reference`` is a value all are held against: 1 for ratios, 0 for changes."""

    scale: Scale
    rows: tuple[EstimateRow, ...]
    heading: str = ""
    reference: float | None = None
    key: tuple[Key, ...] = ()
    more: int = 0


@dataclass(frozen=True, slots=True)
class RoomShown:
    """What stands in one place of the enclosure: its share of the time with limits, against what it offers.

    ``brief`` is its number where the room is too small for all that is ``said``.
    """

    name: str
    used: float | None = None
    low: float | None = None
    high: float | None = None
    offered: float | None = None
    said: str = ""
    verdict: str = ""
    claims: bool = False
    brief: str = ""


@dataclass(frozen=True, slots=True)
class RoomsShown:
    """The enclosure as it is built: a grid of places ("" is nothing), and what stands in each."""

    grid: tuple[tuple[str, ...], ...]
    rooms: dict[str, RoomShown]
    heading: str = ""
    key: tuple[Key, ...] = ()


def boxes(places: list[str], most: int) -> tuple[tuple[str, ...], ...]:
    """A grid without a sketch: places side by side, each as wide as the others of its row."""
    columns = min(len(places), most)
    cut = [places[i : i + columns] for i in range(0, len(places), columns)]
    fine = columns * len(cut[-1])  # so many cells that every row divides evenly
    return tuple(tuple(row[i * len(row) // fine] for i in range(fine)) for row in cut)


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """One line of a table of shares; ``strong`` are the cells that stand out."""

    name: str
    values: tuple[float | None, ...]
    strong: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Matrix:
    """Names down and along, a number in each cell. ``squares``: the area of a square grows with the number."""

    along: tuple[str, ...]
    rows: tuple[MatrixRow, ...]
    heading: str = ""
    squares: bool = False
    key: tuple[Key, ...] = ()


def by_hour(rows: Iterable[Mapping[str, Any]]) -> Matrix | None:
    """The hours of the day by zone, from the rows of a part with zone, hour and share; None without any."""
    found: dict[str, list[float | None]] = {}
    for one in rows:
        hour, share = one.get("hour"), one.get("share")
        name = one.get("zone_label") or one.get("zone")
        if isinstance(hour, int | float) and 0 <= hour < 24 and isinstance(share, int | float):
            found.setdefault(str(name or ""), [None] * 24)[int(hour)] = min(max(float(share), 0.0), 1.0)
    lines = tuple(MatrixRow(name, tuple(shares)) for name, shares in found.items())
    along = tuple(str(h) if h % 3 == 0 else "" for h in range(24))
    heading = "Hours of the day: share of each zone, followed animals"
    return Matrix(along, lines, heading, squares=True) if lines else None


Panel = EstimateRows | RoomsShown | Matrix | Chart | Ground


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture: a title that states what was found, a subtitle with unit and number, its panels, its source.

    ``says`` tells in words what is drawn, for those who cannot see it; ``name`` is a short name for files and ids.
    """

    name: str
    title: str
    subtitle: str
    source: str
    panels: tuple[Panel, ...]
    says: str = ""

    def bare(self) -> Figure:
        """Without the words that a page says around it."""
        return replace(self, title="", subtitle="", source="")
