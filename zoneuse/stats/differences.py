"""The difference of two shares, from the limits of each."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


class Difference(NamedTuple):
    """After minus before, with limits."""

    change: Floats
    low: Floats
    high: Floats


def difference_of_shares(
    before: ArrayLike, before_low: ArrayLike, before_high: ArrayLike,
    after: ArrayLike, after_low: ArrayLike, after_high: ArrayLike,
) -> Difference:  # fmt: skip
    """Limits of a difference recovered from the limits of its two parts (Newcombe 1998, Stat. Med. 17:873, method 10).

    Made from score-like limits it holds where a share is near 0 or 1. Arrays of any shape that agree.

    >>> found = difference_of_shares(48/80, 0.4904, 0.7003, 56/70, 0.6921, 0.8771)
    >>> [round(float(v), 3) for v in found]
    [0.2, 0.053, 0.334]
    """
    b, bl, bh = (np.asarray(v, np.float64) for v in (before, before_low, before_high))
    a, al, ah = (np.asarray(v, np.float64) for v in (after, after_low, after_high))
    change = a - b
    low = change - np.sqrt((a - al) ** 2 + (bh - b) ** 2)
    high = change + np.sqrt((ah - a) ** 2 + (b - bl) ** 2)
    return Difference(change, low, high)
