"""How often two animals are found in one retreat (Cairns & Schwager 1987, Animal Behaviour 35:1454-1469)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats


@dataclass(frozen=True, slots=True)
class Association:
    """Animals x animals: checks together, both found apart, only the row's or the column's animal found."""

    together: Floats
    apart: Floats
    only_row: Floats
    only_column: Floats
    simple_ratio: Floats
    half_weight: Floats


def indices(
    together: ArrayLike, only_a: ArrayLike, only_b: ArrayLike, apart: ArrayLike
) -> tuple[Floats, Floats]:
    """Simple-ratio and half-weight index; NaN where there is no check.

    >>> [round(float(i), 7) for i in indices(10, 5, 15, 4)]
    [0.2941176, 0.4166667]
    """
    x, a, b, both = (np.asarray(v, np.float64) for v in (together, only_a, only_b, apart))
    simple, half = x + both + a + b, x + both + (a + b) / 2
    return _ratio(x, simple), _ratio(x, half)


def _ratio(top: Floats, bottom: Floats) -> Floats:
    ratio = np.divide(top, bottom, out=np.full(np.shape(bottom), np.nan), where=bottom > 0)
    return np.asarray(ratio, np.float64)


def association(where: ArrayLike) -> Association:
    """Association of every pair from ``where``, checks x animals: the retreat's number, -1 where not found.

    A check at which only one of two is found counts for that one ("only"): the other may have been in an
    unopened place, so such checks are no evidence of apartness. Checks at which neither is found do not count.

    >>> found = association([[1, 1], [1, 2], [2, -1]])
    >>> float(found.simple_ratio[0, 1]), float(found.half_weight[0, 1])
    (0.3333333333333333, 0.4)
    """
    places = np.asarray(where, np.int64)
    if places.ndim != 2:
        raise ValueError("where: expected checks x animals")
    seen = (places >= 0).astype(np.float64)
    together = np.zeros((places.shape[1], places.shape[1]))
    for place in np.unique(places[places >= 0]):
        here = (places == place).astype(np.float64)
        together += here.T @ here
    both = seen.T @ seen
    only = seen.T @ (1 - seen)
    simple, half = indices(together, only, only.T, both - together)
    return Association(together, both - together, only, only.T, simple, half)
