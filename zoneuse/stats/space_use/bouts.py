"""Stays of animals in zones, and where they could have been spent had there been no preference.

An animal that rests an evening under one piece of bark has made one choice, not sixty. The null here
keeps every bout as long as it was and draws anew the zone in which it is spent.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats

Ints = NDArray[np.intp]


# How a bout follows the one before it.
FIRST, MOVED, RETURNED, FOUND_THERE = 0, 1, 2, 3
# Levels of chance a draw is looked up by, bouts drawn at once, and tables kept at hand (half a megabyte for 8 zones).
_LEVELS, _AT_ONCE, _TABLES = 1 << 16, 64, 32


@dataclass(frozen=True, slots=True)
class Bouts:
    """Bouts of identified animals, sorted by animal and time, cut where a new unit (session, day) begins.

    ``link`` tells how a bout follows: FIRST of its animal, MOVED there within a unit, RETURNED (a new unit,
    begun in another zone than the last one had ended in), FOUND_THERE (a new unit, begun in the same zone).
    ``weight`` is the part of the mean share over units that a bout carries, ``availability`` the mean share of
    each zone on offer during it (bouts x zones).
    """

    animal: Ints
    unit: Ints
    zone: Ints
    link: Ints
    weight: Floats
    availability: Floats

    @property
    def moves(self) -> int:
        """How often an animal was next found in another zone."""
        return int(np.count_nonzero((self.link == MOVED) | (self.link == RETURNED)))


def find_bouts(
    animal: Ints,
    unit: Ints,
    order: NDArray[np.generic],
    zone: Ints,
    weight: Floats,
    *,
    availability: Floats,
) -> Bouts:
    """Join each animal's successive seen moments in one zone and unit; all must be seen (zone >= 0).

    >>> even = np.full((4, 2), 0.5)
    >>> zone = np.array([0, 0, 1, 1])
    >>> found = find_bouts(np.zeros(4, int), np.array([0, 0, 0, 1]), np.arange(4), zone,
    ...     np.full(4, 0.25), availability=even)
    >>> found.zone, found.link, found.moves
    (array([0, 1, 1]), array([0, 1, 3]), 1)
    """
    sequence = np.lexsort((order, animal))
    who, where, when = animal[sequence], zone[sequence], unit[sequence]
    other = np.r_[True, who[1:] != who[:-1]]
    elsewhere = np.r_[True, where[1:] != where[:-1]]
    anew = np.r_[True, when[1:] != when[:-1]]
    starts = np.flatnonzero(other | elsewhere | anew)
    link = np.where(anew[starts], np.where(elsewhere[starts], RETURNED, FOUND_THERE), MOVED)
    link[other[starts]] = FIRST
    mass = np.add.reduceat(weight[sequence], starts)
    offer = np.add.reduceat(availability[sequence] * weight[sequence][:, None], starts, axis=0)
    return Bouts(who[starts], when[starts], where[starts], link, mass, offer / mass[:, None])


def kept_between_units(bouts: Bouts, errors: float = 1.0) -> float:
    """Of the bouts FOUND_THERE, the part that may be stays that went on while nobody watched.

    Beginning where the last unit ended happens by chance too: as often as a unit begins where one of that
    animal's other units ended. What goes beyond that, and ``errors`` standard errors more, is taken as kept.

    >>> even = np.full((3, 2), 0.5)
    >>> found = find_bouts(np.zeros(3, int), np.arange(3), np.arange(3), np.zeros(3, int),
    ...     np.ones(3) / 3, availability=even)
    >>> kept_between_units(found)  # never seen elsewhere: it may never have moved
    1.0
    """
    begins = np.flatnonzero(bouts.link != MOVED)
    follows = begins[bouts.link[begins] != FIRST]
    if not follows.size:
        return 1.0
    zones = bouts.availability.shape[1]
    same = int(np.count_nonzero(bouts.link == FOUND_THERE))
    pairs = chance = 0.0
    for animal in np.unique(bouts.animal[follows]):
        mine = follows[bouts.animal[follows] == animal]
        starts = np.bincount(bouts.zone[mine], minlength=zones)
        ends = np.bincount(bouts.zone[mine - 1], minlength=zones)
        own = np.count_nonzero(bouts.link[mine] == FOUND_THERE)
        # Every start with every end but its own: the pairs that only chance can make agree.
        chance += float(starts @ ends) - own
        pairs += mine.size * (mine.size - 1)
    by_chance = chance / pairs if pairs else 1.0
    if by_chance >= 1 or same == 0:
        return 1.0 if same else 0.0
    part = same / follows.size
    error = np.sqrt(max(part * (1 - part), 1 / follows.size**2) / follows.size)
    keeps = (part - by_chance + errors * error) / (1 - by_chance)
    keeps = min(max(keeps, 0.0), 1.0)
    return float(keeps / (keeps + (1 - keeps) * by_chance)) if keeps > 0 else 0.0


def redraw(bouts: Bouts, kept: float, draws: int, random: np.random.Generator) -> Floats:
    """Mean shares (draws x zones) had each bout's zone been drawn from what was offered.

    A bout MOVED to is by definition spent elsewhere than the one before: each zone is proposed from what is
    offered without the one just left and accepted with min(1, (1 - a_old)/(1 - a_new)), else the old one is
    drawn again; so each zone still gets its offered share a on average (the Metropolised independence
    sampler; Liu 1996, Biometrika 83:681). A bout FOUND_THERE keeps the zone with the chance ``kept``
    (``kept_between_units``); other bouts that begin a unit are drawn afresh.

    >>> even = np.full((4, 2), 0.5)
    >>> zone = np.array([0, 1, 0, 1])
    >>> found = find_bouts(np.zeros(4, int), np.zeros(4, int), np.arange(4), zone, np.full(4, 0.25), availability=even)
    >>> redraw(found, 0.0, 2, np.random.default_rng(1))
    array([[0.5, 0.5],
           [0.5, 0.5]])
    """
    zones = bouts.availability.shape[1]
    # Offers that differ by rounding only are one.
    offers = [row.tobytes() for row in bouts.availability.round(9)]

    @functools.lru_cache(_TABLES)
    def table(offer: bytes, link: int) -> NDArray[np.unsignedinteger]:
        return _lookup(chances_of(np.frombuffer(offer), link, kept))

    flat = np.zeros(draws * zones)
    base = np.arange(draws) * zones
    here = np.zeros(draws, np.intp)
    for start in range(0, bouts.zone.size, _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        offer, link, weight = offers[part], bouts.link[part].tolist(), bouts.weight[part].tolist()
        luck = random.integers(0, _LEVELS, (len(link), draws), np.uint16)
        for k, mass in enumerate(weight):
            at = here * _LEVELS
            at += luck[k]
            here = table(offer[k], link[k]).take(at).astype(np.intp)
            np.add.at(flat, base + here, mass)
    return flat.reshape(draws, zones)


def chances_of(offer: Floats, link: int, kept: float) -> Floats:
    """From each zone (row) the chance of each zone (column) for the next bout."""
    afresh = np.tile(offer, (offer.size, 1))
    if link in (FIRST, RETURNED):
        return afresh
    if link == FOUND_THERE:
        return kept * np.eye(offer.size) + (1 - kept) * afresh
    # A zone that has all that is offered leaves nowhere else to go.
    elsewhere = np.maximum(1 - offer, 1e-12)
    moves = afresh / np.maximum(elsewhere, elsewhere[:, None])
    np.fill_diagonal(moves, 0.0)
    moves[offer >= 1 - 1e-12] = 0.0
    return np.asarray(moves + np.diag(1 - moves.sum(axis=1)), np.float64)


def _lookup(chances: Floats) -> NDArray[np.unsignedinteger]:
    """For each row ``_LEVELS`` columns' numbers, each as often as its chance: a draw is one look at a table.

    Chances are rounded to 1/65,536, a hundredth of what a few thousand draws can tell.
    """
    zones = len(chances)
    edges = np.rint(chances.cumsum(axis=1) * _LEVELS).astype(np.intp)
    edges[:, -1] = _LEVELS
    times = np.diff(edges, axis=1, prepend=0)
    return np.repeat(np.tile(np.arange(zones, dtype=np.min_scalar_type(zones)), zones), times.ravel())
