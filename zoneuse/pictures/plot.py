"""Charts with two axes: lines, bands, dots, bars with limits, the keeper's limits, waters and changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .key import Key
from .scales import Scale

Values = tuple[float, ...]
Shape = Literal["circle", "square", "up", "down"]


@dataclass(frozen=True, slots=True)
class Trace:
    """Values joined by a line, broken where one is NaN. ``ahead``: what is expected; ``faint``: raw readings."""

    x: Values
    y: Values
    ahead: bool = False
    faint: bool = False


@dataclass(frozen=True, slots=True)
class Band:
    """From ``low`` to ``high`` along x, broken where one is NaN."""

    x: Values
    low: Values
    high: Values


@dataclass(frozen=True, slots=True)
class Dots:
    """A mark for each value. ``side``: before (hollow), after (filled), aside (a cross, not counted)."""

    x: Values
    y: Values
    side: Literal["before", "after", "aside"] = "after"
    shape: Shape = "circle"


@dataclass(frozen=True, slots=True)
class Bars:
    """Upright estimates with their limits; limits are NaN where there are none."""

    x: Values
    y: Values
    low: Values
    high: Values
    wide: float = 0.8


@dataclass(frozen=True, slots=True)
class Level:
    """A value across the whole chart: the keeper's limit, or what is compared with."""

    y: float
    says: str = ""
    limit: bool = True


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean with its limits over a stretch of x."""

    x0: float
    x1: float
    y: float
    low: float | None = None
    high: float | None = None
    side: Literal["before", "after"] = "after"


@dataclass(frozen=True, slots=True)
class EventMark:
    """A moment: put on record (filled), found in the readings (hollow), another change, or only a word at the foot."""

    x: float
    says: str = ""
    kind: Literal["recorded", "found", "other", "felt"] = "recorded"


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of x: dark (lights off), settling (not counted)."""

    x0: float
    x1: float
    kind: Literal["dark", "settling"] = "dark"


@dataclass(frozen=True, slots=True)
class Rug:
    """What was offered: a stroke at the foot for each value, as high as its part of the largest."""

    x: Values
    height: Values


@dataclass(frozen=True, slots=True)
class Blocks:
    """Filled boxes: sessions in the hours of the days."""

    boxes: tuple[tuple[float, float, float, float], ...]
    dark: bool = False


Mark = Trace | Band | Dots | Bars | Level | Mean | EventMark | Stretch | Rug | Blocks


@dataclass(frozen=True, slots=True)
class Chart:
    """Marks over two axes. ``down``: y grows downwards. ``strips`` are rows of events below, each with its name."""

    x: Scale
    y: Scale
    marks: tuple[Mark, ...]
    heading: str = ""
    height: int = 130
    down: bool = False
    key: tuple[Key, ...] = ()
    strips: tuple[Strip, ...] = ()
    x_says: str = ""


@dataclass(frozen=True, slots=True)
class Strip:
    """A row of events below a chart: moments and stretches."""

    name: str
    at: Values
    spans: tuple[tuple[float, float], ...] = ()
