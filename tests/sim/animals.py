"""Invented animals that mostly stay put, with known truth: where they were at every scan of many studies.

An animal leaves its zone with a chance of 1 - stay at every scan and then draws a zone (perhaps the same)
with chances such that, in the long run, it spends exactly its true share in each zone, however sticky
each one is. Moods of a day and differences between animals are normal on the log-odds, and the zones'
base chances are set so that the true shares are kept on average.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OFFERED = (0.30, 0.22, 0.16, 0.14, 0.10, 0.08)
# Marks a scan that was never made (shorter session) and one at which the animal was not found.
NO_SCAN, UNSEEN = -2, -1


@dataclass(frozen=True)
class Design:
    """One cell of a calibration: what is offered, what the animals do, and how they are watched."""

    available: tuple[float, ...] = OFFERED
    times: tuple[
        float, ...
    ] = ()  # use relative to what is offered, before scaling to one; () is no preference
    sessions: int = 16
    animals: int = 1
    scans: int = 20
    stay: float | tuple[float, ...] = 0.95
    carry: float = 0.0  # chance of keeping the zone from one session to the next
    animal_sd: float = 0.0
    day_sd: float = 0.0  # mood of a session, shared by its animals
    unequal: bool = False  # sessions of 5 scans up to twice as many as usual, less 5
    unseen: tuple[float, ...] = ()  # chance of not being found, by zone
    per_day: int = 1  # sessions a day; the mood is the day's
    group: bool = False  # the animals are not told apart: counts per zone

    @property
    def offered(self) -> Floats:
        """Share of each zone in what is offered."""
        a = np.asarray(self.available, float)
        return a / a.sum()

    @property
    def truth(self) -> Floats:
        """True share of each zone in all moments."""
        w = self.offered * (np.asarray(self.times, float) if self.times else 1.0)
        return w / w.sum()


@dataclass(frozen=True)
class Studies:
    """Many studies of one design: zone index by study, animal, session and scan."""

    design: Design
    zone: Ints
    truth: Floats = field(repr=False)  # studies x zones: mean true share of that study's animals

    def study(self, number: int) -> dict[str, NDArray[np.generic]]:
        """One study as columns with a row a moment: unit, animal, zone (-1 unseen), order."""
        block = self.zone[number]
        animal, session, scan = np.nonzero(block != NO_SCAN)
        zone = block[animal, session, scan]
        unit = session // self.design.per_day if self.design.per_day > 1 else session
        order = session * 10_000 + scan
        if not self.design.group:
            return {
                "unit": unit,
                "animal": animal,
                "zone": zone,
                "order": order,
                "weight": np.ones(zone.size),
            }
        return counted(unit, order, zone)


def counted(unit: Ints, order: Ints, zone: Ints) -> dict[str, NDArray[np.generic]]:
    """The columns of a group not told apart: how many were in each zone at each scan."""
    rows, count = np.unique(np.column_stack([unit, order, zone]), axis=0, return_counts=True)
    nobody = np.full(len(rows), -1)
    return {"unit": rows[:, 0], "animal": nobody, "zone": rows[:, 2], "order": rows[:, 1], "weight": count}


def simulate(design: Design, studies: int, seed: int) -> Studies:
    """Draw ``studies`` studies of a design."""
    random = np.random.default_rng(seed)
    stay = np.broadcast_to(np.asarray(design.stay, float), design.offered.shape)
    lengths = _lengths(design, studies, random)
    shares, truth = _shares(design, studies, random)
    zone = np.full((studies, design.animals, design.sessions, int(lengths.max())), NO_SCAN, np.int64)
    here = _draw(shares[:, :, 0], random)
    for session in range(design.sessions):
        share = shares[:, :, session]
        leave = share * (1 - stay)
        jump = leave / leave.sum(axis=-1, keepdims=True)
        fresh = _draw(share, random)
        kept = random.random(here.shape) < design.carry if session else np.zeros(here.shape, bool)
        here = np.where(kept, here, fresh)
        for scan in range(int(lengths[:, session].max())):
            if scan:
                leaves = random.random(here.shape) >= stay[here]
                here = np.where(leaves, _draw(jump, random), here)
            made = scan < lengths[:, session]
            zone[:, :, session, scan] = np.where(made[:, None], here, NO_SCAN)
    if design.unseen:
        hides = np.asarray(design.unseen)[np.maximum(zone, 0)]
        zone = np.where((zone >= 0) & (random.random(zone.shape) < hides), UNSEEN, zone)
    return Studies(design, zone, truth)


def _lengths(design: Design, studies: int, random: np.random.Generator) -> Ints:
    shape = (studies, design.sessions)
    if not design.unequal:
        return np.full(shape, design.scans)
    return random.integers(5, 2 * design.scans - 4, shape)


def _shares(design: Design, studies: int, random: np.random.Generator) -> tuple[Floats, Floats]:
    """True shares by study, animal and session, and the mean true share of each study's animals."""
    zones = design.offered.size
    spread = float(np.hypot(design.animal_sd, design.day_sd))
    base = np.log(centred(design.truth, spread))
    days = -(-design.sessions // design.per_day)
    of_animal = design.animal_sd * random.normal(size=(studies, design.animals, 1, zones))
    of_day = design.day_sd * random.normal(size=(studies, 1, days, zones))
    of_day = np.repeat(of_day, design.per_day, axis=2)[:, :, : design.sessions]
    pull = np.exp(base + of_animal + of_day)
    return np.asarray(pull / pull.sum(axis=-1, keepdims=True), float), _study_truth(design, base + of_animal)


def centred(truth: Floats, spread: float) -> Floats:
    """Shares whose mean is ``truth`` once log-odds noise of that spread is added (by fixed-point steps)."""
    base = truth.copy()
    if spread == 0:
        return base
    noise = np.exp(spread * np.random.default_rng(7).normal(size=(40_000, truth.size)))
    for _ in range(60):
        pull = base * noise
        mean = (pull / pull.sum(axis=1, keepdims=True)).mean(axis=0)
        base = base * truth / mean
    return base / base.sum()


def _study_truth(design: Design, pull: Floats) -> Floats:
    """What a study speaks for: its own animals, averaged over days to come. ``pull`` has one session."""
    if design.animal_sd == 0:
        return np.broadcast_to(design.truth, (pull.shape[0], design.truth.size))
    days = design.day_sd * np.random.default_rng(8).normal(
        size=(1, 1, 400 if design.day_sd else 1, pull.shape[-1])
    )
    truth = np.zeros((pull.shape[0], pull.shape[-1]))
    for study in range(pull.shape[0]):
        chance = np.exp(pull[study : study + 1] + days)
        truth[study] = (chance / chance.sum(axis=-1, keepdims=True)).mean(axis=(0, 1, 2))
    return truth


def _draw(share: Floats, random: np.random.Generator) -> Ints:
    """A zone by each row of chances."""
    edges = share.cumsum(axis=-1)
    return np.minimum((random.random(share.shape[:-1])[..., None] > edges).sum(axis=-1), share.shape[-1] - 1)
