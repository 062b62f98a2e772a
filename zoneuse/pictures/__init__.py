"""What a picture shows, as data: panels, scales, marks and dates; and the same in letters, as an answer prints it.

``description`` and ``plot`` say what one shows, ``letters`` draws it with letters. Shapes, and files of them, are
made above the answers by ``zoneuse.figures``.
"""

from __future__ import annotations

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
from .plot import Chart

__all__ = [
    "Chart",
    "EstimateRow",
    "EstimateRows",
    "Figure",
    "Ground",
    "Key",
    "Matrix",
    "MatrixRow",
    "RoomShown",
    "RoomsShown",
    "boxes",
    "by_hour",
    "grounds",
]
