"""Use against what is offered, in the indices of the trade: ratio, electivity, spread, evenness.

All take shares (or counts of use; they are turned into shares) along the last axis, one for each zone.
A zone that is not offered and not used has no index (NaN); one that is not offered yet used is an error.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats


def selection_ratio(used: ArrayLike, availability: ArrayLike) -> Floats:
    """Use divided by availability; 1 is in proportion (Manly et al. 2002, Resource Selection by Animals).

    >>> selection_ratio([50, 30, 20], [0.25, 0.25, 0.5])
    array([2. , 1.2, 0.4])
    """
    use, offer = _shares(used, availability)
    return np.asarray(np.divide(use, offer, out=np.full(use.shape, np.nan), where=offer > 0), np.float64)


def ivlev(used: ArrayLike, availability: ArrayLike) -> Floats:
    """Ivlev's electivity (o - a)/(o + a); 0 is in proportion (Ivlev 1961).

    >>> ivlev([0.6, 0.4], [0.2, 0.8]).round(4)
    array([ 0.5   , -0.3333])
    """
    use, offer = _shares(used, availability)
    return np.asarray(
        np.divide(use - offer, use + offer, out=np.full(use.shape, np.nan), where=offer > 0), np.float64
    )


def jacobs_d(used: ArrayLike, availability: ArrayLike) -> Floats:
    """Jacobs' D = (o - a)/(o + a - 2oa); 0 is in proportion, range -1..1 (Jacobs 1974, Oecologia 14:413).

    >>> jacobs_d([0.6, 0.4], [0.2, 0.8]).round(4)
    array([ 0.7143, -0.7143])
    """
    use, offer = _shares(used, availability)
    below = use + offer - 2 * use * offer
    return np.asarray(
        np.divide(use - offer, below, out=np.full(use.shape, np.nan), where=(offer > 0) & (below > 0)),
        np.float64,
    )


def zone_electivity(used: ArrayLike, availability: ArrayLike) -> Floats:
    """E* = (W - 1/n)/(W + 1/n), W the ratios as shares (Vanderploeg & Scavia 1979, Ecol. Modelling 7:135).

    Zero means "as the average of the ratios", not "in proportion": a zone used above its share can have
    an E* below zero. n counts the zones on offer.

    >>> zone_electivity([50, 30, 20], [0.25, 0.25, 0.5]).round(2)
    array([ 0.25,  0.  , -0.5 ])
    """
    ratio = selection_ratio(used, availability)
    there = ~np.isnan(ratio)
    total = np.nansum(ratio, axis=-1, keepdims=True)
    even = 1 / np.maximum(there.sum(axis=-1, keepdims=True), 1)
    share = np.divide(ratio, total, out=np.full(ratio.shape, np.nan), where=total > 0)
    return np.asarray((share - even) / (share + even), np.float64)


def spread_of_participation(used: ArrayLike, availability: ArrayLike) -> Floats:
    """The modified spread of participation index, sum|fo - fe| / 2(N - min fe).

    Plowman 2003, Appl. Anim. Behav. Sci. 83:331-336. 0 is exactly in proportion, 1 everything in the
    smallest zone; strong selectivity is no bad sign.

    >>> float(spread_of_participation([0, 0, 100], [0.5, 0.3, 0.2]))
    1.0
    """
    use, offer = _shares(used, availability)
    smallest = np.where(offer > 0, offer, np.inf).min(axis=-1)
    return np.asarray(np.abs(use - offer).sum(axis=-1) / (2 * (1 - smallest)), np.float64)


def evenness(used: ArrayLike) -> Floats:
    """Shannon's H over the log of the number of all zones given, used or not (Pielou 1966); 1 is even.

    >>> float(evenness([1, 1, 1, 17]).round(6))
    0.423792
    """
    counts = np.asarray(used, np.float64)
    total = counts.sum(axis=-1, keepdims=True)
    use = np.divide(counts, total, out=np.full(counts.shape, np.nan), where=total > 0)
    logs = np.log(use, out=np.zeros(use.shape), where=use > 0)
    if counts.shape[-1] < 2:
        return np.full(counts.shape[:-1], np.nan)
    return np.asarray(-(use * logs).sum(axis=-1) / np.log(counts.shape[-1]), np.float64)


def _shares(used: ArrayLike, availability: ArrayLike) -> tuple[Floats, Floats]:
    """Use and availability as shares that sum to one along the last axis; ValueError says what is wrong."""
    use, offer = np.broadcast_arrays(np.asarray(used, np.float64), np.asarray(availability, np.float64))
    if not (np.isfinite(use).all() and np.isfinite(offer).all()) or (use < 0).any() or (offer < 0).any():
        raise ValueError("used and available: expected finite numbers of zero and more")
    if (offer.sum(axis=-1) <= 0).any():
        raise ValueError("available: nothing is on offer")
    if ((offer == 0) & (use > 0)).any():
        raise ValueError("used: a zone that is not on offer was used")
    if (use.sum(axis=-1) <= 0).any():
        raise ValueError("used: nothing was seen in any zone")
    return use / use.sum(axis=-1, keepdims=True), offer / offer.sum(axis=-1, keepdims=True)
