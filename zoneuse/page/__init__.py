"""The study as one HTML page."""

from __future__ import annotations

from .gathered import gather
from .report import PageMade, place_for, report_html

__all__ = [
    "PageMade",
    "gather",
    "place_for",
    "report_html",
]
