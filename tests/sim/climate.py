"""Invented animals that choose by temperature and humidity, in zones whose climate moves, with known truth.

Temperatures have a daily cycle (stronger near the lamp), weather and noise; humidities dry down between
rechargings at a rate of each zone's own. An animal leaves its zone with a chance of 1 - stay at each scan and draws
the next one by what is offered times exp(-(T - peak)^2 / 2 width^2), the same for humidity, and its own
liking of each zone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OFFERED = np.array([0.30, 0.22, 0.16, 0.14, 0.10, 0.08])
WARMTH = np.array([19.0, 21.0, 23.0, 25.0, 27.5, 30.0])
SWING = np.array([1.0, 1.5, 2.0, 3.0, 4.0, 5.0])
DAMP = np.array([78.0, 62.0, 86.0, 58.0, 70.0, 48.0])
DRYING = np.array([2.2, 0.8, 2.8, 0.6, 1.6, 0.4])  # points a day


@dataclass(frozen=True)
class Seeker:
    """What the animals seek and how they are watched; a width of None is no preference in that quantity."""

    sessions: int = 16
    animals: int = 1
    scans: int = 20
    stay: float = 0.95
    carry: float = 0.0
    peak_c: float = 25.0
    width_c: float | None = 4.0
    peak_pct: float = 72.0
    width_pct: float | None = 14.0
    liking_sd: float = 0.0


@dataclass(frozen=True)
class ClimateStudy:
    """One study: conditions by session, scan and zone; zone by animal, session and scan; the likings."""

    seeker: Seeker
    temperature: Floats
    humidity: Floats
    zone: Ints
    liking: Floats

    def table(self) -> dict[str, NDArray[np.generic]]:
        """The choice table in rows: x (temperature, humidity), moment, zone, chosen, offset, cluster."""
        animals, sessions, scans = self.zone.shape
        zones = OFFERED.size
        shape = (animals, sessions, scans, zones)
        at = np.broadcast_to(np.arange(zones), shape)
        session = np.broadcast_to(np.arange(sessions)[None, :, None, None], shape)
        moment = np.broadcast_to(
            np.arange(animals * sessions * scans).reshape(animals, sessions, scans, 1), shape
        )
        warm = np.broadcast_to(self.temperature, shape)
        damp = np.broadcast_to(self.humidity, shape)
        return {
            "x": np.column_stack([warm.ravel(), damp.ravel()]),
            "moment": moment.ravel(),
            "zone": at.ravel(),
            "chosen": (at == self.zone[..., None]).ravel(),
            "offset": np.log(OFFERED)[at.ravel()],
            "cluster": session.ravel(),
        }

    def pull(self, temperature: Floats, humidity: Floats) -> Floats:
        """The true linear predictor under conditions (… x zones), without the size of zones."""
        s = self.seeker
        total = np.broadcast_to(self.liking, temperature.shape).copy()
        if s.width_c is not None:
            total = total - (temperature - s.peak_c) ** 2 / (2 * s.width_c**2)
        if s.width_pct is not None:
            total = total - (humidity - s.peak_pct) ** 2 / (2 * s.width_pct**2)
        return np.asarray(total, float)


def conditions(
    sessions: int, scans: int, random: np.random.Generator, first_day: int = 0
) -> tuple[Floats, Floats]:
    """Temperature and humidity by session (one a day), scan (every three minutes) and zone."""
    day = first_day + np.arange(sessions)
    weather = np.zeros(sessions)
    for i in range(1, sessions):
        weather[i] = 0.7 * weather[i - 1] + random.normal(0, 1.2)
    hour = random.uniform(8, 22, sessions)[:, None] + 0.05 * np.arange(scans)
    cycle = np.sin((hour - 9) / 24 * 2 * np.pi)
    noise = random.normal(0, 0.3, (sessions, scans, 6))
    temperature = WARMTH + SWING * cycle[..., None] + weather[:, None, None] + noise
    since = (day % 10)[:, None, None] + hour[..., None] / 24
    wet = DAMP + 10 - DRYING * since + random.normal(0, 1.0, (sessions, 1, 6)) - 1.5 * weather[:, None, None]
    humidity = np.clip(wet - 1.2 * SWING * cycle[..., None] + random.normal(0, 0.5, noise.shape), 15, 100)
    return temperature, np.asarray(humidity, float)


def watch(
    seeker: Seeker, seed: int, *, liking: Floats | None = None, given: tuple[Floats, Floats] | None = None
) -> ClimateStudy:
    """Draw one study; ``liking`` and ``given`` conditions of another one may be handed on."""
    random = np.random.default_rng(seed)
    temperature, humidity = given or conditions(seeker.sessions, seeker.scans, random)
    likes = seeker.liking_sd * random.normal(size=6) if liking is None else liking
    study = ClimateStudy(seeker, temperature, humidity, np.zeros((0, 0, 0), np.int64), likes)
    pull = study.pull(temperature, humidity) + np.log(OFFERED)
    chance = np.exp(pull - pull.max(axis=-1, keepdims=True))
    edges = (chance / chance.sum(axis=-1, keepdims=True)).cumsum(axis=-1)
    sessions, scans = temperature.shape[:2]
    zone = np.zeros((seeker.animals, sessions, scans), np.int64)
    toss = random.random(zone.shape)
    stays = random.random(zone.shape) < seeker.stay
    kept = random.random((seeker.animals, sessions)) < seeker.carry
    for animal in range(seeker.animals):
        here = -1
        for session in range(sessions):
            for scan in range(scans):
                still = (kept[animal, session] if scan == 0 else stays[animal, session, scan]) and here >= 0
                if not still:
                    here = min(int(np.searchsorted(edges[session, scan], toss[animal, session, scan])), 5)
                zone[animal, session, scan] = here
    return ClimateStudy(seeker, temperature, humidity, zone, likes)
