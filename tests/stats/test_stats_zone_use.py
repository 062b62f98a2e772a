"""Zones compared with what is offered: verdicts, limits and bounds through the one public function."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sim.animals import Design, simulate
from zoneuse.answers.zones.judge import call_zones
from zoneuse.stats.space_use import sample_size
from zoneuse.stats.space_use.bouts import FOUND_THERE, MOVED, RETURNED, find_bouts, kept_between_units, redraw
from zoneuse.stats.space_use.sample_size import sample_size_to_settle
from zoneuse.stats.space_use.single_step import limits_of_test, single_step
from zoneuse.stats.space_use.zone_use import ZoneUse, zone_use


def ask(design: Design, seed: int = 1, **more: object) -> ZoneUse:
    """The answer to one invented study."""
    return zone_use(**simulate(design, 1, seed).study(0), availability=design.offered, draws=499, **more)


def test_a_strong_effect_is_called_and_limits_agree() -> None:
    """Three animals, forty sessions: a zone used at four times, one at a tenth of its share."""
    found = ask(Design(sessions=40, animals=3, times=(0.1, 1, 1, 1, 4, 1)))
    assert call_zones(found).verdict[0] == "avoided"
    assert found.ratio_high[0] < 1
    assert found.used_high[0] < found.availability[0]
    assert call_zones(found).verdict[4] == "favoured"
    assert found.ratio_low[4] > 1
    assert found.p_no_preference <= 0.05
    assert found.by_bouts
    assert float(found.availability @ found.ratio) == pytest.approx(1)


def test_shares_are_means_over_sessions_not_scans() -> None:
    """A long session weighs no more than a short one."""
    unit = np.array([0] * 10 + [1, 1])
    zone = np.array([0] * 10 + [1, 1])
    found = zone_use(unit, np.zeros(12, int), zone, np.arange(12), [0.5, 0.5])
    np.testing.assert_allclose(found.used, [0.5, 0.5])
    np.testing.assert_allclose(found.moments, [10, 2])
    assert call_zones(found).verdict == ("too early", "too early")
    assert call_zones(found).reason == ("few_units", "few_units")


def test_an_animal_that_never_moved_says_nothing() -> None:
    """Thirty sessions in one zone may be one stay: too early, however many scans."""
    unit = np.repeat(np.arange(30), 20)
    found = zone_use(unit, np.zeros(600, int), np.zeros(600, int), np.arange(600), [0.2, 0.3, 0.5])
    assert found.moves == 0
    assert found.kept == 1
    assert set(call_zones(found).reason) == {"few_moves"}


def test_unseen_moments_can_hold_a_verdict_back() -> None:
    """Avoided on what was seen; but it may have sat there unseen."""
    design = Design(sessions=40, animals=3, times=(0.1, 1, 1, 1, 1, 1))
    columns = simulate(design, 1, 3).study(0)
    assert call_zones(zone_use(**columns, availability=design.offered, draws=499)).verdict[0] == "avoided"
    hidden = np.random.default_rng(1).random(columns["zone"].size) < 0.4
    columns["zone"] = np.where(hidden, -1, columns["zone"])
    found = zone_use(**columns, availability=design.offered, draws=499)
    assert (call_zones(found).verdict[0], call_zones(found).reason[0]) == ("too early", "unseen")
    assert found.unseen_high[0] - found.unseen_low[0] == pytest.approx(0.4, abs=0.05)
    assert found.unseen == hidden.sum()


def test_a_session_without_a_sighting_counts_in_bounds_only() -> None:
    """No share of its own, yet it is effort, and it could all have been here."""
    unit = np.array([0, 0, 1, 1])
    found = zone_use(unit, np.zeros(4, int), np.array([0, 1, -1, -1]), np.arange(4), [0.5, 0.5])
    assert (found.units, found.units_unseen) == (1, 1)
    np.testing.assert_allclose(found.used, [0.5, 0.5])
    np.testing.assert_allclose(found.unseen_low, [0.25, 0.25])
    np.testing.assert_allclose(found.unseen_high, [0.75, 0.75])


def test_groups_are_decided_by_the_spread_between_sessions() -> None:
    """Counts of animals not told apart; strong effects are found, without bouts."""
    found = ask(Design(sessions=40, animals=6, group=True, times=(0.1, 1, 1, 1, 4, 1)))
    assert not found.by_bouts
    assert found.moves is None
    assert (call_zones(found).verdict[0], call_zones(found).verdict[4]) == ("avoided", "favoured")
    assert np.isnan(found.p_no_preference)


def test_in_proportion_needs_much_watching() -> None:
    """Never because data are few; with many animals and sessions it comes."""
    even = Design(available=(0.5, 0.5), sessions=6, animals=2)
    assert "in proportion" not in call_zones(ask(even)).verdict
    assert (
        call_zones(ask(Design(available=(0.5, 0.5), sessions=150, animals=4))).verdict
        == ("in proportion",) * 2
    )


def test_what_was_offered_may_change() -> None:
    """A zone offered half of the time has half of the availability; using it when it is there is no liking."""
    random = np.random.default_rng(4)
    unit = np.repeat(np.arange(400), 2)
    lit = unit % 2 == 0
    offered = np.where(lit[:, None], [0.5, 0.5], [1.0, 0.0])
    zone = np.where(lit, random.integers(0, 2, unit.size), 0)
    found = zone_use(unit, np.zeros(unit.size, int), zone, np.arange(unit.size), offered)
    np.testing.assert_allclose(found.availability, [0.75, 0.25])
    assert call_zones(found).verdict == ("in proportion", "in proportion")


@settings(max_examples=25, deadline=None)
@given(st.integers(5, 30), st.integers(2, 5), st.integers(1, 3), st.integers(0, 10_000))
def test_verdict_and_limits_never_disagree(sessions: int, zones: int, animals: int, seed: int) -> None:
    """Avoided exactly below one, favoured exactly above; limits hold the ratio; order of zones is nothing."""
    random = np.random.default_rng(seed)
    times = tuple(np.exp(1.2 * random.normal(size=zones)))
    design = Design(
        available=tuple(random.uniform(0.2, 1, zones)), times=times, sessions=sessions, animals=animals
    )
    found = ask(design, seed)
    called = call_zones(found)
    for z in range(zones):
        assert (called.verdict[z] == "avoided") == (found.ratio_high[z] < 1)
        assert (called.verdict[z] == "favoured") == (found.ratio_low[z] > 1)
        if called.verdict[z] == "avoided":
            assert found.used_high[z] < found.availability[z]
    assert (found.ratio_low <= found.ratio + 1e-9).all()
    assert (found.ratio <= found.ratio_high + 1e-9).all()
    assert (found.used_low <= found.used + 1e-9).all()
    assert (found.used <= found.used_high + 1e-9).all()
    np.testing.assert_allclose(found.unseen_low, found.used)


def test_single_step_cutoffs_are_the_test() -> None:
    """Below and above the cut-offs exactly where p is at most 5 %, discrete draws included."""
    random = np.random.default_rng(0)
    called = 0
    for _ in range(300):
        null = random.binomial(9, 0.2, size=(199, 4)) / 9
        used = random.binomial(9, 0.2, size=4) / 9
        found = single_step(null, used)
        outside = (used < found.below) | (used > found.above)
        assert (outside == (found.p <= 0.05)).all()
        low, high = limits_of_test(found, used, np.full(4, 0.2))
        assert (((low > 0.2) | (high < 0.2)) == outside).all()
        called += outside.any()
    assert called / 300 < 0.1


def test_a_zone_hardly_offered_and_never_seen_used_may_be_used_many_times_its_share() -> None:
    """Before, limits ended at what was offered, where the test could not speak: held 45 of 100 at four times it."""
    random = np.random.default_rng(5)
    offer, true, looks = np.array([0.0025, 0.4, 0.5975]), np.array([0.01, 0.4, 0.59]), 60
    null = random.multinomial(looks, offer, 999) / looks
    held = []
    for used in random.multinomial(looks, true, 200) / looks:
        found = single_step(null, used)
        low, high = limits_of_test(found, used, offer)
        assert (((low > offer) | (high < offer)) == (found.p <= 0.05)).all()
        held.append(low[0] <= true[0] <= high[0])
    assert np.mean(held) > 0.93
    # None in 60 looks: of one zone by itself 1 - .025^(1/60) = .0596 is the exact limit.
    _, high = limits_of_test(single_step(null, used * [0, 1, 1]), used * [0, 1, 1], offer)
    assert 0.0596 < high[0] < 0.12


def test_a_redrawn_move_stays_only_where_the_sampler_rejects_it() -> None:
    """Liu 1996: from a to b with chance p_b / max(1 - p_a, 1 - p_b); with .2, .3, .5 all else is .171."""
    offered = np.tile([0.2, 0.3, 0.5], (2, 1))
    bouts = find_bouts(
        np.zeros(2, int),
        np.zeros(2, int),
        np.arange(2),
        np.array([0, 1]),
        np.full(2, 0.5),
        availability=offered,
    )
    null = redraw(bouts, 0.0, 40_000, np.random.default_rng(3))
    moves = 2 * (0.2 * 0.3 / 0.8 + 0.2 * 0.5 / 0.8 + 0.3 * 0.5 / 0.7)
    assert (null.max(axis=1) == 1).mean() == pytest.approx(1 - moves, abs=0.008)


def test_a_redrawn_move_goes_nowhere_else_where_one_zone_is_all_there_is() -> None:
    offered = np.tile([0.0, 1.0], (3, 1))
    bouts = find_bouts(
        np.zeros(3, int),
        np.zeros(3, int),
        np.arange(3),
        np.array([1, 0, 1]),
        np.full(3, 1 / 3),
        availability=offered,
    )
    np.testing.assert_allclose(redraw(bouts, 0.0, 500, np.random.default_rng(3))[:, 1], 1.0)


def test_redrawn_shares_spend_what_was_offered() -> None:
    """The mean of the redraw is the offered share, whatever the bouts."""
    random = np.random.default_rng(2)
    offered = np.tile([0.6, 0.3, 0.1], (40, 1))
    zone = random.integers(0, 3, 40)
    bouts = find_bouts(
        np.zeros(40, int), np.arange(40) // 8, np.arange(40), zone, np.full(40, 1 / 40), availability=offered
    )
    null = redraw(bouts, 0.5, 40_000, random)
    np.testing.assert_allclose(null.mean(axis=0), [0.6, 0.3, 0.1], atol=0.004)
    np.testing.assert_allclose(null.sum(axis=1), 1)


def test_bouts_are_cut_at_sessions_and_linked() -> None:
    """Moved within, found there or returned elsewhere at the next session."""
    zone = np.array([0, 0, 1, 1, 2, 2])
    unit = np.array([0, 0, 0, 1, 2, 2])
    bouts = find_bouts(
        np.zeros(6, int), unit, np.arange(6), zone, np.full(6, 1 / 6), availability=np.full((6, 3), 1 / 3)
    )
    assert bouts.link.tolist() == [0, MOVED, FOUND_THERE, RETURNED]
    np.testing.assert_allclose(bouts.weight * 6, [2, 1, 1, 2])


def test_staying_between_sessions_is_noticed() -> None:
    """Animals that keep their zone overnight are told from those that only meet it again by chance."""
    parts = []
    for carry in (0.0, 0.8):
        columns = simulate(Design(sessions=60, carry=carry), 1, 5).study(0)
        size = columns["zone"].size
        bouts = find_bouts(
            columns["animal"], columns["unit"], columns["order"], columns["zone"],
            np.full(size, 1 / size), availability=np.tile(Design().offered, (size, 1)),
        )  # fmt: skip
        parts.append(kept_between_units(bouts))
    assert parts[0] < 0.6 < 0.9 < parts[1]


def test_more_watching_is_forecast_for_the_undecided_only() -> None:
    """Settled zones need no more; the nearer a zone is to its share, the more is needed."""
    found = ask(Design(sessions=14, animals=3, times=(0.1, 1, 1, 1, 2.5, 1)))
    settled = ~call_zones(found).undecided
    told = sample_size_to_settle(found, ~settled)
    assert np.isnan(told.more[settled]).all()
    assert (told.chance[settled] == 1).all()
    open_ = ~settled & ~np.isnan(told.more)
    assert open_.any()
    assert (told.chance[open_] >= 0.8).all()


def test_a_forecast_counts_by_the_level_that_holds_however_often_one_asks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """At the single look's level fewer sessions would do: what standing costs (docs/methods/looking-often.md)."""
    found = ask(Design(sessions=14, animals=3, times=(0.5, 1, 1, 1, 2, 1)))
    open_ = call_zones(found).undecided
    strict = sample_size_to_settle(found, open_)
    monkeypatch.setattr(sample_size, "level_any_time", lambda units: np.full(np.shape(units), 0.05))
    single = sample_size_to_settle(found, open_)
    both = ~np.isnan(strict.more) & ~np.isnan(single.more)
    more = (14 + strict.more[both]) / (14 + single.more[both])
    assert both.any() and (more >= 1).all() and 1.1 < more.max() < 2.5


@pytest.mark.parametrize(
    ("change", "names"),
    [
        ({"zone": np.array([0, 1, 2])}, "zone"),
        ({"zone": np.array([0.0, 1.0, 1.0])}, "zone"),
        ({"unit": np.array([0, 1])}, "unit"),
        ({"availability": np.zeros(2)}, "availability"),
        ({"availability": np.ones((2, 2))}, "availability"),
        ({"weight": np.array([1, 1, -1])}, "weight"),
        ({"zone": np.array([-1, -1, -1])}, "no moment"),
    ],
)
def test_bad_columns_are_named(change: dict[str, np.ndarray], names: str) -> None:
    """Each wrong column is refused by its name."""
    good = {
        "unit": np.arange(3),
        "animal": np.zeros(3, int),
        "zone": np.array([0, 1, 1]),
        "order": np.arange(3),
    }
    with pytest.raises(ValueError, match=names):
        zone_use(**({"availability": np.ones(2)} | good | change))
