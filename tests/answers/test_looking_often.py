"""However often one looks: the long simulations of docs/methods/looking-often.md once more, with fewer studies.

Behind ``-m calibration``. Each allows its goal of 5 (a page 15) of 100 and three standard errors.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest

from tests.sim.calibrate_evenings import BEFORE, LONG, told
from tests.sim.calibrate_often import prefer_ever, retreats_ever, zones_ever
from tests.sim.calibrate_page import false_claims, nothing_going_on
from tests.sim.creatures import alone
from zoneuse.answers.finding import FAIRLY_SURE, LOOKS_LIKE

pytestmark = pytest.mark.calibration
STUDIES = 20


def most(goal: float, studies: int = STUDIES) -> float:
    """A goal in percent with three standard errors."""
    return goal + 3 * float(np.sqrt(goal * (100 - goal) / studies))


@pytest.mark.parametrize(("animals", "carry"), [(1, 0.8), (3, 0.5)])
def test_zones_asked_after_every_session(animals: int, carry: float) -> None:
    ever, _ = zones_ever(lambda a, s, r: alone(a, s, r, carry), animals, STUDIES, 810_000)
    assert ever <= most(5)


@pytest.mark.parametrize("stays", [0.0, 0.8])
def test_retreats_of_eight_over_two_hundred_checks(stays: float) -> None:
    ever, _ = retreats_ever(8, stays, STUDIES, 811)
    assert ever <= most(5)


def test_prefer_over_two_hundred_sessions() -> None:
    ever, _ = prefer_ever(1, 0.8, STUDIES, 812_000)
    assert ever <= most(5)


@pytest.mark.parametrize(("animals", "carry"), [(1, 0.8), (3, 0.0), (8, 0.5)])
def test_a_change_that_did_nothing_asked_about_every_evening(animals: int, carry: float) -> None:
    sure = 0
    for number in range(STUDIES):
        zone = np.moveaxis(
            alone(animals, BEFORE + LONG[-1], np.random.default_rng(813_000 + number), carry), 0, 1
        )
        sure += any(told(zone[: BEFORE + n], number)[1] for n in LONG)
    assert 100 * sure / STUDIES <= most(5)


def test_a_page_on_which_nothing_is_going_on() -> None:
    sure = claims = 0
    for number in range(STUDIES):
        animals, carry = (1, 8)[number % 2], (0.0, 0.5, 0.8)[number // 2 % 3]
        with tempfile.TemporaryDirectory() as folder:
            made = Path(folder) / "s"
            nothing_going_on(made, animals, carry, np.random.default_rng(814_000 + number), number % 4 < 2)
            alone_, beside = false_claims(made, carry)
        sure += any(FAIRLY_SURE in standings for standings in alone_.values())
        claims += bool(beside & {FAIRLY_SURE, LOOKS_LIKE})
    assert 100 * sure / STUDIES <= most(5)
    assert 100 * claims / STUDIES <= most(15)
