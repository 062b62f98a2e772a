"""The study as one HTML page."""

from __future__ import annotations

from .gathered import gather
from .report import Made, place_for, report_html

__all__ = [
    "Made",
    "gather",
    "place_for",
    "report_html",
]
