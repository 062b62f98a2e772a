"""Invented dry-downs with known crossings: a retreat that dries between recharges, as a logger would show it.

Humidity falls exponentially from a start to an asymptote; start, asymptote and rate differ from enclosure to
enclosure and, less, from cycle to cycle. On top lie a daily cycle, slow weather, the sensor's noise, mistings
and gaps. The true crossing is that of the 24-hour median, centred, of what the air did (no noise, no gaps).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
PER_DAY = 48


@dataclass(frozen=True)
class Pattern:
    """How enclosures and their cycles differ; sds between cycles are those of one enclosure."""

    time_constant_d: tuple[float, float] = (6.0, 18.0)
    asymptote: tuple[float, float] = (50.0, 68.0)
    start: tuple[float, float] = (90.0, 97.0)
    rate_sd: float = 0.20
    asymptote_sd: float = 2.0
    start_sd: float = 1.5
    daily: tuple[float, float] = (0.5, 3.0)
    weather_sd: tuple[float, float] = (0.3, 1.2)
    weather_d: float = 3.0
    noise: float = 0.5
    mistings_per_day: float = 0.4
    gaps_per_cycle: float = 0.5
    heating: bool = False


@dataclass(frozen=True)
class Cycle:
    """Readings from one recharge on: days since it, values (NaN: absent), and when it truly crossed."""

    t: Floats
    values: Floats
    crossing: float


@dataclass(frozen=True)
class DryStudy:
    """Cycles of one retreat, the running one last, and the keeper's lower limit."""

    cycles: tuple[Cycle, ...]
    limit: float


def make_study(past: int, random: np.random.Generator, pattern: Pattern | None = None) -> DryStudy:
    """``past`` finished cycles and a running one that crosses its limit between 6 and 40 days after recharge."""
    p = pattern or Pattern()
    while True:
        asymptote, start = random.uniform(*p.asymptote), random.uniform(*p.start)
        rate = 1 / np.exp(random.uniform(*np.log(p.time_constant_d)))
        limit = asymptote + (start - asymptote) * random.uniform(0.2, 0.6)
        daily, weather = random.uniform(*p.daily), random.uniform(*p.weather_sd)
        cycles = [
            _cycle(p, random, start, asymptote, rate, limit, daily, weather, p.heating and i == past)
            for i in range(past + 1)
        ]
        if 6 <= cycles[-1].crossing <= 40:
            return DryStudy((*(_until_refilled(c, random) for c in cycles[:-1]), cycles[-1]), float(limit))


def _cycle(
    p: Pattern, random: np.random.Generator, start: float, asymptote: float, rate: float, limit: float,
    daily: float, weather_sd: float, heating: bool,
) -> Cycle:  # fmt: skip
    low = asymptote + p.asymptote_sd * random.normal()
    high = min(start + p.start_sd * random.normal(), 99.5)
    k = rate * np.exp(p.rate_sd * random.normal())
    t = np.arange(0, 45, 1 / PER_DAY)
    if heating:
        # The room's heating goes on at some day: from then on it dries half as fast again.
        k = k * np.where(t > random.uniform(2, 12), 1.5, 1.0)
    gone = np.cumsum(np.broadcast_to(k, t.shape)) / PER_DAY
    air = low + (high - low) * np.exp(-gone) + _weather(t.size, weather_sd, p.weather_d, random)
    hour = random.uniform(0, 1)
    air += daily * np.sin(2 * np.pi * (t + hour)) + 0.3 * daily * np.sin(4 * np.pi * (t + hour))
    for at in random.uniform(0, 45, random.poisson(45 * p.mistings_per_day)):
        after = t - at
        air += np.where(after >= 0, random.uniform(5, 20) * np.exp(-np.maximum(after, 0) * 24 / 1.5), 0)
    air = np.clip(air, 5, 100)
    shown = np.clip(air + p.noise * random.normal(size=t.size), 1, 100)
    for at in random.uniform(0, 45, random.poisson(p.gaps_per_cycle)):
        shown[(t >= at) & (t < at + random.uniform(0.3, 2.5))] = np.nan
    return Cycle(t, shown, _crossing(air, limit))


def _weather(size: int, sd: float, days: float, random: np.random.Generator) -> Floats:
    """Slow weather: Ornstein-Uhlenbeck, drawn every half hour."""
    keep = np.exp(-1 / PER_DAY / days)
    steps = sd * np.sqrt(1 - keep**2) * random.normal(size=size)
    steps[0] = sd * random.normal()
    # A first-order recursion as a cumulated sum in blocks would overflow; scipy is there in tests.
    from scipy.signal import lfilter

    return np.asarray(lfilter([1.0], [1.0, -keep], steps), float)


def _crossing(air: Floats, limit: float) -> float:
    """The first time, days, at which the centred 24-hour median is below the limit; inf where it never is."""
    windows = np.lib.stride_tricks.sliding_window_view(air, PER_DAY)[:: PER_DAY // 12]
    below = np.flatnonzero(np.median(windows, axis=1) < limit)
    return float(below[0] / 12 + 0.5) if below.size else float("inf")


def _until_refilled(cycle: Cycle, random: np.random.Generator) -> Cycle:
    """A past cycle ends when the keeper sees to it: from two days before the crossing to four after it."""
    end = min(cycle.crossing, 30.0) + random.uniform(-2, 4)
    kept = cycle.t < max(end, 4.0)
    return Cycle(cycle.t[kept], cycle.values[kept], cycle.crossing)
