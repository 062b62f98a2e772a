"""The offset between two observers' clocks, from invented changes with a known one."""

from __future__ import annotations

import numpy as np
import pytest

from zoneuse.stats.agreement.clock_offset import Changes, ClockOffset, clock_offset


def two_observers(
    offset: float,
    rng: np.random.Generator,
    seen: float = 0.8,
    changes: int = 40,
    noise: float = 0.0,
    animals: int = 4,
) -> ClockOffset:
    """Changes over ten sessions of ten minutes, each observer missing some, in scans of a minute.

    ``noise`` is how many changes, as a share of the true ones, each observer only believes to have seen.
    """
    true, session = rng.uniform(0, 600, changes), rng.integers(0, 10, changes)
    animal, what = rng.integers(0, animals, changes), rng.integers(0, 4, changes)
    told = []
    for ahead in (0.0, offset):
        kept = rng.random(changes) < seen
        more = int(noise * changes)
        at = np.concatenate([true[kept], rng.uniform(0, 600, more)])
        where = np.concatenate([session[kept], rng.integers(0, 10, more)])
        who = np.concatenate([animal[kept], rng.integers(0, animals, more)])
        how = np.concatenate([what[kept], rng.integers(0, 4, more)])
        # Each observer's minutes begin somewhere else in each session; a change is put down at the next scan.
        begins = rng.uniform(0, 60, 10)[where]
        at = np.ceil((at - begins) / 60) * 60 + begins + rng.normal(0, 3, at.size) + ahead
        told.append(Changes.of(at, where, who, how))
    return clock_offset(*told)


@pytest.mark.parametrize("offset", [-240.0, 0.0, 35.0, 410.0])
@pytest.mark.parametrize("noise", [0.0, 0.5])
def test_the_offset_is_found_between_scans_of_a_minute(offset: float, noise: float) -> None:
    rng = np.random.default_rng(3)
    found = [two_observers(offset, rng, noise=noise) for _ in range(40)]
    told = np.array([f.seconds for f in found])
    assert np.isfinite(told).mean() > 0.95
    assert np.nanmedian(np.abs(told - offset)) < 10
    held = [f.low <= offset <= f.high for f in found if np.isfinite(f.seconds)]
    assert np.mean(held) > 0.85


@pytest.mark.parametrize("animals", [1, 4])
def test_unlike_changes_tell_nothing(animals: int) -> None:
    rng = np.random.default_rng(4)
    told = sum(
        np.isfinite(two_observers(0.0, rng, seen=0.0, noise=1.0, changes=n, animals=animals).seconds)
        for n in (20, 40, 100)
        for _ in range(60)
    )
    assert told <= 9  # of 180; 2 or 3 in 100 is what was measured


def test_nothing_in_common_is_not_known() -> None:
    found = clock_offset(Changes.of([1, 2], [0, 0], [0, 0], [0, 0]), Changes.of([3], [0], [0], [1]))
    assert np.isnan(found.seconds)
    assert (found.matched, found.possible) == (0, 0)
    nobody = Changes.of([], [], [], [])
    assert np.isnan(clock_offset(nobody, nobody).seconds)
    with pytest.raises(ValueError, match="for every change"):
        Changes.of([1.0], [], [], [])


def test_changes_meet_within_a_session_only_and_as_a_full_comparison_would() -> None:
    rng = np.random.default_rng(5)
    one, other = (Changes.of(np.sort(rng.uniform(0, 900, n)), *rng.integers(0, 3, (3, n))) for n in (60, 45))
    found = clock_offset(one, other)
    kinds = [np.stack([c.session, c.animal, c.what], axis=1).tolist() for c in (one, other)]
    assert found.possible == sum(
        min(kinds[0].count(kind), kinds[1].count(kind)) for kind in np.unique(kinds[0], axis=0).tolist()
    )
    # Sessions apart from each other in time, or laid over one another, make no difference.
    far = [Changes(c.at + 5000.0 * c.session, c.session, c.animal, c.what) for c in (one, other)]
    assert clock_offset(*far).matched == found.matched
