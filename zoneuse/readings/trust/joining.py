"""Join readings to moments: the straight line between the two readings around a moment, or nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from ..arrow_arrays import Values

Millis = NDArray[np.int64]
JoinRequest = tuple[Millis, Millis, Values, int, Sequence[int]]
"""What `interpolate` takes, in its order."""
# numpy lets go of the interpreter while it looks up; more than a few threads wait for memory.
_THREADS = 4


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
    good = ~np.isnan(values)
    if not good.all():
        reading_times, values = reading_times[good], values[good]
    if not len(reading_times) or not len(moments):
        return np.full(moments.shape, np.nan)
    if (moments[1:] < moments[:-1]).any():
        order = np.argsort(moments, kind="stable")
        out = np.empty(moments.shape)
        out[order] = _in_order(moments[order], reading_times, values, max_gap_ms, breaks_ms)
        return out
    return _in_order(moments, reading_times, values, max_gap_ms, breaks_ms)


def interpolate_each(asked: Iterable[JoinRequest]) -> Iterator[Values]:
    """As ``interpolate`` for every set of its arguments, in their order, several at once."""
    with ThreadPoolExecutor(_THREADS) as pool:
        yield from pool.map(lambda one: interpolate(*one), asked)


def _in_order(
    moments: Millis, times: Millis, values: Values, max_gap_ms: int, breaks_ms: Sequence[int] | Millis
) -> Values:
    """The line through all readings, with what lies inside a gap or across a break taken out again."""
    # Milliseconds since 1970 are exact as floats for another 285,000 years.
    known = times.astype(np.float64)
    out = np.interp(moments.astype(np.float64), known, values, left=np.nan, right=np.nan)
    apart = known[1:] - known[:-1] > max_gap_ms
    if len(breaks_ms):
        section = np.searchsorted(np.sort(np.asarray(breaks_ms, np.int64)), times, "right")
        apart |= section[1:] != section[:-1]
    gaps = np.flatnonzero(apart)
    # Moments are in order, so those inside a gap stand together; one at a reading's own time stays.
    first = moments.searchsorted(times[gaps], "right").tolist()
    last = moments.searchsorted(times[gaps + 1], "left").tolist()
    for low, high in zip(first, last, strict=True):
        if low < high:
            out[low:high] = np.nan
    return np.asarray(out, np.float64)


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
