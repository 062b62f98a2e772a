"""What loggers' errors do to a curve of choice: noise flattens it, a lasting offset moves it.

Regression calibration (Carroll, Ruppert, Stefanski & Crainiceanu 2006, Measurement Error in Nonlinear Models, ch. 4):
a noisy reading is replaced by what is expected of the truth given it, which lies nearer the mean of its zone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats

# However noisy, this much of a zone's change over time is left standing.
LEAST_LEFT = 0.2


def white_noise(values: ArrayLike) -> float:
    """The standard deviation of what is new in each reading, by second differences; NaN with fewer than ten.

    A smooth course leaves none; the median resists single leaps.

    >>> rng = np.random.default_rng(1)
    >>> course = 20 + 5 * np.sin(np.arange(2000) / 48 * 2 * np.pi)
    >>> round(white_noise(course + rng.normal(0, 1.5, 2000)), 1), white_noise(course) < 0.1
    (1.5, True)
    """
    v = np.asarray(values, np.float64)
    step = v[:-2] - 2 * v[1:-1] + v[2:]
    step = step[~np.isnan(step)]
    if step.size < 10:
        return float("nan")
    return float(np.median(np.abs(step)) / 0.6744898 / np.sqrt(6.0))


def calibrated(values: ArrayLike, zone: ArrayLike, noise: ArrayLike) -> Floats:
    """``values`` (rows,) of zones ``zone`` (rows,) with noise of variance ``noise`` (zones,) taken for what it is.

    >>> calibrated([9.0, 11.0], [0, 0], [0.5])
    array([ 9.5, 10.5])
    """
    v, where = np.asarray(values, np.float64), np.asarray(zone)
    variance = np.asarray(noise, np.float64)
    found = v.copy()
    for place in np.unique(where):
        here = where == place
        spread = float(v[here].var())
        if spread > 0 and variance[place] > 0:
            kept = max(1 - variance[place] / spread, LEAST_LEFT)
            found[here] = v[here].mean() + kept * (v[here] - v[here].mean())
    return found


def limits_with_offset(value: float, low: float, high: float, offset: float) -> tuple[float, float]:
    """Limits of a value of which the loggers may be off by ``offset`` (one standard deviation) for good.

    >>> low, high = limits_with_offset(25.0, 24.0, 28.0, 0.5)
    >>> round(low, 2), round(high, 2)
    (23.6, 28.16)
    """
    more = 1.959964 * offset
    return value - float(np.hypot(value - low, more)), value + float(np.hypot(high - value, more))
