"""Steps, trends and dependence in a series of units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .cosinor import population_cosinor
    from .lasting import median_lasting
    from .recent_change import LEVEL_MOVING, recent_change
    from .segmented import Step, ar_step, lag_one_within, pettitt_test, trend_explains, variance_inflation
    from .steady_sides import SteadySides, steady_sides
    from .theil_sen import SenLine, theil_sen

__all__ = [
    "LEVEL_MOVING",
    "SenLine",
    "SteadySides",
    "Step",
    "ar_step",
    "lag_one_within",
    "median_lasting",
    "pettitt_test",
    "population_cosinor",
    "recent_change",
    "steady_sides",
    "theil_sen",
    "trend_explains",
    "variance_inflation",
]
__getattr__ = opened(
    __name__,
    {
        "cosinor": "population_cosinor",
        "lasting": "median_lasting",
        "recent_change": "LEVEL_MOVING recent_change",
        "segmented": "Step ar_step lag_one_within pettitt_test trend_explains variance_inflation",
        "steady_sides": "SteadySides steady_sides",
        "theil_sen": "SenLine theil_sen",
    },
)
