"""Conditions: what the loggers that lay in a zone could tell at a moment, and nothing where they could not."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.making import TWO_ZONES, scans, session, study_folder, vienna
from zoneuse import open_study
from zoneuse.readings.store.store import PartWriter, commit, new_id
from zoneuse.readings.store.taken import Intake
from zoneuse.readings.trust.moisture import vpd_kpa
from zoneuse.study.clock import to_ms
from zoneuse.study.toml.file import load_declaration
from zoneuse.tables.choices import choices
from zoneuse.tables.conditions import Conditions, conditions
from zoneuse.tables.phases import adjustments

START = vienna("2026-03-01T12:00")


def put_readings(folder: Path, logger: str, minutes: list[float], values: Mapping[str, list[float]]) -> None:
    stamp = np.array([to_ms(START + timedelta(minutes=m)) for m in minutes], np.int64)
    intake = new_id()
    writer = PartWriter(folder, intake, logger, tuple(values))
    writer.write(stamp, {q: np.array(v, float) for q, v in values.items()})
    part = writer.place()
    commit(folder, Intake(intake, f"{logger}.csv", intake * 8, 1, START.isoformat(), (part,), kept=part.rows))


def at(folder: Path, *minutes: float, gap_min: float | None = None) -> Conditions:
    study = open_study(folder)
    times = np.array([to_ms(START + timedelta(minutes=m)) for m in minutes], np.int64)
    gap = None if gap_min is None else int(gap_min * 60_000)
    return conditions(study.declared, times, adjustments(study.journals), gap)


def test_a_condition_is_on_the_line_between_readings_and_exact_at_them(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    put_readings(
        folder, "L1", [0, 10, 20], {"temperature_c": [20.0, 22.0, 21.0], "humidity_pct": [80.0, 70.0, 70.0]}
    )
    found = at(folder, 0, 5, 10, 15, 25, -1)
    assert found.zones == ("moss", "bark")
    moss, bark = found.values["temperature_c"].T
    np.testing.assert_allclose(moss, [20.0, 21.0, 22.0, 21.5, np.nan, np.nan])
    assert np.isnan(bark).all()
    np.testing.assert_allclose(found.values["vpd_kpa"][1, 0], vpd_kpa(21.0, 75.0))


def test_a_gap_longer_than_allowed_stays_a_gap(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    put_readings(folder, "L1", [0, 10, 20, 60, 70], {"temperature_c": [20.0, 20.5, 21.0, 24.0, 24.5]})
    assert np.isnan(at(folder, 30).values["temperature_c"][0, 0])
    assert at(folder, 30, gap_min=40).values["temperature_c"][0, 0] == pytest.approx(21.75)


def test_a_logger_tells_of_a_zone_only_while_it_lay_there(tmp_path: Path) -> None:
    moved = TWO_ZONES.replace(
        'placed = [{zone = "moss"}]',
        'placed = [{zone = "moss", until = 2026-03-01T12:15:00}, {zone = "bark", from = 2026-03-01T12:15:00}]',
    ).replace('placed = [{zone = "bark"}]', 'placed = [{zone = "bark", until = 2026-01-01}]')
    folder = study_folder(tmp_path, moved)
    put_readings(folder, "L1", [0, 10, 20, 30], {"temperature_c": [20.0, 20.0, 26.0, 26.0]})
    found = at(folder, 5, 12, 17, 25).values["temperature_c"]
    np.testing.assert_allclose(found[:, 0], [20.0, np.nan, np.nan, np.nan])
    np.testing.assert_allclose(found[:, 1], [np.nan, np.nan, np.nan, 26.0])


def test_nothing_is_joined_across_a_change_to_the_zone(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    put_readings(folder, "L1", [0, 10, 20, 30], {"temperature_c": [20.0, 20.0, 16.0, 16.0]})
    put_readings(folder, "L2", [0, 10, 20, 30], {"temperature_c": [20.0, 20.0, 16.0, 16.0]})
    journal = session(folder, START, method="record")
    journal.append("adjusted", START + timedelta(minutes=15), adjustment="w", what="water", zones=["moss"])
    journal.close()
    found = at(folder, 5, 13, 17, 25).values["temperature_c"]
    np.testing.assert_allclose(found[:, 0], [20.0, np.nan, np.nan, 16.0])
    np.testing.assert_allclose(found[:, 1], [20.0, 18.8, 17.2, 16.0])


def test_two_loggers_in_a_zone_give_their_mean(tmp_path: Path) -> None:
    folder = study_folder(
        tmp_path, TWO_ZONES.replace('placed = [{zone = "bark"}]', 'placed = [{zone = "moss"}]')
    )
    put_readings(folder, "L1", [0, 10], {"temperature_c": [20.0, 20.0]})
    put_readings(folder, "L2", [0, 10, 20], {"temperature_c": [22.0, 22.0, 22.0]})
    np.testing.assert_allclose(at(folder, 5, 15).values["temperature_c"][:, 0], [21.0, 22.0])


def test_a_wrong_clock_is_put_right_on_the_way_out(tmp_path: Path) -> None:
    clock = 'placed = [{zone = "moss"}]\nclock = [{true = 2026-03-01T12:00:00, shown = 2026-03-01T13:00:00}]'
    folder = study_folder(tmp_path, TWO_ZONES.replace('placed = [{zone = "moss"}]', clock))
    put_readings(folder, "L1", [60, 70], {"temperature_c": [20.0, 21.0]})
    np.testing.assert_allclose(at(folder, 0, 10).values["temperature_c"][:, 0], [20.0, 21.0])


@settings(max_examples=50, deadline=None)
@given(
    readings=st.dictionaries(st.integers(0, 300), st.floats(5, 35), min_size=2, max_size=25),
    asked=st.lists(st.floats(-10, 310), min_size=1, max_size=15),
)
def test_joins_agree_with_a_plain_line_and_do_not_depend_on_the_order_asked(
    readings: dict[int, float], asked: list[float], tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = study_folder(tmp_path_factory.mktemp("joins"))
    minutes = sorted(readings)
    put_readings(folder, "L1", [float(m) for m in minutes], {"light_lux": [readings[m] for m in minutes]})
    found = at(folder, *asked, gap_min=60).values["light_lux"][:, 0]
    again = at(folder, *asked[::-1], gap_min=60).values["light_lux"][::-1, 0]
    np.testing.assert_array_equal(found, again)
    for minute, value in zip(asked, found, strict=True):
        # Whole milliseconds, and half of one may go either way: 0.25 thousandths at the steepest line here.
        minute = round(minute * 60_000) / 60_000
        before = max((m for m in minutes if m <= minute), default=None)
        after = min((m for m in minutes if m >= minute), default=None)
        if before is None or after is None or after - before > 60:
            assert np.isnan(value)
        else:
            assert value == pytest.approx(
                np.interp(minute, minutes, [readings[m] for m in minutes]), abs=1e-3
            )


def test_choices_set_use_against_every_zone_there_then(tmp_path: Path) -> None:
    lit = TWO_ZONES.replace("amount = 100", 'amount = 100\ncover = 0.5\ndaily = ["08:00", "18:00"]')
    folder = study_folder(tmp_path, lit)
    for clock, rows in (("12:00", [("moss",), ("bark",)]), ("20:00", [("moss",), ("bark",), (None,)])):
        scans(folder, f"2026-03-01T{clock}", rows)
    found = choices(load_declaration(folder), open_study(folder).moments)
    # By day both are there, 3 to 1; at night the bark is not, unless the animal is on it.
    np.testing.assert_allclose(found.availability, [[0.75, 0.25], [0.75, 0.25], [1, 0], [0.75, 0.25]])
    assert found.chosen.tolist() == [0, 1, 0, 1]
    assert np.isnan(found.cover[:, 0]).all()
    assert (found.cover[:, 1] == 0.5).all()


def test_a_changed_amount_counts_from_its_date(tmp_path: Path) -> None:
    dated = TWO_ZONES.replace(
        "amount = 100", "amount = [{until = 2026-03-02, is = 100}, {from = 2026-03-02, is = 300}]"
    )
    folder = study_folder(tmp_path, dated)
    for day in ("01", "02"):
        scans(folder, f"2026-03-{day}T12:00", [("moss",)])
    np.testing.assert_allclose(
        choices(load_declaration(folder), open_study(folder).moments).availability[:, 1], [0.25, 0.5]
    )


def test_the_time_of_a_row_is_its_own(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    scans(folder, "2026-03-29T01:58", [("moss",)] * 4)
    seen = open_study(folder).moments["at"]
    assert [t.to_pydatetime() - seen[0].to_pydatetime() for t in seen] == [
        timedelta(minutes=m) for m in range(4)
    ]
    assert isinstance(seen[0].to_pydatetime(), datetime)
