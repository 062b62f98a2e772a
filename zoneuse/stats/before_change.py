"""Was the change made because things were unusually bad: the last units before it against the earlier ones."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .quantiles import t_quantile


class LastBefore(NamedTuple):
    """Mean of the last units before a change and of those before them; ``unusual`` where they stand apart."""

    last: float
    earlier: float
    unusual: bool


def last_before(before: ArrayLike, last: int = 3, tail: float = 0.05) -> LastBefore:
    """Whether the ``last`` units before a change were extreme against the earlier ones.

    What is extreme tends to be followed by what is usual, whatever is done in between (Galton 1886). ``before``
    in time order; judged only from five earlier units on, by the t of a new mean against them (each tail
    ``tail``/2).

    >>> last_before([.3, .4, .35, .3, .4, .35, .1, .05, .0]).unusual
    True
    """
    values = np.asarray(before, np.float64)
    earlier, late = values[:-last], values[-last:]
    if earlier.size < 5:
        return LastBefore(float(late.mean()), float(earlier.mean()) if earlier.size else float("nan"), False)
    spread = float(earlier.std(ddof=1)) * np.sqrt(1 / last + 1 / earlier.size)
    apart = float(late.mean() - earlier.mean())
    beyond = abs(apart) > t_quantile(1 - tail / 2, earlier.size - 1) * spread
    return LastBefore(float(late.mean()), float(earlier.mean()), bool(beyond and apart != 0))
