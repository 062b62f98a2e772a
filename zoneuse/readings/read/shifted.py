"""A file exported in another time zone: recognised where it overlaps what is already stored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ...study import QUANTITIES
from ..arrow_arrays import Times, Values
from ..store.store import read
from ..store.taken import Intake

HOUR_MS = 3_600_000
_FEWEST, _AGREE = 12, 0.9


def hours_shifted(
    study: Path, logger: str, times: Times, values: Mapping[str, Values], intaken: Sequence[Intake]
) -> int:
    """By how many hours this file's times lie after those of the same readings in the store; 0 for none.

    A shift is believed where at least 12 readings that differ from the one before fall on stored times, 9 of
    10 of them with the stored values, and unshifted they do not agree. A reading that repeats the one before
    tells nothing: still air looks alike at any hour.
    """
    if len(times) < _FEWEST:
        return 0
    low, high = int(times.min()) - 15 * HOUR_MS, int(times.max()) + 15 * HOUR_MS
    stored = read(study, logger, low, high, intaken)
    moved = _changes(values)
    times, values = times[moved], {q: v[moved] for q, v in values.items()}
    if len(stored.times) < _FEWEST or _agreement(stored.times, stored.values, times, values)[0] >= 0.5:
        return 0
    for hours in sorted(range(-14, 15), key=abs):
        share, count = _agreement(stored.times, stored.values, times - hours * HOUR_MS, values)
        if hours and count >= _FEWEST and share >= _AGREE:
            return hours
    return 0


def _changes(values: Mapping[str, Values]) -> NDArray[np.bool_]:
    """Which rows differ from the row before in some quantity."""
    changed = [np.r_[True, np.diff(v) != 0] & ~np.isnan(v) for v in values.values()]
    return np.asarray(np.logical_or.reduce(changed), np.bool_)


def _agreement(
    stored_times: Times, stored: Mapping[str, Values], times: Times, values: Mapping[str, Values]
) -> tuple[float, int]:
    """The share of common times with equal values, and how many times are common."""
    place = np.minimum(np.searchsorted(stored_times, times), len(stored_times) - 1)
    common = stored_times[place] == times
    shared = [q for q in values if q in stored]
    if not common.any() or not shared:
        return 0.0, 0
    equal = np.ones(int(common.sum()), np.bool_)
    for q in shared:
        new, old = values[q][common], stored[q][place[common]]
        known = ~np.isnan(new) & ~np.isnan(old)
        equal &= ~known | (np.abs(new - old) <= QUANTITIES[q].near)
    return float(equal.mean()), int(common.sum())
