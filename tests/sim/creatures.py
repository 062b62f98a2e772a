"""Animals that do what reptiles and amphibians do: sit together, stay for days, settle and grow restless.

None of them prefers any place: in the long run each place is used as it is offered. Each function gives
``animals x sessions x scans`` of zone numbers for one study, one session a day, scans a few minutes apart.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tests.sim.animals import OFFERED

Ints = NDArray[np.int64]
Offer = NDArray[np.float64]
SCANS = 20
OFFER: Offer = np.asarray(OFFERED) / sum(OFFERED)


def _pick(offer: Offer, size: tuple[int, ...] | int, random: np.random.Generator) -> Ints:
    return random.choice(offer.size, size, p=offer)


def alone(
    animals: int, sessions: int, random: np.random.Generator, carry: float = 0.0, offer: Offer = OFFER
) -> Ints:
    """Each by itself: keeps its place from scan to scan with chance .95, from session to session with ``carry``."""
    zone = np.empty((animals, sessions, SCANS), np.int64)
    here = _pick(offer, animals, random)
    for session in range(sessions):
        for scan in range(SCANS):
            stays = random.random(animals) < (0.95 if scan else carry)
            here = np.where(stays, here, _pick(offer, animals, random))
            zone[:, session, scan] = here
    return zone


def together(
    animals: int, sessions: int, random: np.random.Generator, carry: float = 0.6, joins: float = 0.85
) -> Ints:
    """A company with one place, which each animal joins for a session with chance ``joins``; else it is by itself."""
    company = alone(1, sessions, random, carry)
    own = alone(animals, sessions, random, carry)
    return np.where(random.random((animals, sessions, 1)) < joins, company, own)


def joiners(
    animals: int, sessions: int, random: np.random.Generator, carry: float = 0.5, joins: float = 0.8
) -> Ints:
    """Whoever moves goes to where another one is with chance ``joins``, else to a place as it is offered."""
    zone = np.empty((animals, sessions, SCANS), np.int64)
    here = _pick(OFFER, animals, random)
    for session in range(sessions):
        for scan in range(SCANS):
            for one in np.flatnonzero(random.random(animals) >= (0.95 if scan else carry)):
                other = (one + random.integers(1, animals)) % animals if animals > 1 else one
                here[one] = here[other] if random.random() < joins else random.choice(OFFER.size, p=OFFER)
            zone[:, session, scan] = here
    return zone


def long_stays(
    animals: int, sessions: int, random: np.random.Generator, shape: float = 1.2, least: float = 0.1
) -> Ints:
    """Stays of Pareto's length in days (at least ``least``), most of them short and a few of weeks."""
    at = (np.arange(sessions)[:, None] + np.arange(SCANS)[None, :] * 0.1 / SCANS).ravel()
    zone = np.empty((animals, sessions * SCANS), np.int64)
    for one in range(animals):
        number = 64
        ends = np.zeros(0)
        while not ends.size or ends[-1] < sessions:
            ends = np.cumsum(least * (1 + random.pareto(shape, number)))
            number *= 4
        zone[one] = _pick(OFFER, ends.size, random)[np.searchsorted(ends, at, side="right")]
    return zone.reshape(animals, sessions, SCANS)


def settled_then_restless(
    animals: int, sessions: int, random: np.random.Generator, settled: float = 0.4, carry: float = 0.9
) -> Ints:
    """For the first part of the study one place for days, after it moving about at every turn."""
    first = int(sessions * settled)
    zone = np.empty((animals, sessions, SCANS), np.int64)
    here = _pick(OFFER, animals, random)
    for session in range(sessions):
        calm = session < first
        for scan in range(SCANS):
            stays = random.random(animals) < ((0.995 if calm else 0.8) if scan else (carry if calm else 0.0))
            here = np.where(stays, here, _pick(OFFER, animals, random))
            zone[:, session, scan] = here
    return zone


Creatures = Callable[[int, int, np.random.Generator], Ints]


def columns(zone: Ints) -> dict[str, Ints]:
    """One study with a row a moment: unit, animal, zone, order."""
    animal, unit, scan = (a.ravel() for a in np.indices(zone.shape))
    return {"unit": unit, "animal": animal, "zone": zone.ravel(), "order": unit * 10_000 + scan}
