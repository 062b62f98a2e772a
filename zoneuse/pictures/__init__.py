"""What a picture shows, as data: panels, scales, marks and dates; and the same in letters, as an answer prints it.

``description`` and ``plot`` say what one shows, ``letters`` draws it with letters. Shapes, and files of them, are
made above the answers by ``zoneuse.figures``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door import opened

if TYPE_CHECKING:
    from .dates import MONTHS, clock_said, day_number, day_said, span_said, time_ticks
    from .description import (
        EstimateRow,
        EstimateRows,
        Figure,
        Matrix,
        MatrixRow,
        RoomShown,
        RoomsShown,
        boxes,
        by_hour,
    )
    from .ground import Ground, grounds
    from .key import Key
    from .letters import LetterLine, interval, panel_lines, strip
    from .plot import Band, Bars, Blocks, Chart, Dots, EventMark, Level, Mean, Rug, Stretch, Strip, Trace
    from .scales import Scale, changes, hours, numbers, ratios, shares

__all__ = [
    "MONTHS",
    "Band",
    "Bars",
    "Blocks",
    "Chart",
    "Dots",
    "EstimateRow",
    "EstimateRows",
    "EventMark",
    "Figure",
    "Ground",
    "Key",
    "LetterLine",
    "Level",
    "Matrix",
    "MatrixRow",
    "Mean",
    "RoomShown",
    "RoomsShown",
    "Rug",
    "Scale",
    "Stretch",
    "Strip",
    "Trace",
    "boxes",
    "by_hour",
    "changes",
    "clock_said",
    "day_number",
    "day_said",
    "grounds",
    "hours",
    "interval",
    "numbers",
    "panel_lines",
    "ratios",
    "shares",
    "span_said",
    "strip",
    "time_ticks",
]
__getattr__ = opened(
    __name__,
    {
        "dates": "MONTHS clock_said day_number day_said span_said time_ticks",
        "description": "EstimateRow EstimateRows Figure Matrix MatrixRow RoomShown RoomsShown boxes by_hour",
        "ground": "Ground grounds",
        "key": "Key",
        "letters": "LetterLine interval panel_lines strip",
        "plot": "Band Bars Blocks Chart Dots EventMark Level Mean Rug Stretch Strip Trace",
        "scales": "Scale changes hours numbers ratios shares",
    },
)
