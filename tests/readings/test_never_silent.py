"""What went in wrong without a word: each is read right, asked about or refused, and what is stored is looked at."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from zoneuse.readings.layout import Hints, UndecidedError
from zoneuse.readings.read.intake import stage
from zoneuse.readings.read.summary import describe
from zoneuse.study.problems import ProblemError

from .intaking import MADE, VIENNA, stored, take_in, utc, values


def asked(folder: Path, text: str | bytes, **hints: object) -> str:
    """The hint that a question goes to; fails where the file goes in."""
    with pytest.raises(UndecidedError) as error:
        take_in(folder, text, **hints)  # type: ignore[arg-type]
    return error.value.questions[0].hint


def refused(folder: Path, text: str | bytes, **hints: object) -> str:
    with pytest.raises(ProblemError) as error:
        take_in(folder, text, **hints)  # type: ignore[arg-type]
    return error.value.problems[0].code


def rows(count: int, cells: str, step: int = 10) -> str:
    """``count`` rows from 3 Apr 2026 08:00 on; ``{t}`` and ``{i}`` stand for the time and the row."""
    at = [datetime(2026, 4, 3, 8, 0) + i * timedelta(minutes=step) for i in range(count)]
    return "".join(cells.format(t=t, i=i) + "\n" for i, t in enumerate(at))


# --- a header that is not as wide as its rows ---------------------------------------------------------------


@pytest.mark.parametrize("end", [",", ",ok"])
def test_a_delimiter_or_a_flag_at_the_end_shifts_no_name(tmp_path: Path, end: str) -> None:
    take_in(tmp_path, "Time,Temp (C),RH (%)\n" + rows(6, "{t:%Y-%m-%d %H:%M},21.5,55" + end))
    assert values(stored(tmp_path), "temperature_c") == [21.5] * 6
    assert values(stored(tmp_path), "humidity_pct") == [55.0] * 6


def test_a_number_without_a_name_is_asked_about_and_numbers_settle_it(tmp_path: Path) -> None:
    text = "Time,Temp (C),RH (%)\n" + rows(6, "{t:%Y-%m-%d %H:%M},21.5,12.1,55")
    assert asked(tmp_path, text) == "columns"
    assert asked(tmp_path, text, columns=(("RH (%)", "humidity_pct"),)) == "columns"
    take_in(tmp_path, text, columns=(("2", "temperature_c"), ("4", "humidity_pct")))
    assert values(stored(tmp_path), "humidity_pct") == [55.0] * 6


def test_row_numbers_without_a_name(tmp_path: Path) -> None:
    take_in(tmp_path, "Time,Temp (C)\n" + rows(6, "{i},{t:%Y-%m-%d %H:%M},21.5"))
    assert values(stored(tmp_path), "temperature_c") == [21.5] * 6


# --- date and clock apart -----------------------------------------------------------------------------------

CLOCKS = {
    "halves in czech": ("Datum,Čas", lambda t: f"{t:%Y-%m-%d},{t:%I:%M} {'dop.' if t.hour < 12 else 'odp.'}"),
    "points": ("Date,Time", lambda t: f"{t:%Y-%m-%d},{t:%H.%M}"),
    "hour": ("Date,Hour", lambda t: f"{t:%Y-%m-%d},{t.hour}"),
    "hhmm without zeros": ("Date,Time", lambda t: f"{t:%Y-%m-%d},{t.hour * 100 + t.minute}"),
    "a part of a day": ("Date,Time", lambda t: f"{t:%Y-%m-%d},{(t.hour * 60 + t.minute) / 1440:.8f}"),
    "midnight beside a clock": ("Date,Time", lambda t: f"{t:%Y-%m-%d} 00:00:00,{t:%H:%M:%S}"),
    "clock before date": ("Time,Date", lambda t: f"{t:%H:%M},{t:%d.%m.%Y}"),
    "year month day hour": ("Year,Month,Day,Hour", lambda t: f"{t.year},{t.month},{t.day},{t.hour}"),
}  # fmt: skip


@pytest.mark.parametrize("case", CLOCKS)
def test_date_and_clock_in_columns_of_their_own(tmp_path: Path, case: str) -> None:
    names, write = CLOCKS[case]
    step = 60 if "hour" in case else 10
    at = [datetime(2026, 4, 3, 8, 0) + i * timedelta(minutes=step) for i in range(200)]
    text = f"{names},Temp (C)\n" + "".join(f"{write(t)},{20 + i % 7}.5\n" for i, t in enumerate(at))
    take_in(tmp_path, text, zone=UTC, dates="DMY" if case == "clock before date" else None)
    wanted = [utc(*t.timetuple()[:5]) for t in at]
    assert stored(tmp_path).times.tolist() == wanted


def test_a_clock_that_is_not_understood_never_becomes_midnight(tmp_path: Path) -> None:
    text = "Date,Time,Temp (C)\n" + rows(6, "{t:%Y-%m-%d},noon+{i},21.5")
    assert refused(tmp_path, text) == "no-clock"
    assert refused(tmp_path, "Date,Temp (C)\n" + rows(6, "{t:%Y-%m-%d},21.{i}")) == "no-clock"


# --- zones and summer time ----------------------------------------------------------------------------------


@pytest.mark.parametrize("step", [10, 60, 120, 240])
def test_a_clock_without_summer_time_is_noticed_in_spring(tmp_path: Path, step: int) -> None:
    at = [datetime(2026, 3, 28, 20, 0) + i * timedelta(minutes=step) for i in range(60)]
    text = "Time,Temp (C)\n" + "".join(f"{t:%Y-%m-%d %H:%M},{20 + i / 10}\n" for i, t in enumerate(at))
    assert asked(tmp_path, text) == "zone"
    take_in(tmp_path, text, zone=timezone(timedelta(hours=1)))
    assert np.diff(stored(tmp_path).times).tolist() == [step * 60_000] * 59


def test_a_gap_over_the_change_of_clocks_is_asked_about(tmp_path: Path) -> None:
    text = (
        "Time,Temp (C)\n2026-03-28 23:50,20\n2026-03-29 00:00,21\n2026-03-29 06:00,22\n2026-03-29 06:10,22\n"
    )
    assert asked(tmp_path, text) == "zone"
    take_in(tmp_path, text, as_written=True)
    assert len(stored(tmp_path).times) == 4


@pytest.mark.parametrize(
    ("said", "hour"),
    [("(CET)", 13), ("(MEZ)", 13), ("(America/New_York)", 18), ("GMT-04:00", 18), ("(UTC)", 14)],
)
def test_a_zone_named_in_the_header_counts_and_stays_fixed_in_summer(
    tmp_path: Path, said: str, hour: int
) -> None:
    take_in(tmp_path, f"Time {said},Temp (C)\n2026-07-03 14:05,20\n2026-07-03 14:15,21\n")
    assert stored(tmp_path).times[0] == utc(2026, 7, 3, hour, 5)


@pytest.mark.parametrize("said", ["(PST)", "(BST)", "(NZST)", "(Pacific Daylight Time)"])
def test_vague_letters_are_asked(tmp_path: Path, said: str) -> None:
    assert asked(tmp_path, f"Time {said},Temp (C)\n2026-07-03 14:05,20\n2026-07-03 14:15,21\n") == "zone"
    text = f"Time,Temp (C)\n2026-07-03 14:05 {said[1:4]}T,20\n2026-07-03 14:15 {said[1:4]}T,21\n"
    assert asked(tmp_path, text) == "zone"


def test_a_zone_given_for_times_without_leaves_those_that_have_one(tmp_path: Path) -> None:
    text = "Time,Temp (C)\n2026-07-03 14:05 +00:00,20\n2026-07-03 14:15 +00:00,21\n2026-07-03 16:25,22\n"
    assert asked(tmp_path, text) == "zone"
    staged = stage(tmp_path, tmp_path / "L1.csv", ["L1"], UTC, Hints(zone=VIENNA), intaken=[])
    staged.commit(MADE)
    assert stored(tmp_path).times.tolist() == [utc(2026, 7, 3, 14, m) for m in (5, 15, 25)]


def test_a_half_of_the_day_ends_where_its_letters_do(tmp_path: Path) -> None:
    take_in(tmp_path, "Time,Temp (C)\n7/3/26 9:05p,20\n7/13/26 9:15a,21\n")
    assert stored(tmp_path).times.tolist() == [utc(2026, 7, 3, 19, 5), utc(2026, 7, 13, 7, 15)]
    assert asked(tmp_path, "Time,Temp (C)\n2026-07-03 9:05 AEST,20\n2026-07-03 9:15 AEST,21\n") == "zone"


def test_a_zone_above_the_table_that_nobody_knows_is_asked(tmp_path: Path) -> None:
    text = "Time zone: W. Europe Standard Time\n\nTime,Temp (C)\n2026-07-03 14:05,20\n2026-07-03 14:15,21\n"
    assert asked(tmp_path, text) == "zone"


# --- every line, every column -------------------------------------------------------------------------------


def test_rows_with_words_at_their_right_and_ragged_rows_are_readings(tmp_path: Path) -> None:
    text = (
        "Time,Temp (C),RH (%),Event\n2026-04-03 14:05,20,80,Logged,,Series: Temp, °C\n"
        "2026-04-03 14:15,21,81,,,Max: 40.6\n"
        "2026-04-03 14:25,22,82,,,Samples: 18,564\n2026-04-03 14:35,23,83\n2026-04-03 14:45,24,84\n"
    )
    staged = take_in(tmp_path, text)
    assert values(stored(tmp_path), "temperature_c") == [20.0, 21.0, 22.0, 23.0, 24.0]
    assert staged.counts.told == staged.counts.lines == 6


def test_columns_that_are_not_taken_are_named(tmp_path: Path) -> None:
    staged = take_in(
        tmp_path, "Time,Temp (C),%,Θερμότητα,Battery (V)\n" + rows(4, "{t:%Y-%m-%d %H:%M},20,55,21,3.6")
    )
    said = "\n".join(describe(staged, VIENNA))
    for name in ("%", "Θερμότητα", "Battery (V)"):
        assert any(name == column for column, _ in staged.layout.untaken)
        assert name in said
    assert "Column 2 'Temp (C)' is temperature in °C" in said


def test_other_columns_further_down_are_refused(tmp_path: Path) -> None:
    text = (
        "Time,Temp (C),RH (%)\n"
        + rows(4, "{t:%Y-%m-%d %H:%M},20,55")
        + "Time,RH (%),Temp (C)\n"
        + rows(4, "{t:%Y-%m-%d %H:%M},55,20")
    )
    assert refused(tmp_path, text) == "second-header"


def test_a_cell_in_another_unit_is_refused(tmp_path: Path) -> None:
    staged = take_in(
        tmp_path, "Time,Temp (C)\n" + rows(4, "{t:%Y-%m-%d %H:%M},20 °C") + "2026-04-03 12:00,74.3 °F\n"
    )
    assert len(stored(tmp_path).times) == 4 and "is in °F" in staged.counts.refused[0].reason


# --- which column is meant ----------------------------------------------------------------------------------


def test_two_columns_of_one_name(tmp_path: Path) -> None:
    text = 'Time,"Temp, °F","Temp, °F"\n' + rows(4, "{t:%Y-%m-%d %H:%M},70,80")
    assert asked(tmp_path, text) == "columns"
    assert refused(tmp_path, text, columns=(("Temp, °F", "L1:temperature_f"),)) == "columns-alike"
    assert refused(tmp_path, text, columns=(("2", "L1:temperature_c"),)) == "other-unit"
    take_in(tmp_path, text, columns=(("2", "L1:temperature_f"), ("3", "L2:temperature_f")))
    assert values(stored(tmp_path, "L1"), "temperature_c")[0] == pytest.approx(21.111, abs=1e-3)
    assert values(stored(tmp_path, "L2"), "temperature_c")[0] == pytest.approx(26.667, abs=1e-3)


def test_a_column_that_is_not_there_is_refused(tmp_path: Path) -> None:
    text = "Time,Temp (C)\n" + rows(4, "{t:%Y-%m-%d %H:%M},20")
    assert refused(tmp_path, text, columns=(("Hum", "humidity_pct"),)) == "no-column"


# --- times that cannot be true ------------------------------------------------------------------------------


def test_a_clock_reset_or_set_back_is_asked_about(tmp_path: Path) -> None:
    head, first = "Time,Temp (C)\n", rows(20, "{t:%Y-%m-%d %H:%M},20.{i}")
    reset = "".join(f"2000-01-01 00:{m:02d},21.{m}\n" for m in range(0, 50, 10))
    for text in (head + first + reset, head + reset + first, head + reset):
        assert asked(tmp_path, text) == "as_written"
    back = "".join(f"2026-04-03 09:{m:02d},21.{m}\n" for m in range(5, 55, 10))
    assert asked(tmp_path, head + first + back) == "as_written"
    staged = take_in(tmp_path, head + first + back, as_written=True)
    assert staged.kept == 25
    # In order of time: a step and gaps of the readings, not of the lines.
    assert staged.sinks["L1"].usual_step_ms in (300_000, 600_000) and staged.sinks["L1"].order.gaps == 0


@pytest.mark.parametrize("last", [11, 25])
def test_dates_that_a_spreadsheet_turned_round(tmp_path: Path, last: int) -> None:
    at = [datetime(2026, 11, 4) + i * timedelta(hours=3) for i in range((last - 4) * 8)]
    turned = [t.replace(month=t.day, day=11) if t.day <= 12 else t for t in at]
    text = "Time,Temp (C)\n" + "".join(
        f"{t:%Y-%m-%d %H:%M:%S},20\n" if o.day <= 12 else f"{t:%d/%m/%Y %H:%M},20\n"
        for t, o in zip(turned, at, strict=True)
    )
    assert asked(tmp_path, text, zone=UTC) == "as_written"


def test_many_readings_of_one_time_are_asked_about(tmp_path: Path) -> None:
    text = "Time,Temp (C)\n" + "".join(f"2026-04-03 14:{i // 4:02d},{20 + i / 10}\n" for i in range(40))
    assert asked(tmp_path, text) == "as_written"


@pytest.mark.parametrize("apart", [0, 30])
def test_several_sites_are_never_one_series(tmp_path: Path, apart: int) -> None:
    def part(site: str, day: int, base: float) -> str:
        return "".join(f"{site},2026-04-{day:02d} {h:02d}:00,{base}\n" for h in range(24))

    # Far beyond what is sampled, and with equal values: the whole file decides.
    text = "Site,Time,Temp (C)\n" + part("hide", 3, 20) + part("open", 3 + (1 if apart else 0), 20)
    assert asked(tmp_path, text) == "by"
    take_in(tmp_path, text, by=("1",), series=(("hide", "L1"), ("open", "L2")))
    assert len(stored(tmp_path, "L1").times) == len(stored(tmp_path, "L2").times) == 24


def test_with_seconds_and_without_are_one_reading(tmp_path: Path) -> None:
    with_seconds = "Time,Temp (C)\n" + "".join(f"2026-04-03 14:{m:02d}:17,20.{m}\n" for m in range(0, 60, 10))
    without = "Time,Temp (C)\n" + "".join(f"2026-04-03 14:{m:02d},20.{m}\n" for m in range(0, 60, 10))
    take_in(tmp_path, with_seconds)
    assert take_in(tmp_path, without, name="L1_b.csv").kept == 0
    take_in(tmp_path, without, name="L2.csv")
    assert take_in(tmp_path, with_seconds, name="L2_b.csv").kept == 0


def test_the_same_bytes_for_another_logger_by_name(tmp_path: Path) -> None:
    from zoneuse.readings.read.intake import already_taken_in
    from zoneuse.readings.store.store import intakes

    take_in(tmp_path, "Time,Temp (C)\n" + rows(4, "{t:%Y-%m-%d %H:%M},20.{i}"))
    intaken = intakes(tmp_path)[0]
    assert already_taken_in(tmp_path / "L1.csv", Hints(), intaken) is not None
    assert already_taken_in(tmp_path / "L1.csv", Hints(logger="L2"), intaken) is None


# --- workbooks ----------------------------------------------------------------------------------------------


def test_workbooks_with_date_and_clock_apart_and_several_sheets(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "March"
    for sheet, day in ((book.active, 3), (book.create_sheet("April"), 4)):
        sheet.append(["Date", "Time", "Temp (°C)"])
        for h in range(8, 14):
            at = datetime(2026, 4, day, h, 5)
            sheet.append([at.date(), at.time(), 20 + h / 10])
    book.save(tmp_path / "L1.xlsx")
    take_in(tmp_path, (tmp_path / "L1.xlsx").read_bytes(), name="L1.xlsx", zone=UTC)
    assert stored(tmp_path).times[0] == utc(2026, 4, 3, 8, 5) and len(stored(tmp_path).times) == 12
    book["April"].insert_cols(1)
    book.save(tmp_path / "L2.xlsx")
    data = (tmp_path / "L2.xlsx").read_bytes()
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, data, name="L2.xlsx")
    assert error.value.questions[0].flag == "--sheet 1"
    take_in(tmp_path, data, name="L2.xlsx", zone=ZoneInfo("UTC"), sheet="April")
    assert len(stored(tmp_path, "L2").times) == 6


def test_an_old_xls_is_read_and_a_damaged_one_refused(tmp_path: Path) -> None:
    """The fixture was written once by xlwt: two sheets of one header, date and clock apart."""
    data = (Path(__file__).parents[1] / "fixtures" / "old_workbook.xls").read_bytes()
    assert data[:4] == b"\xd0\xcf\x11\xe0"
    take_in(tmp_path, data, name="L1.xls", zone=UTC)
    found = stored(tmp_path)
    assert found.times.tolist() == [utc(2026, 3, day, 8 + i, 5) for day in (30, 31) for i in range(6)]
    assert values(found, "temperature_c") == [20 + i / 10 for i in range(6)] * 2
    assert refused(tmp_path, data[:1000]) != ""
    (tmp_path / "L1.xls").write_bytes(data[:1000])
    with pytest.raises(ProblemError, match="save it as CSV"):
        take_in(tmp_path, data[:1000], name="L1.xls")


def test_sheets_of_places_are_series_of_their_own(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "hide"
    for sheet, day in ((book.active, 3), (book.create_sheet("open"), 4)):
        sheet.append(["Time", "Temp (°C)"])
        for h in range(8, 14):
            sheet.append([datetime(2026, 4, day, h), 20 + h / 10])
    book.save(tmp_path / "x.xlsx")
    data = (tmp_path / "x.xlsx").read_bytes()
    # Their times do not meet, and they are two places all the same.
    assert asked(tmp_path, data, name="L1.xlsx") == "by"
    take_in(tmp_path, data, name="L1.xlsx", zone=UTC, by=("3",), series=(("hide", "L1"), ("open", "L2")))
    assert len(stored(tmp_path, "L1").times) == len(stored(tmp_path, "L2").times) == 6
    for sheet, name in zip(book.worksheets, ("L1", "L2"), strict=True):
        sheet.title = name
    book.save(tmp_path / "y.xlsx")
    (tmp_path / "b").mkdir()
    take_in(tmp_path / "b", (tmp_path / "y.xlsx").read_bytes(), name="both.xlsx", zone=UTC)
    assert len(stored(tmp_path / "b", "L2").times) == 6


FILLED = {"=QUANTITY": "=temperature_c", "LOGGER": "L1", "ZONE": "+01:00", "TIME": "2026-04-03T08:00"}


# --- remedies -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "Time,Temp\n" + rows(6, "{t:%Y-%m-%d %H:%M},21.{i}"),
        "Time,Temp (C),RH (%)\n" + rows(6, "{t:%Y-%m-%d %H:%M},21.5,12.1,55"),
        "Time,Foo,Bar\n" + rows(6, "{t:%Y-%m-%d %H:%M},21.5,55"),
        'Time,"Temp, °F","Temp, °F"\n' + rows(6, "{t:%Y-%m-%d %H:%M},70,80"),
        "Time (PST),Temp (C)\n" + rows(6, "{t:%Y-%m-%d %H:%M},21.{i}"),
        "Time GMT+02:00,Temp (C)\n" + rows(6, "{t:%Y-%m-%d %H:%M}Z,21.{i}"),
        "Time,Temp (C)\n" + rows(3, "{t:%Y-%m-%d %H:%M}+01:00,21.{i}") + rows(3, "2026-04-04 {t:%H:%M},21.{i}"),
        "Time,Humidity,Temp C\n" + rows(6, "{t:%Y-%m-%d %H:%M},0.7{i},20"),
        "Time;Temp (C)\n2026-04-03 14:05;23,5\n2026-04-03 14:15;23.6\n",
        "Time,Temp (C)\n03/04/2026 14:05,23.5\n03/04/2026 14:15,23.6\n",
        "Elapsed (min),Temp (C)\n0,20\n10,21\n20,22\n",
        "Site,Time,Temp (C)\n" + rows(6, "a,{t:%Y-%m-%d %H:%M},21.{i}") + rows(6, "b,{t:%Y-%m-%d %H:%M},22.{i}"),
        "Time,Temp (C)\n" + rows(20, "{t:%Y-%m-%d %H:%M},20.{i}") + "2026-04-03 09:05,21\n",
        "Time,Temp (C)\n" + "".join(f"2026-03-29 0{h}:{m}0,2{h}.{m}\n" for h in range(5) for m in range(6)),
        "Time,Temp (C)\n" + "".join(f"2026-10-25 0{h}:{m}0,2{h}.{m}\n" for h in range(5) for m in range(6)),
    ],
)  # fmt: skip
def test_every_remedy_works_on_the_file_that_caused_it(tmp_path: Path, text: str) -> None:
    """The flags a question prints, run as they stand (names filled in), each lead to readings that are stored."""
    from click.testing import CliRunner

    from zoneuse.cli import cli

    from .test_readings_command import STUDY

    def run(folder: Path, *words: str) -> object:
        folder.mkdir(parents=True)
        (folder / "study.toml").write_text(STUDY)
        (folder / "x.csv").write_text(text)
        return CliRunner().invoke(
            cli,
            ["readings", str(folder / "x.csv"), "--yes", "--study", str(folder), "--logger", "L1", *words],
        )

    first = run(tmp_path / "0")
    printed = re.findall(r"Give (--.*?); nothing was taken in", first.stderr)  # type: ignore[attr-defined]
    assert printed, first.output  # type: ignore[attr-defined]
    tried = 0
    for said in printed:
        for one in re.split(r"(?:(?<! ),)? or (?=--)", said):
            filled = one.replace("first|second", "first")
            for name, value in FILLED.items():
                filled = filled.replace(name, value)
            words = re.findall(
                r"--[a-z-]+|(?<= )(?:[+-]\d\S+|\S*=\S+|[,.CF]|first|\d[\d,T:-]*|[DMY]{3}|[A-Z]\w+/\w+)",
                filled,
            )
            words = [w if w == "," else w.rstrip(",") for w in words]
            if "--series" in words:
                words += ["--series", "b=L2"]
            tried += 1
            result = run(tmp_path / str(tried), *words)
            assert result.exit_code == 0, (words, result.stderr)  # type: ignore[attr-defined]
            assert re.search(r"readings? taken in", result.stdout)  # type: ignore[attr-defined]
    assert tried


# --- what two readings of one line of names would make ---------------------------------------------------------


def test_a_clock_that_waits_for_the_end_of_the_doubled_hour_is_no_fault(tmp_path: Path) -> None:
    """All rows of a file lie in the hour that comes twice: asked, and no traceback."""
    text = "Time,Temp (C)\n" + "".join(f"2026-10-25 02:{m:02d},20.{m // 10}\n" for m in range(0, 60, 10))
    assert asked(tmp_path, text) in ("doubled", "zone")


def test_letters_of_summer_fit_no_day_on_which_summer_time_ends(tmp_path: Path) -> None:
    """PDT above a date with a clock beside it, on the day the clocks go back: which hours it is true of is asked."""
    rows_ = "".join(f"2016-11-06 00:00:00,{8 + i // 6:02d}:{i % 6}0:00,28.{i % 10}\n" for i in range(24))
    text = "Time zone,PDT\n\nDate,Time,Temp (C)\n" + rows_
    with pytest.raises(UndecidedError) as error:
        stage(
            tmp_path, _written(tmp_path, text), ["L1"], ZoneInfo("America/Los_Angeles"), Hints(), intaken=[]
        )
    assert error.value.questions[0].hint == "zone"


def _written(folder: Path, text: str) -> Path:
    path = folder / "L1.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_days_that_begin_at_one_say_of_which_day_a_start_is(tmp_path: Path) -> None:
    text = "Group,Day,Temp (C)\n" + "".join(f"tank,{i},{20 + i / 10}\n" for i in range(1, 9))
    with pytest.raises(UndecidedError, match=r"its first row says 1") as error:
        take_in(tmp_path, text)
    assert "that of its 0" in error.value.questions[0].flag
    take_in(tmp_path, text, start=datetime(2026, 4, 3, tzinfo=UTC))
    assert stored(tmp_path).times[0] == utc(2026, 4, 4)
