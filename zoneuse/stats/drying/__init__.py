"""How a moist place dries, and when water must go in."""

from __future__ import annotations

from .dry_forecast import forecast
from .dry_moves import against_usual, clustered_mean, dry_spells, slope
from .drying import centred_medians, days_back, find_rises, median_held
from .per_litre import poured_line

__all__ = [
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
