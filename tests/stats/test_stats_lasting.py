"""Stays, companies and many looks: what makes a number of sessions tell less than their number."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sim.creatures import (
    OFFER,
    alone,
    columns,
    joiners,
    long_stays,
    settled_then_restless,
    together,
)
from zoneuse.answers.zones.judge import call_zones
from zoneuse.stats.intervals.any_time import level_any_time
from zoneuse.stats.intervals.units import gather, unit_shares
from zoneuse.stats.space_use.bouts import Bouts, find_bouts, redraw
from zoneuse.stats.space_use.lasting import StayLooks, lasting
from zoneuse.stats.space_use.redrawn_spread import joined_variance
from zoneuse.stats.space_use.zone_use import zone_use

CLAIMS = ("avoided", "favoured")


def bouts_of(zone: np.ndarray, offer: np.ndarray = OFFER) -> tuple[Bouts, StayLooks]:
    """The bouts of one invented study, and what they are worth."""
    rows = columns(zone)
    moments = gather(**rows, availability=offer)
    units = unit_shares(moments)
    there = units.rows
    found = find_bouts(
        moments.animal[there], units.unit, np.arange(there.size), moments.zone[there], units.pull,
        availability=moments.availability[there],
    )  # fmt: skip
    return found, lasting(moments, units, found)


@pytest.mark.parametrize(("animals", "carry"), [(1, 0.8), (3, 0.0), (4, 0.5)])
def test_the_variance_in_one_pass_is_that_of_many_draws(animals: int, carry: float) -> None:
    """Two ways to one number: chances followed through the stays, and stays drawn ten thousand times."""
    bouts, _ = bouts_of(alone(animals, 20, np.random.default_rng(5), carry))
    drawn = redraw(bouts, 1.0, 10_000, np.random.default_rng(6)).var(axis=0)
    np.testing.assert_allclose(joined_variance(bouts), drawn, rtol=0.06)


def test_animals_that_are_one_crowd_tell_as_much_as_one() -> None:
    random = np.random.default_rng(2)
    _, crowd = bouts_of(together(6, 40, random, 0.5, 1.0))
    _, apart = bouts_of(alone(6, 40, random))
    assert crowd.company.effective < 1.2
    assert crowd.needed
    assert apart.company.effective > 4


def test_settled_for_days_is_found_to_be_uneven() -> None:
    """Fifteen sessions hardly moving, then restless: the longest stay and the unevenness show it."""
    _, found = bouts_of(settled_then_restless(1, 40, np.random.default_rng(3)))
    _, even = bouts_of(alone(1, 40, np.random.default_rng(3)))
    assert found.needed and found.uneven > 1.3
    assert found.longest > 2 * even.longest
    assert not even.needed


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from([alone, together, joiners, long_stays, settled_then_restless]),
    animals=st.integers(1, 4),
    sessions=st.integers(5, 24),
    seed=st.integers(0, 10_000),
    times=st.floats(0.05, 8.0),
    hidden=st.floats(0.0, 0.3),
)
def test_verdict_limits_and_p_agree(
    kind: object, animals: int, sessions: int, seed: int, times: float, hidden: float
) -> None:
    """A difference is claimed exactly where its limits leave out 1, or the unseen alone hold it back."""
    random = np.random.default_rng(seed)
    rows = columns(kind(animals, sessions, random))  # type: ignore[operator]
    offer = OFFER.copy()
    offer[0] *= times
    rows["zone"] = np.where(random.random(rows["zone"].size) < hidden, -1, rows["zone"])
    if (rows["zone"] >= 0).sum() < 10:
        return
    found = zone_use(**rows, availability=offer / offer.sum(), draws=199, seed=seed)
    called = call_zones(found)
    for z in range(offer.size):
        outside = found.ratio_high[z] < 1 or found.ratio_low[z] > 1
        unseen = called.reason[z] == "unseen"
        few = called.reason[z] == "few_units"
        assert few or outside == (called.verdict[z] in CLAIMS) or (outside and unseen)
        if found.by_bouts:
            assert outside == (found.p[z] <= 0.05)
        surely = found.sure_high[z] < 1 or found.sure_low[z] > 1
        assert surely <= outside
        if called.verdict[z] in CLAIMS:
            assert called.sure[z] <= surely
            assert called.sure[z] == surely or found.unseen_high[z] > found.unseen_low[z]


def test_the_level_only_falls_after_the_hundredth_unit() -> None:
    levels = level_any_time(np.arange(100, 2000, 50))
    assert (np.diff(levels) < 0).all()
    assert float(level_any_time(3)) == float(level_any_time(15))


def rate(studies: int, make: object, seed: int) -> tuple[float, float]:
    """Percent of studies with a claim, and with one that stands however often one asks."""
    looks = sure = 0
    for study in range(studies):
        zone = make(np.random.default_rng(seed + study))  # type: ignore[operator]
        called = call_zones(zone_use(**columns(zone), availability=OFFER, draws=499, seed=study))
        claimed = np.array([v in CLAIMS for v in called.verdict])
        looks += bool(claimed.any())
        sure += bool((claimed & np.array(called.sure)).any())
    return 100 * looks / studies, 100 * sure / studies


@pytest.mark.calibration
@pytest.mark.parametrize(
    "make",
    [
        lambda r: together(8, 40, r, 0.6), lambda r: together(4, 40, r, 0.8), lambda r: joiners(6, 40, r),
        lambda r: long_stays(3, 40, r, 1.2), lambda r: long_stays(1, 40, r, 0.8),
        lambda r: settled_then_restless(1, 40, r), lambda r: settled_then_restless(3, 40, r),
    ],
    ids=["8 together", "4 together", "joiners", "Pareto 1.2", "Pareto .8", "settled, one", "settled, three"],
)  # fmt: skip
def test_animals_as_they_are_raise_few_false_alarms(make: object) -> None:
    looks, sure = rate(200, make, 70_000)
    assert sure <= 5
    assert looks <= 9
