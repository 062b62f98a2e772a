"""Rates and differences against published and independent values."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from zoneuse.stats.intervals.differences import difference_of_shares
from zoneuse.stats.intervals.rates import event_rate
from zoneuse.stats.intervals.shares import wilson


@pytest.mark.parametrize("events", [0, 1, 10, 57])
def test_a_rate_of_one_session_has_exact_poisson_limits(events: int) -> None:
    # Independent: chi-square quantiles (Garwood 1936).
    rate = event_rate([events], [4.0])
    low = stats.chi2.ppf(0.025, 2 * events) / 2 if events else 0.0
    assert (rate.low * 4, rate.high * 4) == pytest.approx((low, stats.chi2.ppf(0.975, 2 * events + 2) / 2))
    assert rate.per_hour == events / 4


def test_events_that_come_in_clusters_widen_the_limits() -> None:
    even, clustered = event_rate([2] * 10, [1.0] * 10), event_rate([20] + [0] * 9, [1.0] * 10)
    assert even.per_hour == clustered.per_hour == 2
    assert even.dispersion == 1
    assert clustered.dispersion > 10
    assert clustered.low < even.low < even.high < clustered.high


def test_rates_hold_what_they_promise_for_clustered_events() -> None:
    rng = np.random.default_rng(5)
    covered = 0
    for _ in range(400):
        rate = event_rate(rng.negative_binomial(1.0, 0.25, 30), np.ones(30))  # mean 3, variance 12
        covered += rate.low <= 3 <= rate.high
    assert 0.91 <= covered / 400 <= 0.99


def test_newcombes_difference_of_two_shares() -> None:
    # 56/70 - 48/80: Newcombe 1998, Stat. Med. 17:873, method 10, prints .0524 to .3339 (digits from memory).
    parts = []
    for count, looks in ((48, 80), (56, 70)):
        low, high = wilson(count, looks)
        parts.append((count / looks, float(low), float(high)))
    found = difference_of_shares(*parts)
    assert [float(v) for v in found] == pytest.approx([0.2, 0.0524, 0.3339], abs=5e-5)
