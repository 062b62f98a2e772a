"""Peaks of parabolas: intervals against a search over the line, and the two-ends test."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from zoneuse.stats.choice import peaks

COEF = np.array([3.0, -0.5])
COV = np.array([[0.30, -0.045], [-0.045, 0.0081]])


def test_delta_interval() -> None:
    """By hand: gradient (-1/2c, b/2c2) = (1, 6)."""
    found = peaks.delta_peak(COEF, COV, degrees=12)
    variance = 0.30 + 2 * 6 * -0.045 + 36 * 0.0081
    half = stats.t.ppf(0.975, 12) * np.sqrt(variance)
    assert found.peak == pytest.approx(3)
    assert found.high - found.peak == pytest.approx(half)
    assert np.isnan(peaks.delta_peak([3, 0.5], COV).peak)


@pytest.mark.parametrize("scale", [0.05, 1.0, 20.0])
def test_fieller_set_is_where_a_level_curve_is_not_ruled_out(scale: float) -> None:
    """Compared with the t test of b + 2cx = 0 at each place of a grid: bounded, and not."""
    cov = COV * scale
    spans = peaks.fieller_peak(COEF, cov, degrees=12)
    grid = np.linspace(-200, 200, 40_001)
    slope = COEF[0] + 2 * COEF[1] * grid
    error = np.sqrt(cov[0, 0] + 4 * grid * cov[0, 1] + 4 * grid**2 * cov[1, 1])
    inside = np.abs(slope / error) <= stats.t.ppf(0.975, 12)
    told = np.zeros(grid.size, bool)
    for low, high in spans:
        told |= (grid >= low) & (grid <= high)
    assert (told == inside).mean() > 0.9999


def test_two_ends() -> None:
    """Slopes and one-sided tails by hand; a top, no top, and a plain rise."""
    ends = peaks.lind_mehlum_test(COEF, COV, 1.0, 5.0, degrees=12)
    error = np.sqrt(0.30 + 4 * 1 * -0.045 + 4 * 0.0081)
    assert ends.slope_low == pytest.approx(2)
    assert ends.p_up_low == pytest.approx(stats.t.sf(2 / error, 12))
    assert ends.p_top == max(ends.p_up_low, 1 - ends.p_up_high)
    assert ends.p_top < 0.05 < ends.p_rising
    levelling = peaks.lind_mehlum_test(COEF, COV, 0.0, 2.5, degrees=12)
    assert levelling.p_top > 0.5
    assert peaks.lind_mehlum_test([2.0, 0.0], COV * 0.01, -1, 1).p_rising < 0.001


def test_cut_to_offered() -> None:
    """Nothing is said beyond what was offered."""
    assert peaks.cut_to_offered(((-1.0, 2.0),), 0.0, 1.0) == ((0.0, 1.0),)
    assert peaks.cut_to_offered(((3.0, 4.0),), 0.0, 1.0) == ()
