"""How much shares would vary had every stay been spent anywhere: the redraw of bouts without drawing.

``bouts.redraw`` draws where each bout was spent from what was offered. Its variance follows from the same
chances in one pass; here every bout FOUND_THERE continues the one before, so that a stay of days is one
choice however long it was, whatever the distribution of stays.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats
from .bouts import FIRST, FOUND_THERE, MOVED, RETURNED, Bouts, chances_of

_DEALS = 40


def joined_variance(bouts: Bouts) -> Floats:
    """Variance of each zone's mean share (zones,) over all ways the joined stays could have been spent.

    The covariance of what came before with the next stay passes on through that stay's chances (a Markov
    chain; Kemeny & Snell 1960, section 4.3). Stays that begin a unit elsewhere are independent of the past.

    >>> from .bouts import find_bouts
    >>> even = np.full((4, 2), 0.5)
    >>> zone, weight = np.array([0, 0, 1, 0]), np.full(4, 0.25)
    >>> found = find_bouts(np.zeros(4, int), np.arange(4), np.arange(4), zone, weight, availability=even)
    >>> joined_variance(found)  # stays of 2, 1 and 1 units: .25 (.5^2 + .25^2 + .25^2)
    array([0.09375, 0.09375])
    """
    mass, link, availability = joined(bouts)
    zones = availability.shape[1]
    total, past = np.zeros(zones), np.zeros((zones, zones))
    mean = availability[0]
    rows = np.arange(zones)
    for weight, how, offer in zip(mass.tolist(), link.tolist(), availability, strict=True):
        if how == MOVED:
            chances = chances_of(offer, MOVED, 0.0)
            mean, past = mean @ chances, past @ chances
        else:
            mean, past = offer, np.zeros((zones, zones))
        own = np.diag(mean) - np.outer(mean, mean)
        total += weight * (2 * past[rows, rows] + weight * own[rows, rows])
        past = past + weight * own
    return np.asarray(np.maximum(total, 0.0), np.float64)


def joined(bouts: Bouts) -> tuple[Floats, NDArray[np.intp], Floats]:
    """Weight, link and mean offer of each stay, bouts FOUND_THERE added to the one they continue."""
    starts = np.flatnonzero(bouts.link != FOUND_THERE)
    if not starts.size or bouts.link[0] != FIRST:
        raise ValueError("bouts: expected an animal's first bout at the start")
    mass = np.asarray(np.add.reduceat(bouts.weight, starts), np.float64)
    offer = np.add.reduceat(bouts.availability * bouts.weight[:, None], starts, axis=0) / mass[:, None]
    return mass, bouts.link[starts], np.asarray(offer, np.float64)


def unevenness(bouts: Bouts, seed: int = 0) -> float:
    """How many times more the stays' squared weights sum to than if units were linked without regard to each other.

    About 1 where an animal is found where it was as often after a short bout as after a long one; 1.3 and
    more where it settles for days at one time and not at another, so that one chance to stay does not
    describe it. The links of units (FOUND_THERE or not) are dealt anew among their beginnings.

    >>> from .bouts import find_bouts
    >>> even = np.full((24, 2), 0.5)
    >>> zone = np.r_[np.zeros(12, int), np.tile([0, 1], 6)]  # twelve sessions in one place, then never twice
    >>> found = find_bouts(np.zeros(24, int), np.arange(24), np.arange(24), zone,
    ...     np.full(24, 1 / 24), availability=even)
    >>> unevenness(found) > 1.3
    True
    """
    follows = np.flatnonzero((bouts.link == FOUND_THERE) | (bouts.link == RETURNED))
    own = _squares(bouts.weight, bouts.link)
    if follows.size < 2 or own <= 0:
        return 1.0
    random = np.random.default_rng(seed)
    link, dealt = bouts.link.copy(), []
    for _ in range(_DEALS):
        link[follows] = random.permutation(link[follows])
        dealt.append(_squares(bouts.weight, link))
    return own / float(np.mean(dealt))


def _squares(weight: Floats, link: NDArray[np.intp]) -> float:
    return float((np.add.reduceat(weight, np.flatnonzero(link != FOUND_THERE)) ** 2).sum())
