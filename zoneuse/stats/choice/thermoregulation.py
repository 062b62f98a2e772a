"""Accuracy, habitat quality and effectiveness against a set range (Hertz, Huey & Stevenson 1993).

Am. Nat. 142:796-818, doi 10.1086/285573. Here with the temperature (or humidity) of the zone used in place
of body temperature, and of all zones on offer in place of operative temperatures.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats


def outside_range(values: ArrayLike, low: float, high: float) -> Floats:
    """How far each value lies outside a set range; 0 inside it.

    >>> outside_range([20, 26.5, 28.1, 29.8, 35], 26.5, 29.8).round(1)
    array([6.5, 0. , 0. , 0. , 5.2])
    """
    if not low <= high:
        raise ValueError(f"low, high: expected low <= high, found {low} and {high}")
    v = np.asarray(values, np.float64)
    return np.asarray(np.maximum(np.maximum(low - v, v - high), 0.0), np.float64)


@dataclass(frozen=True, slots=True)
class SetRangeIndices:
    """``accuracy`` d_b and ``quality`` d_e, both in the unit of the values, 0 being best.

    ``effectiveness`` is E = 1 - d_b/d_e (1: always inside; 0: as if places were taken at random; below 0:
    worse), None where all that was offered lies inside. ``gain`` is d_e - d_b (Blouin-Demers & Weatherhead
    2001, Ecology 82:3025).
    """

    accuracy: float
    quality: float
    effectiveness: float | None
    gain: float


def set_range_indices(
    used: ArrayLike,
    offered: ArrayLike,
    low: float,
    high: float,
    *,
    used_weight: ArrayLike | None = None,
    offered_weight: ArrayLike | None = None,
) -> SetRangeIndices:
    """The indices from values used and values offered, each with optional weights.

    >>> found = set_range_indices([28, 29, 30.5, 32, 33, 31], [22, 25, 29, 36, 40, 31], 29, 32)
    >>> round(found.accuracy, 7), round(found.quality, 7), round(found.effectiveness, 7)
    (0.3333333, 3.8333333, 0.9130435)
    """
    accuracy = _mean(outside_range(used, low, high), used_weight)
    quality = _mean(outside_range(offered, low, high), offered_weight)
    effectiveness = 1 - accuracy / quality if quality > 0 else None
    return SetRangeIndices(accuracy, quality, effectiveness, quality - accuracy)


def _mean(values: Floats, weight: ArrayLike | None) -> float:
    return float(np.average(values, weights=None if weight is None else np.asarray(weight, np.float64)))
