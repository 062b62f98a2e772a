"""The offset between two observers' clocks, from invented changes with a known one."""

from __future__ import annotations

import numpy as np
import pytest

from zoneuse.stats.clock_offset import ClockOffset, clock_offset


def two_observers(
    offset: float, rng: np.random.Generator, seen: float = 0.8, changes: int = 40
) -> ClockOffset:
    """Changes of four animals over ten sessions of ten minutes, each observer missing some, in scans of a minute."""
    true = rng.uniform(0, 600, changes)
    session = rng.integers(0, 10, changes)
    what = rng.integers(0, 4, changes) * 4 + rng.integers(0, 4, changes) + 100 * session
    told = []
    for ahead in (0.0, offset):
        kept = rng.random(changes) < seen
        # Each observer's minutes begin somewhere else in each session; a change is put down at the next scan.
        begins = rng.uniform(0, 60, 10)[session[kept]]
        at = np.ceil((true[kept] - begins) / 60) * 60 + begins + rng.normal(0, 3, int(kept.sum())) + ahead
        told.append((at, what[kept]))
    return clock_offset(*told[0], *told[1])


@pytest.mark.parametrize("offset", [-240.0, 0.0, 35.0, 410.0])
def test_the_offset_is_found_between_scans_of_a_minute(offset: float) -> None:
    rng = np.random.default_rng(3)
    found = [two_observers(offset, rng) for _ in range(40)]
    told = np.array([f.seconds for f in found])
    assert np.isfinite(told).mean() > 0.95
    assert np.nanmedian(np.abs(told - offset)) < 10
    held = [f.low <= offset <= f.high for f in found if np.isfinite(f.seconds)]
    assert np.mean(held) > 0.85


def test_unlike_changes_tell_nothing() -> None:
    rng = np.random.default_rng(4)
    told = 0
    for _ in range(200):
        what = [rng.integers(0, 12, 30) for _ in range(2)]
        found = clock_offset(rng.uniform(0, 600, 30), what[0], rng.uniform(0, 600, 30), what[1])
        told += np.isfinite(found.seconds)
    assert told <= 8  # 1 of 100 was asked; some more since differences of one change repeat each other


def test_nothing_in_common_is_not_known() -> None:
    found = clock_offset([1, 2], [0, 0], [3], [1])
    assert np.isnan(found.seconds)
    assert (found.matched, found.possible) == (0, 0)
    with pytest.raises(ValueError, match="for every time"):
        clock_offset([1.0], [], [], [])


def test_like_changes_are_paired_as_a_full_comparison_would() -> None:
    rng = np.random.default_rng(5)
    first, second = np.sort(rng.uniform(0, 900, 60)), np.sort(rng.uniform(0, 900, 45))
    what, other = rng.integers(0, 6, 60), rng.integers(0, 6, 45)
    found = clock_offset(first, what, second, other, most=600, window=60)
    assert found.possible == sum(min((what == w).sum(), (other == w).sum()) for w in range(6))
    apart = (second[None, :] - first[:, None])[what[:, None] == other[None, :]]
    near = apart[np.abs(apart) <= 660]
    assert found.expected == pytest.approx(near.size * 60 / 660)
