"""Invented dry-downs that the forecasts were not set on: other laws than ``stages`` has, weather, sensors and pasts.

They only show whether what was chosen holds elsewhere. One exception: where the interval without a past cycle begins
and ends was set with the first five in view (``logistic`` failed); the last three were made after that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.sim.drydown import PER_DAY, Cycle, DryStudy, _weather
from tests.sim.stages import DAYS, Place, Spread, _ended, _shown, place

Floats = NDArray[np.float64]
OTHERS = (
    "stretched", "logistic", "two reservoirs", "shocks", "coarse sensor", "one past unlike",
    "gompertz", "hyperbolic", "straight line",
)  # fmt: skip


@dataclass(frozen=True)
class Law:
    """What one retreat's cycles share beside its place: the family, how bent it is, and its second store of water."""

    kind: str
    bent: float
    part: float
    slower: float


def law(kind: str, random: np.random.Generator) -> Law:
    bent = random.uniform(0.65, 1.6) if kind == "stretched" else random.uniform(0.15, 0.4)
    return Law(kind, bent, random.uniform(0.3, 0.7), random.uniform(2.0, 5.0))


def share_left(one: Law, t: Floats, days: float) -> Floats:
    """What is left of the height after ``t`` days, ``days`` the time scale; 1 at the recharge."""
    x = t / days
    if one.kind == "stretched":
        return np.asarray(np.exp(-(x**one.bent)), float)
    if one.kind == "logistic":
        # Slow at first, fastest when half is gone.
        fall = 1 / (1 + np.exp((x - 1) / one.bent))
        return np.asarray(fall / fall[0], float)
    if one.kind == "two reservoirs":
        return np.asarray(one.part * np.exp(-2 * x) + (1 - one.part) * np.exp(-2 * x / one.slower), float)
    if one.kind == "gompertz":
        # Every day a larger part of what is left.
        return np.asarray(np.exp(-one.bent * np.expm1(np.minimum(1.5 * x, 8.0))), float)
    if one.kind == "hyperbolic":
        return np.asarray((1 + x / 2) ** -2.0, float)
    if one.kind == "straight line":
        return np.asarray(np.maximum(1 - x / 1.6, 0), float)
    return np.asarray(np.exp(-x), float)


def _air(one: Law, here: Place, s: Spread, random: np.random.Generator, unlike: bool) -> Floats:
    t = np.arange(0, DAYS, 1 / PER_DAY)
    low = here.asymptote + s.asymptote * random.normal()
    high = min(here.start + s.start * random.normal(), 99.0)
    days = np.exp(s.rate * random.normal()) / here.rate
    if unlike:
        days *= random.choice([0.5, 1.7])
        low += random.normal(0, 5)
    air = low + (high - low) * share_left(one, t, days) + _weather(t.size, here.weather, 3.0, random)
    if one.kind == "shocks":
        # Wet and dry spells that come at once and are gone after some days.
        for at in random.uniform(0, DAYS, random.poisson(DAYS / 8)):
            size, lasts = random.choice([-1, 1]) * random.uniform(2, 7), random.uniform(1, 4)
            air += np.where(t >= at, size * np.exp(-np.maximum(t - at, 0) / lasts), 0)
    return np.asarray(air, float)


def make_other(kind: str, past: int, ask: float, random: np.random.Generator) -> DryStudy:
    """As ``stages.make_staged``; of ``one past unlike`` one past cycle dried at another pace, to another level."""
    s = Spread()
    while True:
        here, one = place("plain", random), law(kind, random)
        if kind == "coarse sensor":
            s = replace(s, noise=float(random.uniform(0.8, 1.5)))
        odd = int(random.integers(past)) if kind == "one past unlike" and past else -1
        cycles = []
        for number in range(past + 1):
            shown = _shown(_air(one, here, s, random, number == odd), here, s, 0.0, 0.0, random=random)
            if kind == "coarse sensor":
                # Every other hour, in steps of three points.
                kept = slice(None, None, PER_DAY // 12)
                shown = Cycle(shown.t[kept], 3 * np.round(shown.values[kept] / 3), shown.crossing)
            cycles.append(shown if number == past else _ended(shown, random))
        if ask + 0.5 < cycles[-1].crossing < DAYS - 1:
            return DryStudy(tuple(cycles), float(here.limit))
