"""Events per hour, with exact Poisson limits that allow for events coming in clusters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..special import special


@dataclass(frozen=True, slots=True)
class Rate:
    """Events per hour; ``dispersion`` is how many times more sessions differ than chance alone would make them.

    ``worth`` is how many independent events there are, deflated by it; ``se`` the standard error of the rate.
    """

    per_hour: float
    low: float
    high: float
    dispersion: float
    worth: float
    se: float


def event_rate(events: ArrayLike, hours: ArrayLike, confidence: float = 0.95) -> Rate:
    """The rate over sessions of given events and hours watched (both one entry a session).

    Exact Poisson limits (Garwood 1936, Biometrika 28:437) on the events deflated by their dispersion, Pearson's
    chi-square over its degrees of freedom (Wedderburn 1974), never below one. ValueError without hours.

    >>> rate = event_rate([10], [2.0])
    >>> rate.per_hour, round(rate.low * 2, 3), round(rate.high * 2, 3)
    (5.0, 4.795, 18.39)
    """
    count, time = np.asarray(events, np.float64), np.asarray(hours, np.float64)
    if count.shape != time.shape or count.ndim != 1 or not (time > 0).any():
        raise ValueError("events and hours: expected one number of each per session, some hours above zero")
    count, time = count[time > 0], time[time > 0]
    total, watched = float(count.sum()), float(time.sum())
    dispersion = 1.0
    if total > 0 and count.size > 1:
        expected = total * time / watched
        dispersion = max(1.0, float(((count - expected) ** 2 / expected).sum()) / (count.size - 1))
    worth, tail = total / dispersion, (1 - confidence) / 2
    low = float(special.gammaincinv(worth, tail)) if worth > 0 else 0.0
    high = float(special.gammainccinv(worth + 1, tail))
    return Rate(
        total / watched, low * dispersion / watched, high * dispersion / watched, dispersion, worth,
        float(np.sqrt(total * dispersion)) / watched,
    )  # fmt: skip
