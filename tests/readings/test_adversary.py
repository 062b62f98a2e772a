"""Layouts thought out against the reader, by hand: what went in wrong without a word is asked, refused or right."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from zoneuse.readings.layout import Hints, UndecidedError
from zoneuse.readings.read.intake import Staged, stage
from zoneuse.study.problems import ProblemError

from .intaking import VIENNA, stored, take_in, values

AT = [datetime(2026, 6, 3, 8, 0) + i * timedelta(minutes=10) for i in range(60)]
HEAD = "Time,Temp (C),RH (%)"
Cells = Callable[[int], str]


def rows(cells: Cells, first: int = 0, end: int = 60) -> str:
    return "".join(cells(i) + "\n" for i in range(first, end))


def plain(i: int) -> str:
    return f"{AT[i]:%Y-%m-%d %H:%M},{celsius(i)},{humid(i)}"


def celsius(i: int) -> float:
    return round(20 + i * 7 % 13 / 10, 1)


def humid(i: int) -> float:
    return round(60 + i * 11 % 17, 1)


def said(folder: Path, text: str | bytes, **hints: Any) -> str:
    """What a file is refused or asked about; fails where it goes in."""
    with pytest.raises((UndecidedError, ProblemError)) as error:
        take_in(folder, text, **hints)
    return str(error.value)


def with_zone(folder: Path, text: str, zone: tzinfo) -> Staged:
    """The file as it is read with --tz."""
    (folder / "L1.csv").write_text(text)
    staged = stage(folder, folder / "L1.csv", ["L1"], VIENNA, Hints(zone=zone), intaken=[])
    staged.discard()
    return staged


# --- a column more or less from one line on -----------------------------------------------------------------
@pytest.mark.parametrize("last", ["2.80 V", "ok", ""])
def test_a_column_that_comes_in_within_the_first_lines(tmp_path: Path, last: str) -> None:
    def wider(i: int) -> str:
        at, *rest = plain(i).split(",")
        return ",".join([at, "9.9", *rest, last])

    text = f"{HEAD},Status\n" + rows(lambda i: f"{plain(i)},{last}", 0, 40) + rows(wider, 40)
    assert "other columns begin here" in said(tmp_path, text)


@pytest.mark.parametrize("last", ["2.80 V", "ok", ""])
def test_a_column_that_comes_in_far_down_is_refused_row_by_row(tmp_path: Path, last: str) -> None:
    def at(i: int) -> str:
        return f"{AT[0] + i * timedelta(minutes=10):%Y-%m-%d %H:%M}"

    text = f"{HEAD},Status\n" + rows(lambda i: f"{at(i)},20.5,66.0,{last}", 0, 1500)
    text += rows(lambda i: f"{at(i)},9.9,20.5,66.0,{last}", 1500, 1600)
    staged = take_in(tmp_path, text)
    assert staged.kept == 1500 and staged.counts.refused_count == 100
    assert set(values(stored(tmp_path), "temperature_c")) == {20.5}


@pytest.mark.parametrize("upto", [40, 1500])
def test_a_column_that_goes(tmp_path: Path, upto: int) -> None:
    def at(i: int) -> str:
        return f"{AT[0] + i * timedelta(minutes=10):%Y-%m-%d %H:%M}"

    text = "Time,Dew point (C),Temp (C),RH (%),Battery\n"
    text += rows(lambda i: f"{at(i)},7.7,20.5,66.0,3.3", 0, upto)
    text += rows(lambda i: f"{at(i)},20.5,66.0,3.3", upto, upto + 50)
    if upto == 40:
        assert "other columns begin here" in said(tmp_path, text)
        return
    assert take_in(tmp_path, text).counts.refused_count == 50
    assert set(values(stored(tmp_path), "temperature_c")) == {20.5}


def test_ragged_rows_and_words_at_the_right_move_nothing(tmp_path: Path) -> None:
    ragged = f"{HEAD},Battery\n" + rows(lambda i: plain(i) + (",3.6" if i % 6 == 0 else ""))
    assert take_in(tmp_path, ragged).kept == 60
    words = f"{HEAD},Host\n" + rows(lambda i: plain(i) + (",,Samples: 18,564" if i < 5 else ","))
    assert take_in(tmp_path, words, name="L2.csv").kept == 60


# --- what stands beside, between and below the rows ---------------------------------------------------------
def test_a_column_of_units_counts_and_must_not_change(tmp_path: Path) -> None:
    head = "Time,Temp,Unit,RH (%)\n"

    def row(i: int, unit: str) -> str:
        shown = celsius(i) if unit == "C" else round(celsius(i) * 1.8 + 32, 2)
        return f"{AT[i]:%Y-%m-%d %H:%M},{shown},{unit},{humid(i)}"

    take_in(tmp_path, head + rows(lambda i: row(i, "F")))
    assert np.allclose(stored(tmp_path).values["temperature_c"], [celsius(i) for i in range(60)], atol=0.01)
    assert "°F, and °C is given" in said(
        tmp_path, head + rows(lambda i: row(i, "F"), 0, 50), name="L2.csv", unit="C"
    )
    mixed = head + rows(lambda i: row(i, "C"), 0, 30) + rows(lambda i: row(i, "F"), 30)
    assert "--where 3=C" in said(tmp_path, mixed, name="L2.csv")
    assert take_in(tmp_path, mixed, name="L2.csv", where=(("3", "C"),)).kept == 30
    assert take_in(tmp_path, mixed, name="L2.csv", where=(("3", "F"),)).kept == 30
    assert np.allclose(
        stored(tmp_path, "L2").values["temperature_c"], [celsius(i) for i in range(60)], atol=0.01
    )
    late = head + rows(lambda i: row(i % 60, "C"), 0, 900) + rows(lambda i: row(i % 60, "F"), 0, 60)
    assert "names units" in said(tmp_path, late, name="L10.csv")


@pytest.mark.parametrize(
    ("head", "cell", "minutes"),
    [("UTC offset", "+00:00", 0), ("GMT Offset", "-5", -300), ("tz", "330", 330), ("Zone", "UTC", 0),
     ("Time zone", "CEST", 120), ("UTC offset (s)", "3600", 60)],
)  # fmt: skip
def test_a_column_of_zones_counts(tmp_path: Path, head: str, cell: str, minutes: int) -> None:
    text = f"Date,Clock,{head},Temp (C)\n" + rows(lambda i: f"{AT[i]:%Y-%m-%d,%H:%M},{cell},{celsius(i)}")
    take_in(tmp_path, text)
    assert (
        stored(tmp_path).times[0]
        == (AT[0] - timedelta(minutes=minutes)).replace(tzinfo=UTC).timestamp() * 1000
    )


@pytest.mark.parametrize("change", [30, 950])
def test_a_column_of_zones_that_change_is_asked(tmp_path: Path, change: int) -> None:
    at = [AT[0] + i * timedelta(minutes=10) for i in range(1000)]
    text = "Date,Clock,Zone,Temp (C)\n" + rows(
        lambda i: f"{at[i]:%Y-%m-%d,%H:%M},{'CEST' if i < change else 'CET'},20.5", 0, 1000
    )
    assert "in which zone each time is" in said(tmp_path, text)
    assert with_zone(tmp_path, text, UTC).kept == 1000


def test_a_remark_that_tells_of_another_unit_ends_the_table(tmp_path: Path) -> None:
    text = f"{HEAD}\n" + rows(plain, 0, 30) + "# unit changed to °F\n"
    assert "another unit or zone begins here" in said(tmp_path, text + rows(plain, 30))
    assert take_in(tmp_path, text).kept == 30  # below the table it tells of nothing


def test_another_loggers_part_of_a_file_is_refused(tmp_path: Path) -> None:
    part = f"{HEAD}\n" + rows(plain, 0, 30)
    later = f"{HEAD}\n" + rows(plain, 30)
    assert "another table begins here" in said(tmp_path, f"Logger: L1\n{part}\nLogger: L2\n{later}")
    assert take_in(tmp_path, f"Logger: L1\n{part}\nLogger: L1\n{later}Logger: L1\n").kept == 60


def test_a_zone_named_below_the_table_is_asked(tmp_path: Path) -> None:
    text = f"{HEAD}\n" + rows(plain) + "\nTimes are in UTC\n"
    assert "Below its table" in said(tmp_path, text)
    assert with_zone(tmp_path, text, UTC).kept == 60


@pytest.mark.parametrize(
    "above",
    ["Computer time zone: UTC-05:00\nLogger time zone: UTC+02:00\n", "Time zone: GMT+01:00\nDaylight saving: on\n",
     "Daylight saving time: off\n"],
)  # fmt: skip
def test_lines_above_that_contradict_each_other_on_the_zone_are_asked(tmp_path: Path, above: str) -> None:
    said(tmp_path, above + f"{HEAD}\n" + rows(plain))
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, above + f"{HEAD}\n" + rows(plain))
    assert [q.hint for q in error.value.questions] == ["zone"]


@pytest.mark.parametrize("apart", [0, 5])
def test_two_tables_side_by_side_under_other_names(tmp_path: Path, apart: int) -> None:
    def row(i: int) -> str:
        other = AT[i] + timedelta(minutes=apart)
        return f"{plain(i)},,{other:%Y-%m-%d %H:%M},{celsius(i) + 5}"

    text = "Time A,Temp (C),RH (%),,Time B,Temp (C)\n" + rows(row)
    columns = (("2", "L1:temperature_c"), ("6", "L2:temperature_c"))
    assert "side by side" in said(tmp_path, text, columns=columns)
    take_in(tmp_path, text, name="L2.csv", columns=(("5", "at"), ("6", "temperature_c")))
    assert stored(tmp_path, "L2").times[0] % 600_000 == apart * 60_000


def test_local_time_beside_utc_is_no_second_table(tmp_path: Path) -> None:
    def row(i: int) -> str:
        return f"{AT[i]:%Y-%m-%d %H:%M},{AT[i] - timedelta(hours=2):%Y-%m-%d %H:%M},{celsius(i)}"

    text = "Local time,UTC,Temp (C)\n" + rows(row)
    assert take_in(tmp_path, text).kept == 60


# --- numbers that are not what they seem --------------------------------------------------------------------
def test_a_share_below_a_per_cent_sign_is_asked(tmp_path: Path) -> None:
    text = f"{HEAD}\n" + rows(lambda i: f"{AT[i]:%Y-%m-%d %H:%M},{celsius(i)},{humid(i) / 100:.3f}")
    assert "never exceeds 1" in said(tmp_path, text)
    take_in(tmp_path, text, columns=(("2", "temperature_c"), ("3", "humidity_fraction")))
    assert values(stored(tmp_path), "humidity_pct")[1] == pytest.approx(humid(1), abs=0.06)


def test_times_that_a_spreadsheet_shortened_are_refused(tmp_path: Path) -> None:
    def shortened(i: int) -> str:
        return f"{AT[i].replace(tzinfo=UTC).timestamp():.6E},{celsius(i)}"

    assert "rounded" in said(tmp_path, "time,Temp (C)\n" + rows(shortened))
    exact = "time,Temp (C)\n" + rows(lambda i: f"{AT[i].replace(tzinfo=UTC).timestamp():.0f},{celsius(i)}")
    assert take_in(tmp_path, exact).kept == 60


def test_tenths_without_a_word_are_refused(tmp_path: Path) -> None:
    text = "Time,Temp,RH\n" + rows(
        lambda i: f"{AT[i]:%Y-%m-%d %H:%M},{celsius(i) * 10:.0f},{humid(i) * 10:.0f}"
    )
    assert "outside anything measured" in said(tmp_path, text, unit="C")
    mended = "Time,Temp,RH\n" + rows(lambda i: f"{AT[i]:%Y-%m-%d %H:%M},{celsius(i)},{humid(i)}")
    assert take_in(tmp_path, mended, unit="C").kept == 60


def test_points_and_halves_of_the_day_leave_the_month_open(tmp_path: Path) -> None:
    text = f"{HEAD}\n" + rows(lambda i: f"{AT[i]:%m.%d.%Y %I:%M %p},{celsius(i)},{humid(i)}")
    assert "month first" in said(tmp_path, text)
    take_in(tmp_path, text, dates="MDY")
    assert stored(tmp_path).times[0] == datetime(2026, 6, 3, 6, tzinfo=UTC).timestamp() * 1000


# --- a row per value ----------------------------------------------------------------------------------------
def long(i: int) -> str:
    at = f"{AT[i]:%Y-%m-%d %H:%M}"
    return "\n".join(
        f"{at},{place}_{what},{value}"
        for place, more in (("hide", 0), ("open", 5))
        for what, value in (("temperature", celsius(i) + more), ("humidity", humid(i) - more))
    )


def test_several_sensors_in_a_row_per_value_are_told_apart(tmp_path: Path) -> None:
    text = "Time,Entity,State\n" + rows(long)
    asked = said(tmp_path, text, unit="C")
    assert "several names for one quantity" in asked
    series = tuple((f"{p}_{w}", logger) for p, logger in (("hide", "L1"), ("open", "L2"))
                   for w in ("temperature", "humidity"))  # fmt: skip
    take_in(tmp_path, text, unit="C", by=("2",), series=series)
    assert values(stored(tmp_path), "temperature_c") == [celsius(i) for i in range(60)]
    assert values(stored(tmp_path, "L2"), "humidity_pct") == [humid(i) - 5 for i in range(60)]


def test_readings_of_one_time_that_differ_are_found_in_a_row_per_value(tmp_path: Path) -> None:
    def row(i: int) -> str:
        at = f"{AT[i]:%Y-%m-%d %H:%M}"
        return (
            f"{at},Temp,{celsius(i)}\n{at},RH,{humid(i)}\n{at},Temp,{celsius(i) + 3}\n{at},RH,{humid(i) - 3}"
        )

    assert "have the time of another" in said(tmp_path, "Time,Parameter,Value\n" + rows(row), unit="C")


def test_names_of_a_row_per_value_that_are_not_stored_are_named(tmp_path: Path) -> None:
    def row(i: int, more: str) -> str:
        at = f"{AT[i % 60] + timedelta(days=i // 60):%Y-%m-%d %H:%M}"
        return f"{at},Temp,{celsius(i)}\n{at},{more},7.5"

    staged = take_in(tmp_path, "Time,Parameter,Value\n" + rows(lambda i: row(i, "Dew point")), unit="C")
    assert [name for name, _ in staged.layout.untaken] == ["Dew point"]
    late = "Time,Parameter,Value\n" + rows(lambda i: row(i, "Dew point" if i < 900 else "RH"), 0, 1000)
    staged = take_in(tmp_path, late, name="L2.csv", unit="C")
    assert any("'RH'" in name and n == 100 for name, n in staged.counts.missing.items())
