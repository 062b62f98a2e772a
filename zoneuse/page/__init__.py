"""The study as one HTML page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door import opened

if TYPE_CHECKING:
    from .gathered import STEPS, gather
    from .report import PageMade, place_for, report_html

__all__ = [
    "STEPS",
    "PageMade",
    "gather",
    "place_for",
    "report_html",
]
__getattr__ = opened(
    __name__,
    {
        "gathered": "STEPS gather",
        "report": "PageMade place_for report_html",
    },
)
