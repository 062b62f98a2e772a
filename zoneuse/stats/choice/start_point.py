"""A change whose start was drawn by lot: every start it could have had is compared as it would have been."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats

# Sums of the same numbers in another order differ by rounding; such ties count as reached.
_TIE = 1e-12


class StartPoint(NamedTuple):
    """``p`` two-sided for each column, and the change at each allowed start (starts x columns)."""

    p: Floats
    changes: Floats


def start_point_test(values: ArrayLike, at: ArrayLike, starts: ArrayLike, actual: int) -> StartPoint:
    """Exact p over all starts that were allowed (Edgington 1975, J. Psychol. 90:57).

    ``values`` (units x columns) at times ``at`` (units,), ``starts`` (starts,) the times allowed, ``actual``
    the index of the one drawn. It needs nothing of the series, neither independence nor a level that holds.
    A start that leaves a side empty counts as reached. No settling is left out: with it, starts just before
    the true one would give the same change, and p could not come down to one in so many.

    >>> series = np.array([3, 4, 3, 5, 4, 3, 4, 5, 8, 9, 7, 8, 9, 8, 10, 9, 8, 9, 10, 9.0])[:, None]
    >>> found = start_point_test(series, np.arange(20), np.arange(4, 17), actual=4)
    >>> found.changes[4].round(4), found.p.round(4)
    (array([4.7917]), array([0.0769]))
    """
    v, when, begun = (np.asarray(a, np.float64) for a in (values, at, starts))
    if v.ndim != 2 or when.shape != (v.shape[0],) or not 0 <= actual < begun.size:
        raise ValueError("values, at, starts, actual: expected a time for each unit, and one of the starts")
    before = (when[None, :] < begun[:, None]).astype(np.float64)
    after = 1 - before
    with np.errstate(invalid="ignore", divide="ignore"):
        changes = after @ v / after.sum(axis=1)[:, None] - before @ v / before.sum(axis=1)[:, None]
    # NaN (a side left empty) is never smaller, so it counts as reached.
    smaller = np.abs(changes) < np.abs(changes[actual]) - _TIE
    return StartPoint(np.asarray((~smaller).mean(axis=0), np.float64), changes)
