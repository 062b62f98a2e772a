"""Pictures: one description (data, scales, marks), drawn as SVG, as text, and by matplotlib as PNG and PDF.

``description`` and ``plot`` say what a picture shows; ``drawn`` turns it into shapes; ``written`` writes
shapes, and draws the same description with letters. ``files`` makes a file by the ending of its name.
"""

from __future__ import annotations

from .description import Figure, Matrix, MatrixRow, Panel, Room, Rooms, Row, Rows
from .key import Key
from .plot import Chart

__all__ = ["Chart", "Figure", "Key", "Matrix", "MatrixRow", "Panel", "Room", "Rooms", "Row", "Rows"]
