"""Whether a step at a change is the best account of a series: or a break elsewhere, a line, or sides that drift."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..special import special

# Twice the log likelihood by which a break before the change, one after it, or a line must not be better.
BREAK_BEFORE, BREAK_AFTER, LINE = 1.0, 4.0, 2.0
# A drift within the sides at least this clear leaves a step in doubt.
DRIFT = 0.1
# Fewest values on either side of a break.
_LEAST = 2


@dataclass(frozen=True, slots=True)
class SteadySides:
    """How other accounts compare with a step at the change.

    ``breaks`` is where the best single break lies, in values before (negative) or after the change, and
    ``break_gain`` twice the log likelihood by which it is better; ``line_loss`` by how much a straight line is
    worse than the step (negative: better); ``drift_p`` the p of slopes within the two sides.
    """

    breaks: int
    break_gain: float
    line_loss: float
    drift_p: float

    @property
    def begun_before(self) -> bool:
        """Whether a break before the change fits better than one at it."""
        return self.breaks < 0 and self.break_gain > BREAK_BEFORE

    @property
    def holds(self) -> bool:
        """Whether a step at the change stands clear of all other accounts."""
        late = self.breaks > 0 and self.break_gain > BREAK_AFTER
        return not self.begun_before and not late and self.line_loss > LINE and self.drift_p > DRIFT


def steady_sides(values: ArrayLike, after: ArrayLike) -> SteadySides:
    """Compare a step at the change with every other single break, with a line, and with drifting sides.

    ``values`` and ``after`` (units,) in order of time. Normal likelihoods: n log of the ratio of residual
    sums of squares (Quandt 1958, JASA 53:873, for the break). The drift is an F test of two slopes.
    ValueError for fewer than three values on a side.

    >>> y = np.r_[np.tile([0.1, 0.2], 6), np.tile([0.5, 0.6], 8)]
    >>> late = steady_sides(y, np.arange(28) >= 15)  # the change was made three units after the rise
    >>> late.breaks, late.begun_before, steady_sides(y, np.arange(28) >= 12).holds
    (-3, True, True)
    """
    y, late = np.asarray(values, np.float64), np.asarray(after).astype(bool)
    n, start = y.size, int((~late).sum())
    if min(start, n - start) < 3 or late[:start].any():
        raise ValueError(
            "values, after: expected three and more before the change, then three and more after it"
        )
    tiny = max(float(y.var()) * n, 1.0) * 1e-12
    cuts = np.arange(_LEAST, n - _LEAST + 1)
    squares = _step_squares(y, cuts) + tiny
    step = float(squares[start - _LEAST])
    best = int(squares.argmin())
    t = np.arange(n, dtype=np.float64)
    line = float(((y - np.polyval(np.polyfit(t, y, 1), t)) ** 2).sum()) + tiny
    inner = t - np.where(late, t[late].mean(), t[~late].mean())
    flat = y - np.where(late, y[late].mean(), y[~late].mean())
    slopes = [inner * side for side in (~late, late)]
    explained = sum(float((s @ flat) ** 2 / (s @ s)) for s in slopes)
    f = explained / 2 / (max(step - explained, tiny) / max(n - 4, 1))
    return SteadySides(
        int(cuts[best]) - start,
        n * float(np.log(step / squares[best])),
        n * float(np.log(line / step)),
        float(special.fdtrc(2, max(n - 4, 1), f)),
    )


def _step_squares(y: Floats, cuts: NDArray[np.intp]) -> Floats:
    """Residual sums of squares with a step before each of ``cuts``."""
    total, squares = np.cumsum(y), float((y**2).sum())
    before = total[cuts - 1]
    found = squares - before**2 / cuts - (total[-1] - before) ** 2 / (y.size - cuts)
    return np.asarray(np.maximum(found, 0.0), np.float64)
