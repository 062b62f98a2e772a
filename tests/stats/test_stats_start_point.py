"""A start drawn by lot: exact whatever the days do."""

from __future__ import annotations

import numpy as np
import pytest

from zoneuse.stats.choice.start_point import start_point_test

DAYS = np.arange(40)


def restless(rng: np.random.Generator) -> np.ndarray:
    """Days alike at .8 on top of a drift: what no exchange of days can stand."""
    y = np.zeros(DAYS.size)
    for t in DAYS:
        y[t] = 0.8 * y[t - 1] + rng.normal() * 0.6 if t else rng.normal()
    return y + np.linspace(0, 2, DAYS.size)


def test_it_holds_its_level_where_days_repeat_each_other_and_drift() -> None:
    rng, allowed = np.random.default_rng(77), np.arange(10, 30)
    p = np.array([
        start_point_test(restless(rng)[:, None], DAYS, allowed, int(rng.integers(20))).p[0]
        for _ in range(2000)
    ])  # fmt: skip
    # Twenty starts: exactly one in twenty by construction; three Monte Carlo standard errors.
    assert 0.035 < (p <= 0.05).mean() < 0.065


def test_a_perfect_step_is_told_from_every_other_start() -> None:
    y = (DAYS >= 20).astype(float)[:, None]
    found = start_point_test(y, DAYS, np.arange(10, 30), 10)
    assert found.p[0] == pytest.approx(1 / 20)
    assert found.changes[11, 0] == pytest.approx(1 - 1 / 21)


def test_a_start_that_leaves_a_side_empty_counts_as_reached() -> None:
    y = np.r_[np.zeros(5), np.ones(5)][:, None]
    found = start_point_test(y, np.arange(10), np.array([0, 5, 11]), 1)
    assert found.p[0] == pytest.approx(1.0)  # its own, and two starts that leave a side empty
    assert start_point_test(y, np.arange(10), np.array([4, 5, 6]), 1).p[0] == pytest.approx(1 / 3)


def test_the_drawn_start_must_be_one_of_those_allowed() -> None:
    with pytest.raises(ValueError, match="one of the starts"):
        start_point_test(np.ones((3, 1)), np.arange(3), np.array([1, 2]), 2)
