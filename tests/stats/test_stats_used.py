"""What was used over animals, daily rhythms and curves that bend, each against a second way to the number."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from zoneuse.answers.preference.shape import bears_out
from zoneuse.stats.choice.flexible import flexible_curve
from zoneuse.stats.choice.turned import sessions_turned
from zoneuse.stats.choice.used import mean_limits, used_by_animal, weighted_quantiles
from zoneuse.stats.time_series.cosinor import cosine_fit, covers_the_day, population_cosinor

AT = [0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0]


def test_quantiles_by_counts_are_those_of_the_values_written_out() -> None:
    random = np.random.default_rng(1)
    for _ in range(1000):
        size = int(random.integers(1, 12))
        values, counts = random.normal(size=size), random.integers(0, 6, size)
        if not counts.sum():
            assert np.isnan(weighted_quantiles(values, counts, AT)).all()
            continue
        out = np.quantile(np.repeat(values, counts), AT)
        assert weighted_quantiles(values, counts, AT) == pytest.approx(out)


def test_negative_weights_are_refused() -> None:
    with pytest.raises(ValueError, match="weight"):
        weighted_quantiles([1.0], [-1.0], [0.5])


def test_animals_count_once_however_often_they_were_seen() -> None:
    found = used_by_animal([20.0] * 90 + [30.0] * 2, np.ones(92), np.repeat([0, 1], [90, 2]))
    assert found.mean.mean() == 25.0
    assert np.isnan(mean_limits([3.0])).all()


def test_limits_of_a_mean_are_those_of_statsmodels() -> None:
    values = np.random.default_rng(2).normal(30, 2, 9)
    low, high = sm.OLS(values, np.ones(9)).fit().conf_int()[0]
    assert mean_limits(values) == pytest.approx((low, high))


def test_a_cosinor_is_the_least_squares_of_statsmodels() -> None:
    random = np.random.default_rng(3)
    for _ in range(200):
        hours = random.uniform(0, 24, 40)
        values = 25 + random.normal(size=40) + np.cos((hours - 7) / 24 * 2 * np.pi)
        turn = hours / 24 * 2 * np.pi
        ols = sm.OLS(values, np.column_stack([np.ones(40), np.cos(turn), np.sin(turn)])).fit()
        assert cosine_fit(hours, values) == pytest.approx(ols.params)


def test_a_rhythm_over_units_is_found_with_its_hour() -> None:
    random = np.random.default_rng(8)
    hours, unit = np.tile(np.arange(24.0), 12), np.repeat(np.arange(12), 24)
    values = 28 + 1.5 * np.cos((hours - 22) / 24 * 2 * np.pi) + random.normal(0, 0.5, hours.size)
    found = population_cosinor(hours, values, unit)
    assert found is not None and found.units == 12
    assert found.amplitude_low <= 1.5 <= found.amplitude_high
    assert found.acrophase_low <= 22 <= found.acrophase_high
    assert found.p < 0.001


def test_no_rhythm_has_no_crest_and_hours_that_leave_half_the_day_have_none() -> None:
    random = np.random.default_rng(5)
    hours, unit = np.tile(np.arange(24.0), 8), np.repeat(np.arange(8), 24)
    found = population_cosinor(hours, random.normal(size=hours.size), unit)
    assert found is not None and found.p > 0.05
    assert found.amplitude_low == 0 and np.isnan(found.acrophase_low)
    assert not covers_the_day(np.arange(8.0, 18.0))
    assert population_cosinor([8.0, 9.0, 10.0], [1.0, 2.0, 3.0], [0, 0, 0]) is None


def static(odds: np.ndarray, sessions: int, seed: int) -> dict[str, np.ndarray]:
    """One choice table: zones of 20 .. 32 °C that never change (but for sensors' noise), ten looks a session."""
    random = np.random.default_rng(seed)
    zones, looks = odds.size, 10
    warmth = np.linspace(20, 32, zones)
    chance = np.exp(odds) / np.exp(odds).sum()
    took = random.choice(zones, size=sessions * looks, p=chance)
    moment = np.repeat(np.arange(sessions * looks), zones)
    zone = np.tile(np.arange(zones), sessions * looks)
    values = np.tile(warmth, sessions * looks) + random.normal(0, 0.01, moment.size)
    return {
        "values": values, "moment": moment, "zone": zone, "chosen": zone == took[moment],
        "offset": np.zeros(moment.size), "cluster": moment // looks,
    }  # fmt: skip


def bend(table: dict[str, np.ndarray], most: int = 2):
    columns = (table[k] for k in ("moment", "chosen", "offset"))
    others = np.zeros((table["values"].size, 0))
    return flexible_curve(table["values"], others, *columns, cluster=table["cluster"], most=most)


def test_two_tops_are_no_parabola_and_a_parabola_is_one() -> None:
    two = bend(static(np.array([0.0, 1.5, 0.0, -1.0, 1.0]), 40, 1))
    assert two is not None and two.p < 0.001 and two.top is None
    warmth = np.linspace(20, 32, 5)
    false = [bend(static(-((warmth - 26) ** 2) / 18, 30, seed)) for seed in range(60)]
    assert np.mean([f is not None and f.p <= 0.05 for f in false]) <= 0.12
    assert np.mean([f is not None and f.top is not None and abs(f.top - 26) < 2 for f in false]) > 0.8


def test_one_side_avoided_and_the_rest_alike_is_a_threshold() -> None:
    found = bend(static(np.array([0.9, 1.0, 1.0, 1.0, 0.8, -1.8]), 60, 2), most=3)
    assert found is not None and found.threshold == "high"


def test_sessions_turned_round_part_a_preference_from_the_places() -> None:
    warmth = np.linspace(20, 32, 5)
    found = sessions_turned(**static(-((warmth - 26) ** 2) / 8, 20, 3), bears_out=bears_out)
    assert found.sessions is not None and found.sessions <= 12 and found.chance >= 0.8
    weak = sessions_turned(**static(-((warmth - 26) ** 2) / 4000, 8, 3), bears_out=bears_out, studies=10)
    assert weak.sessions is None or weak.sessions > found.sessions
