"""One look of ``prefer`` claims little of animals that mind nothing, and still finds what is avoided."""

from __future__ import annotations

import numpy as np
import pytest

from tests.sim.calibrate_curves import read
from tests.sim.calibrate_often import minds_neither, prefer_once, read_two
from tests.sim.curves import Ways, avoids_above, watched
from zoneuse.answers.preference.judge import by_luck


@pytest.mark.parametrize("seed", [18, 100, 353])
def test_a_word_beside_the_parabola_needs_a_curve_that_is_clear_of_none(seed: int) -> None:
    """Studies with nothing in them that were called uneven (two of them) and a threshold."""
    zone, warm, moist, hour = minds_neither(1, 0.0, 36, np.random.default_rng(seed))
    assert read_two(zone, warm, moist, hour).verdicts == ["too early", "too early"]


def test_what_is_avoided_beyond_a_value_is_still_a_threshold_and_no_surer_than_its_curve() -> None:
    (curve,) = read(watched(Ways(avoids_above(), 40), 2)).each
    assert curve.verdict == "threshold"
    assert curve.p_any / 2 <= by_luck(curve) <= 0.05


@pytest.mark.calibration
@pytest.mark.parametrize(("animals", "carry"), [(1, 0.5), (3, 0.0)])
def test_a_single_look_of_two_quantities(animals: int, carry: float) -> None:
    """Goal 6 of 100 and three standard errors."""
    assert (prefer_once(animals, carry, 60, 814_000) <= 6 + 3 * np.sqrt(6 * 94 / 60)).all()
