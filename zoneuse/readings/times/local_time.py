"""Local clock times to UTC, with summer time: which came twice, which never were."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..arrow_arrays import Times

Mask = NDArray[np.bool_]
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_DAY_MS = 86_400_000
_YEAR_MS = 366 * _DAY_MS


@dataclass(frozen=True, slots=True)
class Utc:
    """``early`` (n,): the UTC ms of each local time, the first where it came twice; ``late``: the second
    where it came twice, else the same; ``never``: True where the clock skipped this time."""

    early: Times
    late: Times
    never: Mask

    @property
    def twice(self) -> Mask:
        return np.not_equal(self.early, self.late)


def to_utc(local_ms: Times, zone: tzinfo) -> Utc:
    """Local times, (n,) ms as if the zone were UTC, to UTC.

    >>> from zoneinfo import ZoneInfo
    >>> at = np.array([1_792_893_600_000 + 3_600_000 // 2])     # 25 Oct 2026 02:30, Vienna goes back at 3
    >>> found = to_utc(at + 0, ZoneInfo("Europe/Vienna"))
    >>> (int(found.late[0] - found.early[0]), bool(found.never[0]))
    (3600000, False)
    """
    if len(local_ms) == 0:
        empty = np.empty(0, np.int64)
        return Utc(empty, empty, np.empty(0, np.bool_))
    low, high = int(local_ms.min()), int(local_ms.max())
    starts, offsets = _spans(zone, low, high)
    if (steady := _one_offset(starts, offsets, low, high)) is not None:
        at = local_ms - steady
        return Utc(at, at, np.zeros(len(local_ms), np.bool_))
    # The local clock when each span of one offset begins, and when it ends.
    begins = starts + offsets
    span = np.clip(np.searchsorted(begins, local_ms, "right") - 1, 0, None)
    late = local_ms - offsets[span]
    before = np.maximum(span - 1, 0)
    twice = (span > 0) & (local_ms < starts[span] + offsets[before])
    early = np.where(twice, local_ms - offsets[before], late)
    after = np.minimum(span + 1, len(starts) - 1)
    never = (after > span) & (local_ms >= starts[after] + offsets[span])
    return Utc(early, late, never)


def _one_offset(starts: Times, offsets: Times, low: int, high: int) -> int | None:
    """The offset that holds all the while, well away from any change of the clocks; None where none does."""
    first, last = np.searchsorted(starts + offsets, [low - _DAY_MS, high + _DAY_MS], "right") - 1
    return int(offsets[first]) if first == last and first >= 0 else None


def _spans(zone: tzinfo, low_ms: int, high_ms: int) -> tuple[Times, Times]:
    first, last = low_ms // _YEAR_MS - 1, high_ms // _YEAR_MS + 1
    found = _changes(zone, first * _YEAR_MS, (last + 1) * _YEAR_MS)
    return (
        np.array([start for start, _ in found], np.int64),
        np.array([offset for _, offset in found], np.int64),
    )


@lru_cache(maxsize=64)
def _changes(zone: tzinfo, low_ms: int, high_ms: int) -> tuple[tuple[int, int], ...]:
    """When the zone's offset begins to be what: (UTC ms, offset ms), found by halving days to the second."""
    found = [(low_ms, _offset(zone, low_ms))]
    step = 5 * 86_400_000
    at = low_ms
    while at < high_ms:
        after = at + step
        if _offset(zone, after) != found[-1][1]:
            left, right = at // 1000, after // 1000
            while right - left > 1:
                middle = (left + right) // 2
                if _offset(zone, middle * 1000) == found[-1][1]:
                    left = middle
                else:
                    right = middle
            found.append((right * 1000, _offset(zone, right * 1000)))
        at = after
    return tuple(found)


def _offset(zone: tzinfo, utc_ms: int) -> int:
    at = (_EPOCH + timedelta(milliseconds=utc_ms)).astimezone(zone)
    return int((at.utcoffset() or timedelta()) / timedelta(milliseconds=1))


def zone_words(zone: tzinfo) -> str:
    """A zone as a person says it.

    >>> from zoneinfo import ZoneInfo
    >>> zone_words(ZoneInfo("Europe/Vienna"))
    'Vienna time'
    """
    name = getattr(zone, "key", None) or str(zone)
    if name in ("UTC", "Etc/UTC"):
        return "UTC"
    return name.rsplit("/", 1)[-1].replace("_", " ") + " time" if "/" in name else name
