"""By how much limits should narrow with more units, if units to come scatter as those so far."""

from __future__ import annotations

import numpy as np

from .quantiles import t_quantile


def narrower(units: int, more: int, confidence: float = 0.95) -> float:
    """Width of an interval of a mean over ``units + more`` units against that over ``units``; NaN below two units.

    >>> round(narrower(10, 10), 3)
    0.654
    """
    if units < 2:
        return float("nan")
    tail = (1 + confidence) / 2
    t = t_quantile(tail, units + more - 1) / t_quantile(tail, units - 1)
    return float(t * np.sqrt(units / (units + more)))


def narrower_change(before: int, after: int, more: int, confidence: float = 0.95) -> float:
    """The same for the difference of two means, with ``more`` units on the later side only.

    >>> round(narrower_change(10, 5, 5), 3)
    0.794
    """
    if before < 2 or after < 2:
        return float("nan")
    tail = (1 + confidence) / 2
    t = t_quantile(tail, before + after + more - 2) / t_quantile(tail, before + after - 2)
    return float(t * np.sqrt((1 / before + 1 / (after + more)) / (1 / before + 1 / after)))
