"""Slow weather of daily medians: a Gaussian process over days, and how it goes on."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats


class Weather(NamedTuple):
    """How the slow weather of two days is correlated: over a few days, unevenly or ``smooth``, and what each day
    has to itself (as a share of the variance)."""

    length_d: float
    smooth: bool
    own: float

    def correlation(self, apart_d: Floats) -> Floats:
        """Exponential (an autoregression), or Matern 3/2 (Rasmussen & Williams 2006, eq. 4.17) where smooth."""
        x = np.abs(apart_d) / self.length_d
        if self.smooth:
            x = np.sqrt(3.0) * x
            return np.asarray((1 + x) * np.exp(-x), np.float64)
        return np.asarray(np.exp(-x), np.float64)

    def among(self, t: Floats) -> Floats:
        return np.asarray(self.correlation(t[:, None] - t[None, :]) + self.own * np.eye(len(t)), np.float64)


# From weather that is gone after a day to a room whose heating sets in over weeks; the readings choose.
WEATHERS = (
    Weather(1.2, False, 0.1),
    Weather(3.5, False, 0.1),
    Weather(3.0, True, 0.03),
    Weather(7.0, True, 0.01),
)


def kriged(
    left: Floats, t: Floats, ahead: Floats, sigma: Floats, weather: Weather, *, random: np.random.Generator
) -> Floats:
    """Continuations (draws, steps) of the slow weather, given what it was: ``left`` (draws, n) at ``t`` (kriging).

    ``ahead``: days after the last of ``t``.
    """
    then = t[-1] + ahead
    across = weather.correlation(t[:, None] - then[None, :])
    gain = np.linalg.solve(weather.among(t), across)
    spare = weather.correlation(then[:, None] - then[None, :]) - across.T @ gain
    root = np.linalg.cholesky(spare + 1e-6 * np.eye(len(then)))
    fresh = product(random.normal(size=(len(left), len(then))), root.T)
    return np.asarray(product(left, gain) + sigma[:, None] * fresh, np.float64)


def product(one: NDArray[np.floating[Any]], other: NDArray[np.floating[Any]]) -> Floats:
    """A matrix product in one thread: BLAS would wait for a second processor that is busy, tenfold as long."""
    return np.asarray(np.einsum("ij,jk->ik", one, other), np.float64)
