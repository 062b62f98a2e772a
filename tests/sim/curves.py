"""Animals with curves of choice that are no parabola, loggers that err, and animals that keep a time of day.

Six zones with a daily cycle and weather; each animal keeps its zone from scan to scan with chance .95 and draws the
next one by what is offered times exp of a pull on its *true* temperature. What the loggers say may be another.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.sim.climate import OFFERED

Floats = NDArray[np.float64]
BASE = np.array([20.0, 23.0, 26.0, 29.0, 32.0, 35.0])
SWING = np.array([1.0, 1.5, 2.0, 3.0, 4.0, 5.0])
SCANS = 20
# How open each zone lies: from a closed hide to the basking place.
OPEN = np.array([-1.0, -0.6, -0.2, 0.2, 0.6, 1.0])

Pull = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Ways:
    """How the animals of one study choose, and what is measured of it."""

    pull: Pull
    sessions: int = 40
    animals: int = 3
    stay: float = 0.95
    liking: float = 0.0
    out_by_day: float = 0.0
    noise: float = 0.0
    sun: float = 0.0
    best_between: float = 0.0
    base: tuple[float, ...] = tuple(BASE)


def indifferent(t: Floats) -> Floats:
    """No temperature is sought."""
    return 0.0 * t


def even(best: float = 28.0, width: float = 4.0) -> Pull:
    """A parabola."""
    return lambda t: -((t - best) ** 2) / (2 * width**2)


def skewed(best: float = 30.0, below: float = 6.0, above: float = 2.0) -> Pull:
    """Slow to rise, quick to fall: a normal curve with another width on either side."""
    return lambda t: -((t - best) ** 2) / (2 * np.where(t < best, below, above) ** 2)


def avoids_above(edge: float = 32.0, slope: float = 0.5) -> Pull:
    """Alike up to an edge, then less with every degree."""
    return lambda t: -slope * np.maximum(t - edge, 0.0)


def steps_down(edge: float = 32.0, by: float = 2.0) -> Pull:
    """Alike up to an edge, and at once much less beyond it."""
    return lambda t: -by * (t > edge)


def watched(ways: Ways, seed: int) -> dict[str, NDArray[np.generic]]:
    """One study as a choice table (x: what the loggers said, rows x 1), with ``hour`` and ``true`` beside it."""
    random = np.random.default_rng(seed)
    sessions, zones = ways.sessions, OFFERED.size
    weather = np.zeros(sessions)
    for i in range(1, sessions):
        weather[i] = 0.7 * weather[i - 1] + random.normal(0, 1.2)
    hour = random.uniform(0, 23, sessions)[:, None] + 0.05 * np.arange(SCANS)
    cycle = np.sin((hour - 9) / 24 * 2 * np.pi)
    true = np.array(ways.base) + SWING * cycle[..., None] + weather[:, None, None]
    true = true + random.normal(0, 0.3, true.shape)
    said = true + random.normal(0, 1, true.shape) * ways.noise
    # The logger of the warmest zone but one stands in the sun in half of the sessions by day.
    shone = (random.random(sessions) < 0.5)[:, None] & (ways.sun > 0)
    said[..., 4] += ways.sun * shone
    likes = ways.liking * random.normal(size=zones)
    day = np.where((hour > 8) & (hour < 20), 1.0, -1.0)
    chosen = np.zeros((ways.animals, sessions, SCANS), np.int64)
    for animal in range(ways.animals):
        moved = ways.best_between * random.normal()
        pull = ways.pull(true + moved) + likes + ways.out_by_day * day[..., None] * OPEN + np.log(OFFERED)
        chance = np.exp(pull - pull.max(axis=-1, keepdims=True))
        edges = (chance / chance.sum(axis=-1, keepdims=True)).cumsum(axis=-1)
        toss, stays = random.random((2, sessions, SCANS))
        for session in range(sessions):
            here = -1
            for scan in range(SCANS):
                if here < 0 or stays[session, scan] >= ways.stay:
                    here = min(int(np.searchsorted(edges[session, scan], toss[session, scan])), zones - 1)
                chosen[animal, session, scan] = here
    shape = (ways.animals, sessions, SCANS, zones)
    at = np.broadcast_to(np.arange(zones), shape)

    def rows(values: NDArray[np.generic]) -> NDArray[np.generic]:
        return np.broadcast_to(values, shape).ravel()

    return {
        "x": rows(said)[:, None],
        "moment": rows(np.arange(ways.animals * sessions * SCANS).reshape(*shape[:3], 1)),
        "zone": at.ravel(),
        "chosen": (at == chosen[..., None]).ravel(),
        "offset": np.log(OFFERED)[at.ravel()],
        "cluster": rows(np.arange(sessions)[None, :, None, None]),
        "hour": rows(hour[..., None] % 24),
        "true": rows(true),
    }
