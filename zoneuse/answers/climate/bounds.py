"""Figures that rest on readings at the sensor's ceiling: which way the truth may lie, and how far.

At its ceiling a humidity says "at least this much", and at most saturation. A dew point from it is then at least what
it says, and at most the air's temperature; a vapour pressure deficit is at most what it says, and at least none.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .series import Climate

AT_LEAST, AT_MOST = "at least", "at most"
# Which way a figure from readings at the ceiling is bounded.
SIDES = {"humidity_pct": AT_LEAST, "dew_point_c": AT_LEAST, "vpd_kpa": AT_MOST}
# A median lies at the ceiling where half of the readings do; a mean is moved by any that are more than a few.
_HALF, _FEW = 0.5, 0.05


def at_ceiling(climate: Climate, zone: str, there: NDArray[np.bool_]) -> float:
    """The share of these times at which a zone's humidity stood at its sensor's ceiling; NaN where none is known."""
    wet = climate.wet[there, climate.zones.index(zone)]
    return float(np.nanmean(wet)) if (~np.isnan(wet)).any() else float("nan")


def median_bound(quantity: str, share: float) -> str | None:
    """``at least`` or ``at most`` where a median rests on the ceiling. ``share``: of the time at it."""
    return SIDES.get(quantity) if share >= _HALF else None


def one_sided(
    climate: Climate, zone: str, quantity: str, median: float, accuracy: float
) -> tuple[float, float]:
    """How far below and above a median at the ceiling the truth may lie, in the quantity's unit.

    Toward saturation as far as that is; the other way what the sensor can tell.
    """
    if quantity == "vpd_kpa":
        return max(median, 0.0), accuracy
    most = 100.0
    if quantity == "dew_point_c":
        most = float(np.nanmedian(climate.of(zone, "temperature_c")))
    return accuracy, max(most - median, 0.0)


def difference_bound(
    climate: Climate, quantity: str, zone: str, other: str, there: NDArray[np.bool_], mean: bool
) -> str | None:
    """Whether a difference between two zones, the first the greater, is at least what the readings give.

    So it is where only the moister of both stood at its ceiling. ``mean``: the difference is one of means.
    """
    side = SIDES.get(quantity)
    if side is None:
        return None
    moist, dry = (zone, other) if side == AT_LEAST else (other, zone)
    enough = _FEW if mean else _HALF
    return AT_LEAST if at_ceiling(climate, moist, there) >= enough > at_ceiling(climate, dry, there) else None
