"""Quantiles of the normal and Student's t, from scipy.special (scipy.stats takes a second more to import)."""

from __future__ import annotations

import numpy as np

from ..special import special


def normal_quantile(probability: float) -> float:
    """The standard normal quantile.

    >>> round(normal_quantile(0.975), 6)
    1.959964
    """
    return float(special.ndtri(probability))


def t_quantile(probability: float, degrees: float) -> float:
    """Student's t quantile; below one degree of freedom it is infinite (nothing is known of the spread).

    >>> round(t_quantile(0.975, 10), 6)
    2.228139
    """
    if degrees < 1:
        return float("inf") if probability > 0.5 else float("-inf")
    if np.isinf(degrees):
        return normal_quantile(probability)
    return float(special.stdtrit(degrees, probability))


def t_two_sided(confidence: float, degrees: float, compared: int = 1) -> float:
    """The quantile for a two-sided interval that holds for all of ``compared`` at once (Bonferroni).

    >>> round(t_two_sided(0.95, float("inf"), compared=4), 6)  # as in Neu, Byers & Peek 1974 at 95 %
    2.497705
    """
    return t_quantile(1 - (1 - confidence) / (2 * compared), degrees)


def t_tail(statistic: float, degrees: float) -> float:
    """Chance of a Student's t above ``statistic``.

    >>> round(t_tail(2.228139, 10), 6)
    0.025
    """
    if np.isinf(degrees):
        return float(special.ndtr(-statistic))
    return float(special.stdtr(degrees, -statistic))
