"""What not to believe: each flag on a made-up fault, and none on an honest series."""

from __future__ import annotations

from datetime import UTC, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoneuse.readings.trust import quality as q
from zoneuse.readings.trust.cross_checks import cross_flag, lit_spans
from zoneuse.readings.trust.quality import believed, drier_than_open, flag_series, sees_lamp, swapped_at
from zoneuse.readings.trust.series import Series

STEP = 600_000
HOUR = 3_600_000
DAY = 24 * HOUR


def honest(
    days: int = 4, base: float = 20.0, swing: float = 3.0, seed: int = 1
) -> tuple[np.ndarray, np.ndarray]:
    at = np.arange(0, days * DAY, STEP)
    noise = np.random.default_rng(seed).normal(0, 0.05, len(at))
    return at, np.round(base + swing * np.sin(2 * np.pi * at / DAY) + noise, 2)


def test_an_honest_series_has_no_flags() -> None:
    at, temperature = honest()
    assert not flag_series("temperature_c", at, temperature).any()
    at, humidity = honest(base=75, swing=15)
    assert not flag_series("humidity_pct", at, humidity).any()


def test_impossible_values() -> None:
    at, v = honest()
    v[[5, 9]] = [85.0, -40.0]
    flags = flag_series("temperature_c", at, v)
    assert np.flatnonzero(flags & q.IMPOSSIBLE).tolist() == [5, 9]
    assert np.isnan(believed(v, flags)[[5, 9]]).all() and not np.isnan(believed(v, flags)[4])


def test_saturated_air_is_at_least_that_and_believed() -> None:
    at, v = honest(days=6, base=85, swing=5)
    v[100:700] = 100.0
    v[300] = 101.5
    flags = flag_series("humidity_pct", at, v)
    assert np.flatnonzero(flags & q.CEILING).tolist() == list(range(100, 700))
    assert not (flags & (q.PINNED | q.STUCK)).any()
    assert np.array_equal(believed(v, flags), v)


def test_a_sensor_capped_below_100_has_its_ceiling_there() -> None:
    at, v = honest(days=6, base=85, swing=5)
    v[100:700] = 98.0
    assert np.flatnonzero(flag_series("humidity_pct", at, v) & q.CEILING).tolist() == list(range(100, 700))
    assert not (flag_series("humidity_pct", at, honest(days=6, base=85, swing=12)[1]) & q.CEILING).any()


def test_stuck_at_the_ceiling_only_where_other_evidence_says_so() -> None:
    at = np.arange(0, 6 * DAY, STEP)
    ceiling = np.ones(len(at), np.bool_)
    still, swings = np.full(len(at), 20.0), 22 + 6 * np.sign(np.sin(2 * np.pi * at / DAY))
    assert not q.stuck_at_ceiling(at, ceiling, still, []).any()
    assert q.stuck_at_ceiling(at, ceiling, swings, []).all()
    dry, damp = np.full(len(at), 45.0), np.full(len(at), 80.0)
    assert q.stuck_at_ceiling(at, ceiling, still, [(at, dry)]).all()
    assert not q.stuck_at_ceiling(at, ceiling, still, [(at, dry), (at, damp)]).any()
    assert not q.stuck_at_ceiling(at[:200], ceiling[:200], still[:200], [(at, dry)]).any()


def test_stuck_for_a_day() -> None:
    at, v = honest()
    v[100:246] = 21.3
    assert np.flatnonzero(flag_series("temperature_c", at, v) & q.STUCK).tolist() == list(range(100, 246))


def test_a_coarse_sensor_on_a_still_day_is_not_stuck() -> None:
    at = np.arange(0, 6 * DAY, HOUR)
    v = np.where(at < 2 * DAY, 20.0, np.where(at < 4 * DAY, 20.5, 20.0))
    assert not (flag_series("temperature_c", at, v) & q.STUCK).any()


def test_a_spike_is_one_reading_that_leaps_and_comes_back() -> None:
    at, v = honest()
    v[50] += 12
    v[80:] += 9  # a step that stays is no spike
    assert np.flatnonzero(flag_series("temperature_c", at, v) & q.SPIKE).tolist() == [50]


def test_the_reading_after_a_gap_is_marked_and_believed() -> None:
    at, v = honest()
    at, v = np.delete(at, slice(100, 120)), np.delete(v, slice(100, 120))
    flags = flag_series("temperature_c", at, v)
    assert np.flatnonzero(flags & q.GAP).tolist() == [100]
    assert not np.isnan(believed(v, flags)).any()


@given(st.lists(st.one_of(st.floats(-300, 300), st.just(float("nan"))), max_size=60), st.data())
def test_any_series_gets_one_flag_word_each(values: list[float], data: st.DataObject) -> None:
    at = np.cumsum(
        np.array(
            data.draw(st.lists(st.integers(1, 10**8), min_size=len(values), max_size=len(values))), np.int64
        )
    )
    v = np.array(values)
    for quantity in ("temperature_c", "humidity_pct", "light_lux"):
        flags = flag_series(quantity, at, v)
        assert flags.shape == v.shape and not flags[np.isnan(v)].any()


