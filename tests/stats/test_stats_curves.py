"""Curves of choice that are no parabola, hours that carry a condition, loggers that err; cells in docs/methods."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import patsy
import pytest

from tests.sim.calibrate_curves import SAME, read, word
from tests.sim.curves import Ways, avoids_above, even, indifferent, skewed, watched
from zoneuse.stats.choice.flexible import FlexibleCurve
from zoneuse.stats.choice.natural_spline import natural_spline
from zoneuse.stats.choice.peaks import fieller_peak
from zoneuse.stats.choice.preference import fit_preference
from zoneuse.stats.curves.edges import edge_of
from zoneuse.stats.curves.logger_error import calibrated, limits_with_offset, white_noise
from zoneuse.stats.curves.tops import ChoiceRows, top_set


def rows(table: dict[str, np.ndarray]) -> tuple[np.ndarray, ChoiceRows]:
    """The one quantity of a simulated study with nothing beside it."""
    chosen = np.asarray(table["chosen"], float)
    beside = ChoiceRows(
        np.zeros((chosen.size, 0)), table["moment"], chosen, table["offset"], table["cluster"]
    )
    return table["x"][:, 0], beside


def test_the_top_of_a_curve_that_falls_off_faster_above_lies_in_its_set_and_not_in_the_parabolas() -> None:
    table = watched(Ways(skewed(30.0), sessions=24), 5)
    values, beside = rows(table)
    found = top_set(values, beside)
    plain = {k: v for k, v in table.items() if k not in ("hour", "true")}
    fit = fit_preference(**plain, quantities=("t",))
    (_, high), *_ = fieller_peak(*fit.curve(0), fit.degrees())
    assert high + fit.centre[0] < 30.0
    assert any(a <= 30.0 <= b for a, b in found.spans)
    assert found.skew > 1


def test_an_even_curve_has_its_top_where_the_parabola_has_it() -> None:
    values, beside = rows(watched(Ways(even(28.0), sessions=24, stay=0.0), 2))
    found = top_set(values, beside)
    assert found.value == pytest.approx(28.0, abs=1.0)
    assert abs(found.skew) < 2.5


def test_what_is_only_avoided_above_an_edge_is_a_threshold_with_limits_that_hold_it() -> None:
    table = watched(Ways(avoids_above(31.0, 1.0), sessions=24, animals=1, stay=0.0), 2)
    (curve,) = read(table).each
    assert (curve.verdict, curve.side) == ("threshold", "high")
    assert curve.edge is not None
    assert curve.edge.low <= 31.0 <= curve.edge.high


def test_limits_of_an_edge_are_those_of_a_break() -> None:
    """Avoided above 32 °C, and likeliest elsewhere: by chi squared the limits left it out, as in 14 of 100 studies."""
    found = read(watched(Ways(avoids_above()), 9011)).each[0].edge
    assert found is not None
    assert found.low <= 32.0 <= found.high


def test_an_edge_below_is_the_mirror_of_one_above() -> None:
    values, beside = rows(watched(Ways(avoids_above(31.0, 1.0), sessions=16, animals=1, stay=0.0), 2))
    one, other = edge_of(values, beside, (19.0, 36.0)), edge_of(-values, beside, (-36.0, -19.0))
    assert one is not None
    assert other is not None
    assert (one.side, other.side) == ("high", "low")
    assert (other.value, other.low, other.high) == pytest.approx((-one.value, -one.high, -one.low))
    assert other.p() == pytest.approx(one.p())


def test_being_out_by_day_is_never_fairly_sure_to_be_a_liking_for_warmth() -> None:
    """Zones that differ only in how far they swing with the day: the plain curve rises, and holds at every look."""
    ways = Ways(indifferent, sessions=30, animals=1, out_by_day=2.0, base=SAME)
    words, hours = [], []
    for seed in range(4):
        found = read(watched(ways, seed))
        words.append(word(found))
        hours.append(found.each[0].at_every_hour)
    assert "rising" in words
    assert not any(w.endswith("*") for w in words)
    assert not all(hours)


def test_noise_of_loggers_is_found_and_taken_out() -> None:
    rng = np.random.default_rng(4)
    true = 24 + 4 * np.sin(np.arange(3000) / 48 * 2 * np.pi)
    said = true + rng.normal(0, 1.5, 3000)
    assert white_noise(said) == pytest.approx(1.5, rel=0.05)
    better = calibrated(said[:, None], [1.5**2])[:, 0]
    # Berkson: what is left wrong has nothing to do with what is said any more.
    assert np.cov(true, better)[0, 1] / better.var() == pytest.approx(1.0, abs=0.02)
    assert np.cov(true, said)[0, 1] / said.var() < 0.85
    # What two zones share is no noise: their difference is not made to follow the weather.
    weather, noise = rng.normal(0, 3, 5000), rng.normal(0, 1, (5000, 2)) * [1.5, 0.1]
    both = calibrated(weather[:, None] + noise, [1.5**2, 0.1**2])
    assert abs(np.polyfit(weather, both[:, 0] - both[:, 1], 1)[0]) < 0.01
    assert limits_with_offset(25.0, 24.0, 26.0, 0.0) == (24.0, 26.0)


@pytest.mark.calibration
@pytest.mark.parametrize("what", ["tops", "edges", "hours", "noise", "bends"])
def test_curves_keep_what_the_methods_page_says(what: str) -> None:
    """Prints the cells of docs/methods/preference.md; read them there against the targets."""
    subprocess.run([sys.executable, "-m", "tests.sim.calibrate_curves", what, "--studies", "100"], check=True)


def test_a_bend_is_less_sure_where_successive_units_repeat_each_other() -> None:
    at = np.linspace(0, 1, 3)
    curve = FlexibleCurve((30.0, 3, 30), at, at, at, at, "", None)
    assert curve.p == curve.p_spread(1.0) < 0.001 < curve.p_spread(2.0) < curve.p_spread(4.0)
    assert curve.p_spread(10.0) == 1.0  # three clusters are left for three terms


@pytest.mark.parametrize("knots", [[0.0, 1.0, 3.0], [18.5, 20.0, 24.5, 27.0, 31.0, 42.0]])
def test_the_natural_spline_is_that_of_patsy(knots: list[float]) -> None:
    x = np.r_[np.linspace(knots[0], knots[-1], 37), knots]
    cr = patsy.dmatrix(
        "cr(x, knots=inner, lower_bound=low, upper_bound=high) - 1",
        {"x": x, "inner": knots[1:-1], "low": knots[0], "high": knots[-1]},
    )
    assert natural_spline(x, np.array(knots)) == pytest.approx(np.asarray(cr), abs=1e-12)
