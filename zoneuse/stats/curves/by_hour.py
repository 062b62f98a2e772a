"""Whether a condition is chosen or only its hour: places that are liked by day and left by night.

A basking place is warm by day; animals that are out by day and hidden by night, whatever the warmth, choose warmth all
the same as far as a constant for each place can tell. A constant that may swing with the hour takes that away.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats


def daily_part(values: ArrayLike, moment: ArrayLike, zone: ArrayLike, hour: ArrayLike) -> float:
    """The part of a quantity's change within zones over time that a cosine of 24 hours in each zone explains.

    All (rows,), one row a moment and place on offer, hours 0 to 24. 0: the hour tells nothing; 1: all of it.

    >>> hour = np.repeat(np.arange(24.0), 2)
    >>> swing = np.tile([0.0, 1.0], 24) * np.sin(hour / 24 * 2 * np.pi)
    >>> round(daily_part(swing, np.repeat(np.arange(24), 2), np.tile([0, 1], 24), hour), 6)
    1.0
    """
    v = np.asarray(values, np.float64)
    _, m = np.unique(np.asarray(moment), return_inverse=True)
    _, z = np.unique(np.asarray(zone), return_inverse=True)
    apart = v - (np.bincount(m, v) / np.bincount(m))[m]
    within = apart - (np.bincount(z, apart) / np.bincount(z))[z]
    total = float(within @ within)
    if total <= 0:
        return 0.0
    design, left = np.column_stack([np.ones(v.size), _cosine(hour)]), 0.0
    for place in range(int(z.max()) + 1):
        here = z == place
        fitted = design[here] @ np.linalg.lstsq(design[here], within[here], rcond=None)[0]
        left += float(((within[here] - fitted) ** 2).sum())
    return float(np.clip(1 - left / total, 0.0, 1.0))


def hour_terms(zone: ArrayLike, chosen: ArrayLike, hour: ArrayLike) -> Floats:
    """Columns that let each place used (but the first) swing with the hour: two a place, cosine and sine of 24 h."""
    where, took = np.asarray(zone), np.asarray(chosen, np.float64)
    places = np.unique(where[took > 0])[1:]
    cosine, sine = _cosine(hour).T
    there = where[:, None] == places
    return np.column_stack([there * cosine[:, None], there * sine[:, None]]).astype(np.float64)


def _cosine(hour: ArrayLike) -> Floats:
    angle = np.asarray(hour, np.float64) * 2 * np.pi / 24
    return np.column_stack([np.cos(angle), np.sin(angle)])
