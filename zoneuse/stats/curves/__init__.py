"""What is read from a curve of choice when it is no parabola, when conditions err, and when the hour carries them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .by_hour import daily_part, hour_terms
    from .edges import Edge, TwoLines, edge_of, two_lines
    from .logger_error import calibrated, limits_with_offset, white_noise
    from .tops import ChoiceRows, Top, top_set

__all__ = [
    "ChoiceRows",
    "Edge",
    "Top",
    "TwoLines",
    "calibrated",
    "daily_part",
    "edge_of",
    "hour_terms",
    "limits_with_offset",
    "top_set",
    "two_lines",
    "white_noise",
]
__getattr__ = opened(
    __name__,
    {
        "by_hour": "daily_part hour_terms",
        "edges": "Edge TwoLines edge_of two_lines",
        "logger_error": "calibrated limits_with_offset white_noise",
        "tops": "ChoiceRows Top top_set",
    },
)
