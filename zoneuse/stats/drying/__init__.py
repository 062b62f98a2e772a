"""How a moist place dries, and when water must go in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .dry_forecast import LEAST_DAYS, LEAST_WITH_PAST, MOST_HOLDING, DryForecast, forecast
    from .dry_moves import NOTHING, Interval, against_usual, clustered_mean, dry_spells, slope
    from .drying import centred_medians, days_back, find_rises, median_held
    from .per_litre import PouredLine, poured_line
    from .staged import Cycle

__all__ = [
    "LEAST_DAYS",
    "LEAST_WITH_PAST",
    "MOST_HOLDING",
    "NOTHING",
    "Cycle",
    "DryForecast",
    "Interval",
    "PouredLine",
    "against_usual",
    "centred_medians",
    "clustered_mean",
    "days_back",
    "dry_spells",
    "find_rises",
    "forecast",
    "median_held",
    "poured_line",
    "slope",
]
__getattr__ = opened(
    __name__,
    {
        "dry_forecast": "DryForecast LEAST_DAYS LEAST_WITH_PAST MOST_HOLDING forecast",
        "dry_moves": "Interval NOTHING against_usual clustered_mean dry_spells slope",
        "drying": "centred_medians days_back find_rises median_held",
        "per_litre": "PouredLine poured_line",
        "staged": "Cycle",
    },
)
