"""Is there a gradient, and when must water go in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .ask import climate
    from .cycles import FOUND
    from .drawn.charts import drying_charts, drying_described
    from .drawn.drying_days import DAYS_SHOWN, DryingDays, drying_days
    from .drying import DRYING
    from .picture import over_the_day
    from .shown import ClimateAnswer, chart_lines, median_said, sensor_said, wet_said
    from .words import without_basis

__all__ = [
    "DAYS_SHOWN",
    "DRYING",
    "FOUND",
    "ClimateAnswer",
    "DryingDays",
    "chart_lines",
    "climate",
    "drying_charts",
    "drying_days",
    "drying_described",
    "median_said",
    "over_the_day",
    "sensor_said",
    "wet_said",
    "without_basis",
]
__getattr__ = opened(
    __name__,
    {
        "ask": "climate",
        "cycles": "FOUND",
        "drawn.charts": "drying_charts drying_described",
        "drawn.drying_days": "DAYS_SHOWN DryingDays drying_days",
        "drying": "DRYING",
        "picture": "over_the_day",
        "shown": "ClimateAnswer chart_lines median_said sensor_said wet_said",
        "words": "without_basis",
    },
)
