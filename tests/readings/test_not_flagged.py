"""What must not be flagged: conditions that cross, and two recordings mixed into one series."""

from __future__ import annotations

import numpy as np

from zoneuse.readings.trust.quality import SPIKE, flag_series, swapped_at

HOUR = 3_600_000
TIMES = np.arange(0, 30 * 24) * HOUR


def noisy(values: np.ndarray) -> np.ndarray:
    return values + np.random.default_rng(1).normal(0, 0.2, len(values))


def test_loggers_that_changed_places_are_found() -> None:
    dry, damp = np.full(len(TIMES), 70.0), np.full(len(TIMES), 80.0)
    late = np.arange(len(TIMES)) >= 15 * 24
    first, second = noisy(np.where(late, damp, dry)), noisy(np.where(late, dry, damp))
    at = swapped_at((TIMES, first), (TIMES, second))
    assert at is not None
    assert abs(at - 15 * 24 * HOUR) <= 24 * HOUR


def test_a_hide_that_gets_damper_while_another_dries_is_no_swap() -> None:
    drying = noisy(85 - np.arange(len(TIMES)) / 48)
    moved = noisy(np.where(np.arange(len(TIMES)) >= 15 * 24, 83.0, 74.0))
    assert swapped_at((TIMES, moved), (TIMES, drying)) is None


def test_one_leap_is_a_spike_and_two_mixed_recordings_are_not() -> None:
    minutes = np.arange(200) * 60_000
    single = np.full(200, 25.0)
    single[100] = 40.0
    assert np.flatnonzero(flag_series("temperature_c", minutes, single) & SPIKE).tolist() == [100]
    mixed = np.where(np.arange(200) % 2, 25.0, 40.0)
    assert not (flag_series("temperature_c", minutes, mixed) & SPIKE).any()
