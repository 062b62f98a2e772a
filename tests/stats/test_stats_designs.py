"""Reversals and enclosures left alone: arithmetic by hand, levels by invented data."""

from __future__ import annotations

import numpy as np
import pytest

from zoneuse.stats.resampling.control_impact import control_impact
from zoneuse.stats.resampling.permutation import permute_phases
from zoneuse.stats.resampling.reversals import reversal, step_weights


def test_steps_of_abab_by_hand() -> None:
    # (B1 - A1), -(A2 - B1), (B2 - A2), each a third.
    np.testing.assert_allclose(step_weights([0, 1, 0, 1]), [-1 / 3, 2 / 3, -2 / 3, 1 / 3])
    np.testing.assert_allclose(step_weights([0, 1, 0]), [-1 / 2, 1, -1 / 2])


def test_a_drift_through_all_phases_mostly_cancels() -> None:
    drift = np.linspace(0, 0.6, 24)[:, None]
    aba = reversal(drift[:18], np.repeat(np.arange(3), 6), [0, 1, 0])
    assert float(aba.change[0]) == pytest.approx(0)
    one = permute_phases(drift[:12], np.arange(12) >= 6)
    assert abs(float(one.change[0])) > 0.1


@pytest.mark.parametrize("states", [[0, 1], [0, 0, 1], [1, 1, 0]])
def test_phases_must_alternate(states: list[int]) -> None:
    with pytest.raises(ValueError, match="at least three phases"):
        step_weights(states)


def test_a_reversal_of_nothing_is_called_as_often_as_said() -> None:
    rng = np.random.default_rng(11)
    phase, slot = np.repeat(np.arange(3), 8), np.tile([0, 0, 1, 1], 6)
    values = rng.normal(size=(24, 1000)) + 2.0 * slot[:, None]
    found = reversal(values, phase, [0, 1, 0], slot, draws=1999)
    # Binomial limits of 5 % in 1,000 (three standard errors).
    assert 0.03 < float((found.p <= 0.05).mean()) < 0.071
    assert 0.93 < float(((found.low < 0) & (found.high > 0)).mean()) < 0.97


def test_difference_of_differences_by_hand() -> None:
    change = np.array([[0.5], [0.4], [0.6], [0.5], [0.1], [0.0], [0.2], [0.1]])
    found = control_impact(change, [1, 1, 1, 1, 0, 0, 0, 0])
    assert float(found.difference[0]) == pytest.approx(0.4)
    assert float(found.p[0]) == pytest.approx(2 / 70) == found.smallest_p
    # Welch by hand: each variance 0.02/3, half = t(.975, 6) sqrt(2 x 0.02/3/4).
    assert float(found.high[0] - found.difference[0]) == pytest.approx(2.446912 * np.sqrt(0.01 / 3), rel=1e-5)


def test_one_enclosure_of_a_kind_has_no_limits_and_no_test() -> None:
    found = control_impact([[0.5], [0.1], [0.0]], [1, 0, 0])
    assert np.isnan(found.low[0])
    assert found.smallest_p == pytest.approx(1 / 3)
    with pytest.raises(ValueError, match="both kinds"):
        control_impact([[0.5], [0.1]], [1, 1])
