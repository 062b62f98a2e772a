"""Invented dry-downs in stages: what holds for days and then falls, and what goes otherwise than its past.

Water leaves wet ground at a constant rate while its surface is wet, and after that in proportion to what is left
(constant-rate and falling-rate period; Sherwood 1929, Ind. Eng. Chem. 21:12, from memory). A hide's humidity stands
still through the first and falls towards the room's through the second; substrate moisture falls on a line first.
``box`` is neither curve but the balance itself: evaporation against air exchange, by steps of half an hour.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tests.sim.drydown import PER_DAY, Cycle, DryStudy, _crossing, _weather

Floats = NDArray[np.float64]
DAYS = 75
KINDS = ("plain", "plateau", "two-phase", "half-watered", "vented", "drifting", "box")


@dataclass(frozen=True)
class Place:
    """One retreat: what its cycles share. ``holds`` days at first, falling by ``slope`` of the later rate then."""

    start: float
    asymptote: float
    rate: float
    holds: float
    slope: float
    daily: float
    weather: float
    limit: float


@dataclass(frozen=True)
class Spread:
    """How cycles of one place differ (sd), and what the sensor adds: an offset, and points a day (``drift``)."""

    rate: float = 0.15
    holds: float = 0.20
    asymptote: float = 2.0
    start: float = 1.5
    noise: float = 0.5
    accuracy: float = 0.0
    drift: tuple[float, float] = (0.0, 0.0)
    mistings_per_day: float = 0.2


@dataclass(frozen=True)
class Course:
    """What the running cycle does otherwise: less water, or another rate from some day on."""

    water: float = 1.0
    turns_at: float = np.inf
    turns_by: float = 1.0
    box: bool = field(default=False)


def place(kind: str, random: np.random.Generator) -> Place:
    start, low = random.uniform(91, 98), random.uniform(45, 66)
    limit = low + (start - low) * random.uniform(0.25, 0.65)
    rate = 1 / np.exp(random.uniform(*np.log((5.0, 15.0))))
    in_stages = {"plain": False, "plateau": True, "two-phase": True, "box": True}.get(
        kind, random.random() < 0.5
    )
    holds = float(np.exp(random.uniform(*np.log((3.0, 12.0))))) if in_stages else 0.0
    slope = random.uniform(0.2, 1.0) if kind == "two-phase" else 0.0
    return Place(start, low, rate, holds, slope, random.uniform(0.5, 3.0), random.uniform(0.3, 1.2), limit)


def course(kind: str, random: np.random.Generator) -> Course:
    if kind == "half-watered":
        return Course(water=random.uniform(0.4, 0.6))
    if kind == "vented":
        return Course(turns_at=random.uniform(1.0, 10.0), turns_by=random.uniform(1.4, 2.0))
    return Course(box=kind == "box")


def air_of(place: Place, spread: Spread, how: Course, random: np.random.Generator) -> Floats:
    """What the air does from one water on, every half hour, without noise: the truth."""
    t = np.arange(0, DAYS, 1 / PER_DAY)
    low = place.asymptote + spread.asymptote * random.normal()
    high = min(place.start + spread.start * random.normal(), 99.0)
    rate = place.rate * np.exp(spread.rate * random.normal())
    holds = place.holds * np.exp(spread.holds * random.normal())
    pace = np.where(t > how.turns_at, how.turns_by, 1.0)
    # Less water: what holds holds less long, and without a hold the cycle begins further down its curve.
    gone = np.cumsum(pace) / PER_DAY + (1 - how.water) * (holds if place.holds else np.log(2) / rate)
    if how.box:
        return _box(low, high, rate, gone, holds)
    later = np.maximum(gone - holds, 0)
    share = np.exp(-rate * later) + place.slope * rate * np.maximum(holds - gone, 0)
    top = 1 + place.slope * rate * holds
    return low + (high - low) * share / top + _weather(t.size, place.weather, 3.0, random)


def _box(low: float, high: float, rate: float, gone: Floats, holds: float) -> Floats:
    """Evaporation E (1 - h) min(1, w) against exchange V (h - room), w losing what evaporates."""
    room, wet = low / 100, high / 100
    exchange = max((1 - wet), 0.005) / max(wet - room, 0.05)
    water, out = 1 + rate * holds, np.empty(gone.size)
    water -= rate * gone[0]
    for i, step in enumerate(np.diff(gone, prepend=gone[0])):
        out[i] = (min(1.0, max(water, 0.0)) + exchange * room) / (min(1.0, max(water, 0.0)) + exchange)
        water -= rate * step * min(1.0, max(water, 0.0)) * (1 - out[i]) / (1 - wet)
    return 100 * out


def make_staged(
    kind: str, past: int, ask: float, random: np.random.Generator, spread: Spread | None = None
) -> DryStudy:
    """``past`` finished cycles and a running one that has not crossed on day ``ask``; the newest is last.

    ``crossing`` is the true air's. Past cycles end two days before their crossing to four after it.
    """
    s = spread or Spread()
    if kind == "drifting" and spread is None:
        s = replace(s, accuracy=3.0, drift=(-0.03, 0.05))
    while True:
        here = place(kind, random)
        offset, drift = s.accuracy * random.uniform(-0.5, 0.5), random.uniform(*s.drift)
        cycles, begins = [], 0.0
        for number in range(past + 1):
            running = number == past
            how = course(kind, random) if running or kind == "box" else Course()
            air = air_of(here, s, how, random)
            one = _shown(air, here, s, offset + drift * begins, drift, random=random)
            if not running:
                one = _ended(one, random)
            begins += float(one.t[-1])
            cycles.append(one)
        if ask + 0.5 < cycles[-1].crossing < DAYS - 1:
            return DryStudy(tuple(cycles), float(here.limit))


def _shown(
    air: Floats, here: Place, s: Spread, offset: float, drift: float, *, random: np.random.Generator
) -> Cycle:
    t = np.arange(air.size) / PER_DAY
    hour = random.uniform()
    air = air + here.daily * (np.sin(2 * np.pi * (t + hour)) + 0.3 * np.sin(4 * np.pi * (t + hour)))
    for at in random.uniform(0, DAYS, random.poisson(DAYS * s.mistings_per_day)):
        after = np.maximum(t - at, 0)
        air += np.where(t >= at, random.uniform(5, 20) * np.exp(-after * 16), 0)
    air = np.clip(air, 5, 100)
    shown = air + offset + drift * t + s.noise * random.normal(size=t.size)
    return Cycle(t, np.clip(shown, 1, 100), _crossing(air, here.limit))


def _ended(cycle: Cycle, random: np.random.Generator) -> Cycle:
    end = max(min(cycle.crossing, 45.0) + random.uniform(-2, 4), 4.0)
    kept = cycle.t < end
    return Cycle(cycle.t[kept], cycle.values[kept], cycle.crossing)
