"""Join readings to moments: the straight line between the two readings around a moment, or nothing."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

# A block of moments whose scratch arrays stay in the processor's cache: measured 2x faster than one sweep.
_BLOCK = 16_384
# So many blocks are shared between two threads; fewer are done before a thread has started.
_WORTH_THREADS = 4
# Readings at most so far apart have places that a fraction of 64 bits tells apart, in files of any size.
_FAR_MS = 100_000_000


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
    section = None
    if len(breaks_ms):
        section = np.searchsorted(np.sort(np.asarray(breaks_ms, np.int64)), reading_times, "right")

    def join(start: int) -> None:
        part = slice(start, start + _BLOCK)
        with np.errstate(divide="ignore", invalid="ignore"):
            _block(moments[part], reading_times, values, max_gap_ms, section, out[part])

    starts = range(0, len(moments), _BLOCK)
    if len(starts) < _WORTH_THREADS:
        for start in starts:
            join(start)
    else:
        # Each block writes its own part of ``out``; numpy lets the interpreter go meanwhile.
        with ThreadPoolExecutor(2) as pool:
            deque(pool.map(join, starts), maxlen=0)
    return out


def _block(
    moments: NDArray[np.int64],
    times: NDArray[np.int64],
    values: NDArray[np.float64],
    max_gap_ms: int,
    section: NDArray[np.intp] | None,
    out: NDArray[np.float64],
) -> None:
    # Moments mostly come in order: a block of them meets a short piece of the readings, quick to search.
    low, high = times.searchsorted([moments.min(), moments.max()], "right")
    right = _after(moments, times[low:high])
    right += low
    left = right - 1
    # Beyond the last reading both neighbours are that reading: no gap, and so no line.
    t0 = times.take(left, mode="clip")
    gap = times.take(right, mode="clip") - t0
    past = moments - t0
    v0 = values.take(left, mode="clip")
    line = values.take(right, mode="clip")
    line -= v0
    line *= past / gap
    line += v0
    # Before the first reading ``past`` is negative, and at a reading the line is that reading exactly.
    joined = gap <= max_gap_ms
    joined &= past >= 0
    joined &= gap > 0
    if section is not None:
        joined &= section.take(left, mode="clip") == section.take(right, mode="clip")
    np.copyto(out, line, where=joined)
    np.copyto(out, v0, where=past == 0)


def _after(moments: NDArray[np.int64], times: NDArray[np.int64]) -> NDArray[np.intp]:
    """How many of ``times`` are at or before each moment, as ``searchsorted(moments, "right")`` counts them.

    np.interp looks near where it found the last one, three times faster than a search from scratch. Where moments
    are sparse, or readings so far apart that its fraction may round up to the next one, the search is used.
    """
    sparse = times.size > 2 * moments.size
    if sparse or times.size < 2 or int(np.diff(times).max()) > _FAR_MS:
        return times.searchsorted(moments, "right")
    since, known = (np.asarray(part - times[0], np.float64) for part in (moments, times))
    place = np.interp(since, known, np.arange(times.size, dtype=np.float64), left=-1.0)
    return np.asarray(place.astype(np.intp) + 1, np.intp)


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
