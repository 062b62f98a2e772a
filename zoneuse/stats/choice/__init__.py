"""The discrete choice model and what is read from its curves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .choice import ChoiceFit, fit_choice
    from .cross_validation import better_by, held_out_loglik
    from .flexible import FlexibleCurve, flexible_curve, tested_together
    from .peaks import fieller_peak, largest_ratio, lind_mehlum_test
    from .place_or_climate import PlaceFit, account, fit_places, forecast_shares
    from .preference import PreferenceFit, fit_preference, widened, within_part
    from .spread import spread_interval
    from .start_point import start_point_test
    from .thermoregulation import outside_range, set_range_indices
    from .turned import sessions_turned
    from .used import mean_limits, used_by_animal, weighted_quantiles

__all__ = [
    "ChoiceFit",
    "FlexibleCurve",
    "PlaceFit",
    "PreferenceFit",
    "account",
    "better_by",
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
_WHERE = {
    "ChoiceFit": "choice",
    "FlexibleCurve": "flexible",
    "PlaceFit": "place_or_climate",
    "PreferenceFit": "preference",
    "account": "place_or_climate",
    "better_by": "cross_validation",
    "fieller_peak": "peaks",
    "fit_choice": "choice",
    "fit_places": "place_or_climate",
    "fit_preference": "preference",
    "flexible_curve": "flexible",
    "forecast_shares": "place_or_climate",
    "held_out_loglik": "cross_validation",
    "largest_ratio": "peaks",
    "lind_mehlum_test": "peaks",
    "mean_limits": "used",
    "outside_range": "thermoregulation",
    "sessions_turned": "turned",
    "set_range_indices": "thermoregulation",
    "spread_interval": "spread",
    "start_point_test": "start_point",
    "tested_together": "flexible",
    "used_by_animal": "used",
    "weighted_quantiles": "used",
    "widened": "preference",
    "within_part": "preference",
}


def __getattr__(name: str) -> Any:
    # Most answers take one small piece of it, and would load all of the model.
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
