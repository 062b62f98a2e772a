"""Spells instead of days, and whether a step is the best account of a series."""

from __future__ import annotations

import numpy as np
import pytest

from zoneuse.stats.resampling.permutation import permute_phases
from zoneuse.stats.resampling.spells import LASTS, PERSISTS, spell_change
from zoneuse.stats.time_series.steady_sides import steady_sides


def counts_of(home: np.ndarray, zones: int = 3) -> np.ndarray:
    """Units x animals x zones with all moments in one place a day; ``home`` is units x animals."""
    return np.eye(zones)[home] * 10


def test_days_that_never_repeat_are_as_many_spells_and_p_is_near_the_exchange() -> None:
    random = np.random.default_rng(1)
    home = np.stack([random.permutation(np.tile([0, 1, 2], 8)) for _ in range(1)], axis=1)
    late = np.arange(24) >= 12
    found = spell_change(counts_of(home), late)
    plain = permute_phases(counts_of(home)[:, 0] / 10, late)
    assert found.persists < PERSISTS
    assert np.abs(np.log(found.p.clip(0.01) / plain.p.clip(0.01))).max() < 1.2


def test_two_that_share_a_home_tell_as_much_as_one() -> None:
    home = np.repeat([0, 1, 0, 2, 1, 2, 0, 1], 4)
    late = np.arange(32) >= 16
    one = spell_change(counts_of(home[:, None]), late)
    both = spell_change(counts_of(np.stack([home, home], axis=1)), late)
    np.testing.assert_allclose(both.p, one.p, atol=1e-9)
    assert both.spells == 2 * one.spells == 16


def test_a_day_without_sightings_goes_on_with_the_spell() -> None:
    counts = counts_of(np.repeat([0, 1], 6)[:, None])
    counts[3] = 0
    assert spell_change(counts, np.arange(12) >= 6).spells == 2


def _days(random: np.random.Generator, keeps: float, share: np.ndarray) -> np.ndarray:
    """Main places of three animals by day (share: days x zones): kept from the day before with a chance, else drawn."""
    home = np.array([[random.choice(share.shape[1], p=day) for _ in range(3)] for day in share])
    for day in range(1, len(home)):
        home[day] = np.where(random.random(3) < keeps, home[day - 1], home[day])
    return home


def test_stays_that_reach_into_the_next_day_now_and_then_do_not_hide_a_change() -> None:
    """Days in a row in one place are mostly chosen one by one; taken as one, they hid the change."""
    random, late = np.random.default_rng(3), np.arange(40) >= 20
    share = np.where(late[:, None], [0.2, 0.2, 0.15, 0.45], [0.35, 0.3, 0.2, 0.15])
    brief, spells = [], []
    for _ in range(30):
        found = spell_change(counts_of(_days(random, 0.25, share), 4), late)
        brief.append(found.must_agree(False)[3] <= 0.05)
        spells.append(found.p[3] <= 0.05)
    assert np.mean(brief) >= 0.6 > 0.45 >= np.mean(spells)


def test_homes_of_ten_days_count_as_spells() -> None:
    found = spell_change(counts_of(np.repeat([0, 1, 0, 2, 1, 2, 0, 1], 5)[:, None]), np.arange(40) >= 20)
    assert found.lasts > LASTS and found.persists > PERSISTS
    np.testing.assert_array_equal(found.must_agree(True), found.p)
    assert (found.p_brief <= found.p + 1e-12).all()


def test_phases_without_units_are_refused() -> None:
    with pytest.raises(ValueError, match="both phases"):
        spell_change(np.ones((4, 1, 2)), np.zeros(4, bool))


def test_the_best_break_is_that_of_trying_all() -> None:
    """Twenty lines that try every split, against the sums in one pass."""
    random = np.random.default_rng(4)
    for _ in range(200):
        n, start = int(random.integers(8, 30)), 0
        start = int(random.integers(3, n - 3))
        y = random.normal(size=n) + (np.arange(n) >= random.integers(1, n)) * random.normal()
        late = np.arange(n) >= start

        def squares(k: int, y: np.ndarray = y) -> float:
            return float(((y[:k] - y[:k].mean()) ** 2).sum() + ((y[k:] - y[k:].mean()) ** 2).sum())

        tried = {k: squares(k) for k in range(2, n - 1)}
        best = min(tried, key=lambda k: tried[k])
        found = steady_sides(y, late)
        assert found.breaks == best - start
        assert found.break_gain == pytest.approx(n * np.log(tried[start] / tried[best]), abs=1e-6)


def test_a_line_and_a_wave_are_no_steady_step() -> None:
    t = np.arange(40.0)
    late = t >= 20
    noise = np.random.default_rng(2).normal(0, 0.3, 40)
    assert not steady_sides(t / 10 + noise, late).holds
    assert not steady_sides(2 * np.sin(t / 6) + noise, late).holds
    assert steady_sides(3 * late + noise, late).holds
