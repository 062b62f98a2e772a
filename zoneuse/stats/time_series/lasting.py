"""How long something lasts, where the end of some was not seen: the median of a survival curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..intervals.quantiles import normal_quantile


@dataclass(frozen=True, slots=True)
class MedianLasting:
    """Median with its limits, in the unit of the times; NaN where too few ends were seen for it."""

    median: float
    low: float
    high: float


def median_lasting(times: ArrayLike, ended: ArrayLike, confidence: float = 0.95) -> MedianLasting:
    """The Kaplan–Meier median (1958, J. Am. Stat. Assoc. 53:457) of times of which some only say "at least".

    Limits are those at which the curve is within its own (Greenwood, on the scale of log(-log)) limits of one half
    (Brookmeyer & Crowley 1982, Biometrics 38:29). Raises ValueError where times and ends are not of one length.

    >>> median_lasting([2, 4, 6, 8], [True, True, True, True]).median
    4.0
    >>> bool(np.isnan(median_lasting([2, 4, 6, 8], [True, False, False, False]).median))
    True
    """
    lasted, seen = np.asarray(times, np.float64), np.asarray(ended, np.bool_)
    if lasted.shape != seen.shape or lasted.ndim != 1:
        raise ValueError("times and ended: expected one of each for each bout")
    steps = np.unique(lasted[seen])
    at_risk = (lasted[None, :] >= steps[:, None]).sum(axis=1).astype(np.float64)
    ends = ((lasted[None, :] == steps[:, None]) & seen[None, :]).sum(axis=1)
    curve = np.cumprod(1 - ends / at_risk)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.cumsum(ends / (at_risk * (at_risk - ends)))
        log = np.log(curve)
        error = np.sqrt(spread) / np.abs(log)
        apart = (np.log(-log) - np.log(np.log(2))) / error
    inside = np.abs(apart) <= normal_quantile((1 + confidence) / 2)
    # Where all have ended the curve is 0, without an error: it is beyond one half.
    low = steps[inside].min(initial=np.inf)
    beyond = steps[(curve < 0.5) & ~inside]
    past_half = beyond[beyond > low].min(initial=np.inf) if np.isfinite(low) else np.inf
    reached = steps[curve <= 0.5 + 1e-12]
    median = float(reached[0]) if reached.size else np.nan
    return MedianLasting(median, *(float(v) if np.isfinite(v) else np.nan for v in (low, past_half)))
