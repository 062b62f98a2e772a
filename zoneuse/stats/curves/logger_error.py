"""What loggers' errors do to a curve of choice: noise flattens it, a lasting offset moves it.

Regression calibration (Carroll, Ruppert, Stefanski & Crainiceanu 2006, Measurement Error in Nonlinear Models, ch. 4):
a noisy reading is replaced by what is expected of the truth given all of its moment.
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


def calibrated(values: ArrayLike, noise: ArrayLike) -> Floats:
    """``values`` (moments x zones) with noise of variance ``noise`` (zones,) taken for what it is.

    What is expected of all zones given all readings of a moment: what zones share (the weather) is not noise, and
    must not be shrunk more in one zone than in another. Moments in which a zone is not known stay as they are.

    >>> calibrated([[9.0], [11.0]], [1.0])
    array([[ 9.5],
           [10.5]])
    """
    v, variance = np.asarray(values, np.float64), np.asarray(noise, np.float64)
    whole = ~np.isnan(v).any(axis=1)
    if whole.sum() < 2 or not (variance > 0).any():
        return v.copy()
    known = v[whole]
    mean, said = known.mean(axis=0), np.atleast_2d(np.cov(known.T))
    sizes, ways = np.linalg.eigh(said - np.diag(variance))
    true = (ways * np.maximum(sizes, 0.0)) @ ways.T
    drowned = np.diag(said) <= variance  # all noise, as far as can be told: some of it is left standing
    true += np.diag(LEAST_LEFT * drowned * np.diag(said))
    found = v.copy()
    found[whole] = mean + (known - mean) @ np.linalg.pinv(true + np.diag(variance)) @ true
    return found


def limits_with_offset(value: float, low: float, high: float, offset: float) -> tuple[float, float]:
    """Limits of a value of which the loggers may be off by ``offset`` (one standard deviation) for good.

    >>> low, high = limits_with_offset(25.0, 24.0, 28.0, 0.5)
    >>> round(low, 2), round(high, 2)
    (23.6, 28.16)
    """
    more = 1.959964 * offset
    return value - float(np.hypot(value - low, more)), value + float(np.hypot(high - value, more))
