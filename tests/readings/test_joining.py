"""The join of readings to moments: exact at readings, straight between, nothing across gaps and breaks."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from zoneuse.readings.trust.joining import default_max_gap_ms, interpolate

TIMES = st.lists(st.integers(-(10**12), 10**13), min_size=1, max_size=40, unique=True).map(sorted)


@st.composite
def series(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    times = np.array(draw(TIMES), np.int64)
    values = draw(st.lists(st.floats(-50, 150), min_size=len(times), max_size=len(times)))
    return times, np.array(values)


@given(series(), st.integers(0, 10**9), st.data())
def test_equals_numpy_interp_with_a_gap_mask(
    given_series: tuple[np.ndarray, np.ndarray], gap: int, data: st.DataObject
) -> None:
    times, values = given_series
    low, high = int(times[0]) - 1000, int(times[-1]) + 1000
    moments = np.array(data.draw(st.lists(st.integers(low, high), max_size=30)), np.int64)
    ours = interpolate(moments, times, values, gap)
    for at, value in zip(moments, ours, strict=True):
        after = int(np.searchsorted(times, at))
        if after < len(times) and times[after] == at:
            assert value == values[after]
        elif 0 < after < len(times) and times[after] - times[after - 1] <= gap:
            # Relative to the first reading, so that numpy's floats hold the milliseconds exactly.
            line = np.interp(float(at - times[after - 1]), [0.0, float(times[after] - times[after - 1])],
                             values[after - 1 : after + 1])  # fmt: skip
            assert np.isclose(value, line, rtol=1e-9, atol=1e-9)
        else:
            assert np.isnan(value)


@given(series())
def test_exact_at_the_readings_whatever_the_gap(given_series: tuple[np.ndarray, np.ndarray]) -> None:
    times, values = given_series
    assert np.array_equal(interpolate(times, times, values, 0), values)
    assert np.array_equal(interpolate(times, times, values, 0, [int(times[0])]), values)


@given(series(), st.data())
def test_never_across_a_break(given_series: tuple[np.ndarray, np.ndarray], data: st.DataObject) -> None:
    times, values = given_series
    cut = data.draw(st.integers(int(times[0]), int(times[-1])))
    moments = np.array(data.draw(st.lists(st.integers(int(times[0]), int(times[-1])), max_size=20)), np.int64)
    broken = interpolate(moments, times, values, 10**14, [cut])
    before, after = times < cut, times >= cut
    apart = np.where(
        moments < cut,
        interpolate(moments, times[before], values[before], 10**14),
        interpolate(moments, times[after], values[after], 10**14),
    )
    assert np.array_equal(broken, apart, equal_nan=True)


def test_a_missing_reading_is_passed_over() -> None:
    times = np.array([0, 10, 20], np.int64)
    values = np.array([1.0, np.nan, 3.0])
    assert interpolate(np.array([10]), times, values, 20).tolist() == [2.0]
    assert np.isnan(interpolate(np.array([10]), times, values, 19)).all()


def test_blocks_make_no_difference() -> None:
    rng = np.random.default_rng(4)
    times = np.cumsum(rng.integers(1, 9, 5_000)).astype(np.int64)
    values = rng.normal(size=5_000)
    moments = rng.integers(-5, times[-1] + 5, 40_000)
    whole = interpolate(moments, times, values, 6)
    parts = np.concatenate([interpolate(m, times, values, 6) for m in np.array_split(moments, 97)])
    assert np.array_equal(whole, parts, equal_nan=True)


def test_no_readings_give_no_values() -> None:
    none = np.empty(0)
    assert np.isnan(interpolate(np.array([5]), none.astype(np.int64), none, 10)).all()


def test_the_default_gap_follows_the_loggers_step() -> None:
    assert default_max_gap_ms(np.arange(5) * 600_000) == 30 * 60_000
    assert default_max_gap_ms(np.arange(5) * 3_600_000) == 120 * 60_000
    assert default_max_gap_ms(np.array([7])) == 30 * 60_000
