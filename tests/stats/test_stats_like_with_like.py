"""Slots watched in unequal parts on the two sides of a change must not look like a change."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoneuse.stats.intervals.differences import change_of_mean_shares
from zoneuse.stats.resampling.permutation import permute_phases
from zoneuse.stats.resampling.strata import adjust_for_strata


@given(
    counts=st.lists(st.tuples(st.integers(1, 6), st.integers(1, 6)), min_size=1, max_size=3),
    seed=st.integers(0, 9999),
)
def test_the_levelled_change_is_the_one_that_is_tested(counts: list[tuple[int, int]], seed: int) -> None:
    slot = np.concatenate([np.repeat(s, b + a) for s, (b, a) in enumerate(counts)])
    late = np.concatenate([np.r_[np.zeros(b, bool), np.ones(a, bool)] for b, a in counts])
    values = np.random.default_rng(seed).random((slot.size, 2)) + slot[:, None]
    sides = adjust_for_strata(values, late, slot).sides
    change = sides[late].mean(axis=0) - sides[~late].mean(axis=0)
    np.testing.assert_allclose(change, permute_phases(values, late, slot, draws=1).change, atol=1e-9)


def test_one_slot_is_left_as_it_is() -> None:
    values = np.array([[0.1], [0.4], [0.3]])
    found = adjust_for_strata(values, [0, 1, 1], [7, 7, 7])
    assert (found.sides == values).all()
    assert (found.series == values).all()


def test_many_nights_before_and_many_days_after_are_no_change() -> None:
    slot = np.r_[np.zeros(10), np.ones(2), np.zeros(2), np.ones(10)]
    late = np.arange(24) >= 12
    values = np.where(slot == 0, 0.8, 0.2)[:, None]
    found = adjust_for_strata(values, late, slot)
    assert values[late].mean() - values[~late].mean() == pytest.approx(-0.4)
    assert found.sides[late].mean() - found.sides[~late].mean() == pytest.approx(0)
    assert np.ptp(found.series) == pytest.approx(0)


def test_a_slot_with_one_side_only_is_refused() -> None:
    with pytest.raises(ValueError, match="both sides"):
        adjust_for_strata(np.ones((4, 1)), [0, 0, 1, 1], [0, 1, 1, 1])


@pytest.mark.parametrize("counts", [((8, 8), (4, 4)), ((10, 2), (2, 10))])
def test_limits_hold_where_slots_were_watched_in_unequal_parts(counts: tuple[tuple[int, int], ...]) -> None:
    slot = np.concatenate([np.repeat(s, b + a) for s, (b, a) in enumerate(counts)])
    late = np.concatenate([np.r_[np.zeros(b, bool), np.ones(a, bool)] for b, a in counts])
    rng, covered = np.random.default_rng(5), 0
    for _ in range(1000):
        share = rng.beta(np.where(slot == 0, 2.0, 1.0), np.where(slot == 0, 2.0, 3.0))
        level = adjust_for_strata(np.column_stack([share, 1 - share]), late, slot)
        found, _, _ = change_of_mean_shares(
            level.sides[~late], level.sides[late], slots=level.slots, worth=level.worth
        )
        covered += bool(found.low[0] <= 0 <= found.high[0])
    # 95 % of 1,000, three Monte Carlo standard errors either way; taking the counts as they are gives 85.
    assert 929 <= covered <= 975