def _lit(days: int) -> list[tuple[int, int]]:
    return [(d * DAY + 8 * HOUR, d * DAY + 19 * HOUR) for d in range(days)]


def test_a_sensor_that_sees_the_lamp() -> None:
    at, temperature = honest(5)
    _, humidity = honest(5, base=80, swing=2)
    shining = np.zeros(len(at), bool)
    for on, off in _lit(5):
        shining |= (at > on) & (at < off)
    hot = np.where(shining, temperature + 6, temperature)
    dry = np.where(shining, humidity - 20, humidity)
    assert not sees_lamp(at, temperature, humidity, _lit(5)).any()
    seen = sees_lamp(at, hot, dry, _lit(5))
    assert seen[shining].all()
    assert not sees_lamp(at, hot, humidity, _lit(5)).any(), "warmer without drier is another thing"


def test_a_hide_drier_than_the_open_for_hours() -> None:
    at, open_pct = honest(base=60, swing=3)
    hide = open_pct + 20
    assert not drier_than_open(at, hide, at, open_pct).any()
    hide[100:148] = open_pct[100:148] - 12
    assert np.flatnonzero(drier_than_open(at, hide, at, open_pct)).tolist() == list(range(100, 148))
    hide[100:148] = open_pct[100:148] + 20
    hide[100:110] = open_pct[100:110] - 12
    assert not drier_than_open(at, hide, at, open_pct).any(), "an hour or two is no misplacement"


def test_two_loggers_swapped() -> None:
    at, wet = honest(10, base=90, swing=2)
    _, dry = honest(10, base=60, swing=2, seed=2)
    assert swapped_at((at, wet), (at, dry)) is None
    late = at >= 6 * DAY
    assert swapped_at((at, np.where(late, dry, wet)), (at, np.where(late, wet, dry))) == 6 * DAY


def _study(tmp_path: Path) -> object:
    from zoneuse.study.toml.file import load_declaration

    (tmp_path / "study.toml").write_text(
        'format = 1\ntitle = "t"\ntimezone = "UTC"\n[enclosure]\nmeasured_in = "places"\n'
        'lights = {on = "08:00", off = "19:00"}\n'
        '[zones.hide]\nlabel = "Hide"\nkey = "h"\namount = 1\nrole = "retreat"\n'
        '[zones.open]\nlabel = "Open"\nkey = "o"\namount = 1\nrole = "open"\n'
        '[animals.a]\nlabel = "A"\nkey = "1"\n[behaviours.rest]\nlabel = "Rest"\nkey = "r"\nlasts = true\n'
        '[loggers.L1]\nplaced = [{zone = "hide", from = 1970-01-01}]\n'
        '[loggers.L2]\nplaced = [{zone = "open", from = 1970-01-01}]\n'
    )
    return load_declaration(tmp_path)


def _series(logger: str, quantity: str, at: np.ndarray, v: np.ndarray) -> Series:
    return Series(logger, quantity, at, v, flag_series(quantity, at, v))


def test_flags_that_need_all_loggers_reach_their_series(tmp_path: Path) -> None:
    declared = _study(tmp_path)
    at, open_pct = honest(10, base=60, swing=2)
    hide = open_pct + 25
    hide[200:300] = open_pct[200:300] - 15
    loaded = {"L1": {"humidity_pct": _series("L1", "humidity_pct", at, hide)},
              "L2": {"humidity_pct": _series("L2", "humidity_pct", at, open_pct)}}  # fmt: skip
    found = cross_flag(declared, loaded)  # type: ignore[arg-type]
    assert np.flatnonzero(found["L1"]["humidity_pct"].flags & q.DRIER).tolist() == list(range(200, 300))
    assert not (found["L2"]["humidity_pct"].flags & q.DRIER).any()
    assert np.isnan(found["L1"]["humidity_pct"].believed[250])


@pytest.mark.parametrize(("standard", "hour"), [(False, 5), (True, 6)])
def test_a_timer_that_ignores_summer_time(tmp_path: Path, standard: bool, hour: int) -> None:
    from dataclasses import replace

    from zoneuse.study.model import Dated, Lights, Span

    declared = _study(tmp_path)
    lights = (Dated(Span(), Lights(time(7, 30), time(19, 0), standard)),)
    enclosure = replace(declared.enclosures["enclosure"], lights=lights)  # type: ignore[attr-defined]
    vienna = replace(declared, enclosures={"enclosure": enclosure}, timezone=ZoneInfo("Europe/Vienna"))  # type: ignore[type-var]
    noon = int(datetime(2026, 7, 1, 12, tzinfo=UTC).timestamp() * 1000)
    on = [on for on, off in lit_spans(vienna, "enclosure", noon, noon) if on < noon < off]  # type: ignore[arg-type]
    assert on == [int(datetime(2026, 7, 1, hour, 30, tzinfo=UTC).timestamp() * 1000)]
