"""Steps, trends and dependence in a series of units."""

from __future__ import annotations

from .cosinor import population_cosinor
from .recent_change import recent_change
from .segmented import ar_step, lag_one_within, pettitt_test, trend_explains, variance_inflation
from .steady_sides import steady_sides
from .theil_sen import theil_sen

__all__ = [
    "ar_step",
    "lag_one_within",
    "pettitt_test",
    "population_cosinor",
    "recent_change",
    "steady_sides",
    "theil_sen",
    "trend_explains",
    "variance_inflation",
]
