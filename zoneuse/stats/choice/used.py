"""What was used of a condition: in each animal first, then over animals.

The mean of each animal's selected temperatures is its preferred temperature, their central 50 % its set range
(Licht, Dawson, Shoemaker & Main 1966, Copeia 1966:97; Hertz, Huey & Stevenson 1993, Am. Nat. 142:796); both are
then averaged over animals, each of which counts once however often it was looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..intervals.quantiles import t_quantile

QUARTILES = (0.25, 0.5, 0.75)


def weighted_quantiles(values: ArrayLike, weights: ArrayLike, at: ArrayLike) -> Floats:
    """Quantiles of values that each stand for ``weights`` animals (counts; fractions of an animal too).

    With whole counts the same as ``numpy.quantile`` (linear) of the values written out so many times; NaN where
    all weights are 0. ValueError for negative weights or unequal lengths.

    >>> weighted_quantiles([10.0, 20.0], [1, 3], [0.25, 0.5])
    array([17.5, 20. ])
    """
    v, w, q = (np.asarray(a, np.float64) for a in (values, weights, at))
    if v.shape != w.shape or v.ndim != 1 or (w < 0).any():
        raise ValueError("values, weights: expected one weight from 0 up for each value")
    order = np.argsort(v[w > 0], kind="stable")
    v, w = v[w > 0][order], w[w > 0][order]
    if not v.size:
        return np.full(q.shape, np.nan)
    upto = np.cumsum(w)
    at_rank = q * max(float(upto[-1]) - 1.0, 0.0)
    low = np.floor(at_rank + 1e-9)
    first, second = (
        v[np.minimum(np.searchsorted(upto, rank + 1e-9, "right"), v.size - 1)] for rank in (low, low + 1)
    )
    return np.asarray(first + np.clip(at_rank - low, 0.0, 1.0) * (second - first), np.float64)


@dataclass(frozen=True, slots=True)
class OverAnimals:
    """``mean`` .. ``q75``: of each animal (animals,). ``low``, ``high``: 95 % limits of the mean over animals,
    NaN with a single one."""

    mean: Floats
    median: Floats
    q25: Floats
    q75: Floats
    low: float
    high: float


def used_by_animal(values: ArrayLike, weights: ArrayLike, animal: ArrayLike) -> OverAnimals:
    """``values`` of the places used, each for ``weights`` of the animal numbered ``animal`` (0, 1, 2 …).

    Limits by Student's t over the animals' means: animals are the sample, not their moments.

    >>> found = used_by_animal([20.0, 22.0, 30.0], [1, 1, 1], [0, 0, 1])
    >>> found.mean, found.median
    (array([21., 30.]), array([21., 30.]))
    """
    v, w = np.asarray(values, np.float64), np.asarray(weights, np.float64)
    who = np.asarray(animal)
    count = int(who.max()) + 1 if who.size else 0
    mean = np.bincount(who, w * v, count) / np.bincount(who, w, count)
    parts = np.array([weighted_quantiles(v[who == a], w[who == a], QUARTILES) for a in range(count)])
    q25, median, q75 = parts.T if count else np.zeros((3, 0))
    low, high = mean_limits(mean)
    return OverAnimals(mean, median, q25, q75, low, high)


def mean_limits(values: ArrayLike, confidence: float = 0.95, widened: float = 1.0) -> tuple[float, float]:
    """Limits of a mean over independent values (Student's t); NaN with fewer than two.

    ``widened`` multiplies the variance and divides the number of values, where successive ones repeat each other.

    >>> low, high = mean_limits([1.0, 2.0, 3.0])
    >>> round(low, 3), round(high, 3)
    (-0.484, 4.484)
    """
    v = np.asarray(values, np.float64)
    if v.size < 2:
        return float("nan"), float("nan")
    degrees = max(v.size / widened - 1, 1.0)
    half = t_quantile(0.5 + confidence / 2, degrees) * float(v.std(ddof=1)) * float(np.sqrt(widened / v.size))
    return float(v.mean()) - half, float(v.mean()) + half
