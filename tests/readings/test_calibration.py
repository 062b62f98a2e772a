"""Salt points and clocks: Greenspan's fixed points, gains and offsets, drift."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoneuse.readings.trust.calibration import (
    calibrate,
    checks_of,
    correct_clock,
    correct_humidity,
    drift_s_per_day,
    side_by_side,
)  # fmt: skip
from zoneuse.readings.trust.salts import salt_humidity_pct
from zoneuse.study.model import ClockCheck, SaltPoint

# CHECK_VALUES 7.4: the polynomials at 5, 10 … 40 C (computed there); NaBr from Greenspan's table, whose
# values above 25 C are from memory (status c).
TABLE = {
    "LiCl": [11.268, 11.293, 11.308, 11.311, 11.304, 11.286, 11.258, 11.218],
    "CH3COOK": [None, 23.389, 23.404, 23.113, 22.516, 21.612, None, None],
    "MgCl2": [33.601, 33.480, 33.304, 33.073, 32.788, 32.448, 32.054, 31.606],
    "K2CO3": [43.139, 43.146, 43.154, 43.161, 43.168, 43.176, None, None],
    "NaBr": [63.5, 62.2, 60.7, 59.1, 57.6, 56.03, 54.55, 53.17],
    "NaCl": [75.653, 75.678, 75.613, 75.479, 75.298, 75.091, 74.880, 74.685],
    "KCl": [87.675, 86.776, 85.921, 85.112, 84.348, 83.629, 82.954, 82.325],
    "KNO3": [96.271, 95.964, 95.414, 94.623, 93.589, 92.313, 90.794, 89.033],
    "K2SO4": [98.484, 98.189, 97.893, 97.598, 97.303, 97.008, 96.712, 96.417],
}
ON = date(2026, 2, 20)


@pytest.mark.parametrize("salt", TABLE)
def test_fixed_points(salt: str) -> None:
    for at_c, value in zip(range(5, 45, 5), TABLE[salt], strict=True):
        if value is not None:
            assert salt_humidity_pct(salt, at_c) == pytest.approx(value, abs=1.5e-3)


# Greenspan's printed two-decimal table, seen in a public test file (CHECK_VALUES 7.4): tolerance 0.02.
@pytest.mark.parametrize(
    ("salt", "at_c", "pct"),
    [("NaCl", 25, 75.29), ("MgCl2", 25, 32.78), ("LiCl", 0, 11.23), ("MgCl2", 0, 33.66), ("NaCl", 0, 75.51),
     ("LiCl", 25, 11.30), ("K2CO3", 25, 43.16), ("CH3COOK", 25, 22.51)],
)  # fmt: skip
def test_greenspans_printed_table(salt: str, at_c: float, pct: float) -> None:
    assert salt_humidity_pct(salt, at_c) == pytest.approx(pct, abs=0.02)


def test_unknown_salts_and_temperatures_are_refused() -> None:
    with pytest.raises(ValueError, match="not one of the salts"):
        salt_humidity_pct("sugar", 20)
    with pytest.raises(ValueError, match="between 10 and 30"):
        salt_humidity_pct("CH3COOK", 35)


# CHECK_VALUES 7.4 works these two with printed true values (33.07/75.47, 11.30/75.29), which differ from the
# polynomials by up to 0.009 %: the tolerances follow from that.
@pytest.mark.parametrize(
    ("points", "gain", "offset", "readings"),
    [
        ([("MgCl2", 20, 36.0), ("NaCl", 20, 73.0)], 1.1459459, -8.1840541, {50: 49.1132432, 90: 94.9510811}),
        ([("LiCl", 25, 13.5), ("NaCl", 25, 78.1)], 0.9905573, -2.0725232, {60: 57.3609133}),
    ],
)
def test_two_points_give_gain_and_offset(points: list, gain: float, offset: float, readings: dict) -> None:
    made = calibrate([SaltPoint(s, t, shown, ON) for s, t, shown in points])
    assert made.gain == pytest.approx(gain, abs=3e-4)
    assert made.offset == pytest.approx(offset, abs=0.02)
    for shown, true in readings.items():
        assert made.apply(np.array([float(shown)]))[0] == pytest.approx(true, abs=0.02)


def test_one_point_gives_an_offset_only() -> None:
    made = calibrate([SaltPoint("NaCl", 20.0, 78.2, ON)])
    assert (made.gain, round(made.offset, 3)) == (1.0, -2.721)


def test_points_too_near_each_other_give_no_gain() -> None:
    made = calibrate([SaltPoint("NaCl", 20.0, 78.0, ON), SaltPoint("KCl", 20.0, 89.5, ON)])
    assert made.gain == 1.0 and "too near" in made.cautions[0]


@given(st.floats(0.8, 1.2), st.floats(-8, 8), st.lists(st.floats(20, 90), min_size=1, max_size=20))
def test_a_sensor_of_known_fault_is_put_right(gain: float, offset: float, true: list[float]) -> None:
    def shown(pct: float) -> float:
        return (pct - offset) / gain

    points = [SaltPoint(s, 20.0, shown(salt_humidity_pct(s, 20.0)), ON) for s in ("LiCl", "NaCl")]
    truth = np.array(true)
    corrected = calibrate(points).apply(np.array([shown(p) for p in true]))
    assert np.allclose(corrected, truth, atol=1e-6)


def test_the_nearest_check_in_time_counts_and_old_ones_are_said() -> None:
    points = [
        SaltPoint("NaCl", 20.0, 77.5, date(2026, 1, 1)),
        SaltPoint("NaCl", 20.0, 80.5, date(2026, 3, 1)),
    ]
    assert len(checks_of(points)) == 2
    at = [datetime(2026, m, 1, tzinfo=UTC).timestamp() * 1000 for m in (1, 3, 12)]
    corrected, cautions = correct_humidity(np.array(at, np.int64), np.array([80.0, 80.0, 80.0]), points)
    assert corrected.tolist() == pytest.approx([77.98, 74.98, 74.98], abs=0.01)
    assert len(cautions) == 1 and cautions[0].startswith("1 readings lie more than 180 days")


def test_readings_outside_the_points_are_said() -> None:
    points = [SaltPoint("MgCl2", 20.0, 33.0, ON), SaltPoint("NaCl", 20.0, 75.5, ON)]
    at = np.full(3, int(datetime(2026, 2, 21, tzinfo=UTC).timestamp() * 1000))
    _, cautions = correct_humidity(at, np.array([50.0, 95.0, 10.0]), points)
    assert any("2 readings lie outside the salt points" in c for c in cautions)


def test_corrected_humidity_stays_within_0_and_100() -> None:
    corrected, _ = correct_humidity(np.array([0]), np.array([99.5]), [SaltPoint("NaCl", 20.0, 70.0, ON)])
    assert corrected.tolist() == [100.0]


START = datetime(2026, 3, 1, tzinfo=UTC)


def _ms(at: datetime) -> int:
    return int(at.timestamp() * 1000)


def test_one_clock_check_shifts_and_two_take_the_drift_out() -> None:
    fast = ClockCheck(START, START + timedelta(seconds=130))
    assert correct_clock(np.array([_ms(START + timedelta(days=9))]), [fast])[0] == _ms(
        START + timedelta(days=9, seconds=-130)
    )
    later = START + timedelta(days=10)
    checks = [fast, ClockCheck(later, later + timedelta(seconds=230))]
    assert drift_s_per_day(checks) == pytest.approx(10.0)
    middle = START + timedelta(days=5)
    shown = np.array([_ms(middle + timedelta(seconds=180)), _ms(later + timedelta(days=10, seconds=330))])
    true = np.array([_ms(middle), _ms(later + timedelta(days=10))])
    assert np.abs(correct_clock(shown, checks) - true).max() <= 50  # the drift's own drift: under 50 ms


@given(st.floats(-600, 600), st.floats(-900, 900))
def test_clock_checks_themselves_come_out_true(first: float, second: float) -> None:
    later = START + timedelta(days=7)
    checks = [
        ClockCheck(START, START + timedelta(seconds=first)),
        ClockCheck(later, later + timedelta(seconds=second)),
    ]
    shown = np.array([_ms(c.shown) for c in checks])
    assert np.abs(correct_clock(shown, checks) - [_ms(START), _ms(later)]).max() <= 2


def test_loggers_lying_together_are_compared() -> None:
    at = np.arange(100) * 600_000
    truth = 20 + np.sin(at / 1e7)
    found = side_by_side(
        "temperature_c",
        {"a": (at, truth + 0.3), "b": (at + 60_000, np.interp(at + 60_000, at, truth) - 0.3)},
        1_200_000,
    )
    assert found is not None
    assert found.offsets["a"] == pytest.approx(0.3, abs=0.01) and found.spread == pytest.approx(0.6, abs=0.02)
    assert side_by_side("temperature_c", {"a": (at, truth)}, 1_200_000) is None
