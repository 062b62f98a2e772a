"""The discrete choice model and what is read from its curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .choice import ChoiceFit, Limit, fit_choice
    from .cross_validation import HeldOut, better_by, held_out_loglik
    from .flexible import FlexibleCurve, flexible_curve, tested_together
    from .peaks import TwoEnds, cut_to_offered, delta_peak, fieller_peak, largest_ratio, lind_mehlum_test
    from .place_or_climate import PlaceFit, account, fit_places, forecast_shares
    from .preference import PreferenceFit, fit_preference, widened, within_part
    from .spread import spread_interval
    from .start_point import start_point_test
    from .thermoregulation import outside_range, set_range_indices
    from .turned import Turned, sessions_turned
    from .used import mean_limits, used_by_animal, weighted_quantiles

__all__ = [
    "ChoiceFit",
    "FlexibleCurve",
    "HeldOut",
    "Limit",
    "PlaceFit",
    "PreferenceFit",
    "Turned",
    "TwoEnds",
    "account",
    "better_by",
    "cut_to_offered",
    "delta_peak",
    "fieller_peak",
    "fit_choice",
    "fit_places",
    "fit_preference",
    "flexible_curve",
    "forecast_shares",
    "held_out_loglik",
    "largest_ratio",
    "lind_mehlum_test",
    "mean_limits",
    "outside_range",
    "sessions_turned",
    "set_range_indices",
    "spread_interval",
    "start_point_test",
    "tested_together",
    "used_by_animal",
    "weighted_quantiles",
    "widened",
    "within_part",
]
__getattr__ = opened(
    __name__,
    {
        "choice": "ChoiceFit Limit fit_choice",
        "cross_validation": "HeldOut better_by held_out_loglik",
        "flexible": "FlexibleCurve flexible_curve tested_together",
        "peaks": "TwoEnds cut_to_offered delta_peak fieller_peak largest_ratio lind_mehlum_test",
        "place_or_climate": "PlaceFit account fit_places forecast_shares",
        "preference": "PreferenceFit fit_preference widened within_part",
        "spread": "spread_interval",
        "start_point": "start_point_test",
        "thermoregulation": "outside_range set_range_indices",
        "turned": "Turned sessions_turned",
        "used": "mean_limits used_by_animal weighted_quantiles",
    },
)
