"""Taking exports in: what is understood, asked, refused, and never taken twice."""

from __future__ import annotations

from datetime import timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from zoneuse.readings.layout import Hints, UndecidedError
from zoneuse.readings.read.intake import already_taken_in, undo_file
from zoneuse.readings.read.summary import describe
from zoneuse.readings.store.store import intakes
from zoneuse.study.problems import ProblemError

from .intaking import MADE, VIENNA, stored, take_in, utc, values


def asked(error: pytest.ExceptionInfo[UndecidedError]) -> set[str]:
    return {q.hint for q in error.value.questions}


def test_semicolons_decimal_commas_and_a_preamble(tmp_path: Path) -> None:
    text = (
        "Site;shelf 2\nSerial;00000\n\nDate;Time;Temp (°C);Hum (%)\n"
        "03.04.2026;14:05;23,5;91,0\n04.04.2026;14:05;23,0;90,5\n"
    )
    take_in(tmp_path, text, encoding="cp1252")
    found = stored(tmp_path)
    assert found.times.tolist() == [utc(2026, 4, 3, 12, 5), utc(2026, 4, 4, 12, 5)]
    assert values(found, "temperature_c") == [23.5, 23.0]
    assert values(found, "humidity_pct") == [91.0, 90.5]


def test_quoted_fahrenheit_with_event_rows(tmp_path: Path) -> None:
    text = (
        '"No.","Timestamp","T1 degF","RH1 %","Event"\n"7","04/13/26 02:05:00 PM","74.3","91.0",""\n'
        '"8","04/13/26 02:07:12 PM","","","button"\n"9","04/13/26 02:15:00 PM","77","90.0",""\n'
    )
    staged = take_in(tmp_path, text)
    assert values(stored(tmp_path), "temperature_c") == [23.5, 25.0]
    assert [(m.at_ms, m.says) for m in staged.marks] == [(utc(2026, 4, 13, 12, 7, 12), "button")]
    assert intakes(tmp_path)[0][0].marks[0].says == "button"


def test_long_with_epoch_times_and_logger_names(tmp_path: Path) -> None:
    text = (
        "sensor,quantity,t_ms,value\nl1,rh,1775217900000,--\nl1,temperature,1775217900000,21.5\n"
        "l2,rh,1775217900000,88.1\nl1,rh,1775218500000,90.2\nghost,rh,1775218500000,50\n"
    )
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, text, name="long.csv")
    assert asked(error) == {"unit"}
    staged = take_in(tmp_path, text, name="long.csv", unit="C")
    assert values(stored(tmp_path, "L1"), "humidity_pct") == [None, 90.2]
    assert values(stored(tmp_path, "L1"), "temperature_c") == [21.5, None]
    assert values(stored(tmp_path, "L2"), "humidity_pct") == [88.1]
    assert [r.line for r in staged.counts.refused] == [6]
    assert "ghost" in staged.counts.refused[0].reason


def test_wide_columns_go_to_the_loggers_they_name(tmp_path: Path) -> None:
    text = (
        "Time;L1 Temp °C;L1 RH %;L2 Temp °C;L2 RH %\n2026-04-03 14:05;20,1;80;21,5;70\n"
        "2026-04-03 14:15;20,2;81;21,6;71\n"
    )
    take_in(tmp_path, text, name="both.csv")
    assert values(stored(tmp_path, "L1"), "temperature_c") == [20.1, 20.2]
    assert values(stored(tmp_path, "L2"), "humidity_pct") == [70.0, 71.0]


def test_wide_columns_that_name_no_logger_are_asked_about(tmp_path: Path) -> None:
    text = "Time,T1 (C),T2 (C)\n2026-04-03 14:05,20.1,21.5\n2026-04-03 14:15,20.2,21.6\n"
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, text, name="both.csv")
    assert "columns" in asked(error)
    take_in(
        tmp_path, text, name="both.csv", columns=(("T1 (C)", "L2:temperature_c"), ("3", "L1:temperature_c"))
    )
    assert values(stored(tmp_path, "L2"), "temperature_c") == [20.1, 20.2]
    assert values(stored(tmp_path, "L1"), "temperature_c") == [21.5, 21.6]
    with pytest.raises(ProblemError, match="its header says °C"):
        take_in(tmp_path, text, name="both.csv", columns=(("3", "L1:temperature_f"),))


def test_a_temperature_without_a_unit_is_asked_unless_only_one_scale_is_possible(tmp_path: Path) -> None:
    head = "Time,Temperature\n"
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, head + "2026-04-03 14:05,68.2\n2026-04-03 14:15,68.4\n")
    assert asked(error) == {"unit"}
    take_in(tmp_path, head + "2026-04-03 14:05,101.3\n2026-04-03 14:15,95\n")
    assert values(stored(tmp_path), "temperature_c")[1] == 35.0


@pytest.mark.parametrize(
    "preamble",
    ["Temperature unit: F", "Units;Fahrenheit", "High Temperature Alarm: 95 °F", "Temperature = °F"],
)
def test_the_unit_may_stand_in_the_preamble(tmp_path: Path, preamble: str) -> None:
    take_in(tmp_path, f"{preamble}\n\nTime;Temp\n2026-04-03 14:05;77\n2026-04-03 14:15;78,8\n")
    assert values(stored(tmp_path), "temperature_c") == [25.0, 26.0]


def test_the_unit_may_stand_in_a_second_header_row_or_in_the_cells(tmp_path: Path) -> None:
    take_in(tmp_path, "Time,Temp,Hum\n,°F,%RH\n2026-04-03 14:05,77,80\n2026-04-03 14:15,78.8,81\n")
    take_in(tmp_path, "Time,Temp\n2026-04-03 14:05,25.0 °C\n2026-04-03 14:15,26.0 °C\n", name="L2.csv")
    assert values(stored(tmp_path), "temperature_c") == [25.0, 26.0]
    assert values(stored(tmp_path), "humidity_pct") == [80.0, 81.0]
    assert values(stored(tmp_path, "L2"), "temperature_c") == [25.0, 26.0]


def test_both_scales_of_one_probe_are_one_column(tmp_path: Path) -> None:
    take_in(tmp_path, "Time,Temp (°F),Temp (°C)\n2026-04-03 14:05,77,25\n2026-04-03 14:15,78.8,26\n")
    assert values(stored(tmp_path), "temperature_c") == [25.0, 26.0]


def test_the_mean_is_taken_where_minimum_and_maximum_stand_beside_it(tmp_path: Path) -> None:
    text = (
        "Time,Min Temp (°C),Avg Temp (°C),Max Temp (°C),Dew point (°C)\n"
        "2026-04-03 14:05,20,21,22,9\n2026-04-03 14:15,20,21.5,22,9\n"
    )
    take_in(tmp_path, text)
    assert values(stored(tmp_path), "temperature_c") == [21.0, 21.5]


def test_a_humidity_that_never_exceeds_one_is_asked_about(tmp_path: Path) -> None:
    text = "Time,Humidity,Temp C\n2026-04-03 14:05,0.71,20\n2026-04-03 14:15,0.72,21\n"
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, text)
    assert asked(error) == {"columns"}
    take_in(tmp_path, text, columns=(("Humidity", "humidity_fraction"), ("Temp C", "temperature_c")))
    assert values(stored(tmp_path), "humidity_pct") == [71.0, 72.0]


# --- dates ---------------------------------------------------------------------------------------------


def test_days_and_months_are_decided_from_the_whole_file(tmp_path: Path) -> None:
    rows = "".join(f"{d:02d}/04/2026 12:00,{20 + d / 10}\n" for d in range(1, 14))
    take_in(tmp_path, "Time,Temp (C)\n" + rows)
    assert stored(tmp_path).times[[0, -1]].tolist() == [utc(2026, 4, 1, 10), utc(2026, 4, 13, 10)]


def test_days_and_months_are_decided_by_the_step_across_midnight(tmp_path: Path) -> None:
    text = (
        "Time,Temp (C)\n04/03/2026 23:40,20\n04/03/2026 23:50,20.1\n04/04/2026 00:00,20.2\n"
        "04/04/2026 00:10,20.3\n"
    )
    take_in(tmp_path, text)
    assert stored(tmp_path).times[0] == utc(2026, 4, 3, 21, 40)


def test_days_and_months_that_both_fit_are_asked(tmp_path: Path) -> None:
    text = "Time,Temp (C)\n03/04/2026 14:05,20\n03/04/2026 14:15,20.1\n"
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, text)
    assert asked(error) == {"dates"}
    take_in(tmp_path, text, dates="MDY")
    assert stored(tmp_path).times[0] == utc(2026, 3, 4, 13, 5)


def test_an_order_the_file_contradicts_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProblemError, match="cannot be read as DMY"):
        take_in(tmp_path, "Time,Temp (C)\n04/23/2026 14:05,20\n04/24/2026 14:15,20.1\n", dates="DMY")


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("12:05:00 AM", (2026, 4, 12, 22, 5)),
        ("12:05:00 PM", (2026, 4, 13, 10, 5)),
        ("2:05 p. m.", (2026, 4, 13, 12, 5)),
    ],
)
def test_half_days(tmp_path: Path, written: str, expected: tuple[int, ...]) -> None:
    take_in(tmp_path, f"Time;Temp (C)\n13/04/2026 {written};20\n")
    assert stored(tmp_path).times[0] == utc(*expected)


def test_spreadsheet_days(tmp_path: Path) -> None:
    # 46115.586805556 is 3 April 2026 14:05 counted from 30 December 1899.
    take_in(tmp_path, "Time,Temp (C)\n46115.586805556,20\n46115.59375,21\n")
    assert stored(tmp_path).times.tolist() == [utc(2026, 4, 3, 12, 5), utc(2026, 4, 3, 12, 15)]


def test_elapsed_time_needs_a_start(tmp_path: Path) -> None:
    table = "Elapsed (min),Temp (C)\n0,20\n10,21\n20,22\n"
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, table)
    assert asked(error) == {"start"}
    take_in(tmp_path, "Start: 2026-04-03 14:05\n\n" + table)
    assert stored(tmp_path).times.tolist() == [utc(2026, 4, 3, 12, m) for m in (5, 15, 25)]


def test_newest_first_is_turned_round(tmp_path: Path) -> None:
    take_in(tmp_path, "Time,Temp (C)\n2026-04-03 14:15,21\n2026-04-03 14:05,20\n")
    assert values(stored(tmp_path), "temperature_c") == [20.0, 21.0]


def test_dates_that_do_not_exist_are_refused_by_line(tmp_path: Path) -> None:
    rows = "".join(f"2026-04-{d:02d} 14:05,20\n" for d in range(1, 31))
    staged = take_in(tmp_path, f"Time,Temp (C)\n2026-02-30 14:05,20\n{rows}")
    assert [r.line for r in staged.counts.refused] == [2]
    assert staged.kept == 30


# --- zones and summer time -----------------------------------------------------------------------------


def test_the_zone_in_the_header_counts_before_the_studys(tmp_path: Path) -> None:
    take_in(tmp_path, '"Date Time, GMT-04:00",Temp (C)\n2026-04-03 14:05,20\n')
    assert stored(tmp_path).times[0] == utc(2026, 4, 3, 18, 5)


def test_a_preamble_may_state_the_zone(tmp_path: Path) -> None:
    take_in(tmp_path, "Time zone: GMT+01:00\n\nTime,Temp (C)\n2026-07-03 14:05,20\n")
    assert stored(tmp_path).times[0] == utc(2026, 7, 3, 13, 5)


def test_a_header_that_contradicts_the_offset_of_the_times_is_asked_about(tmp_path: Path) -> None:
    text = '"Date Time, GMT-07:00",Temp (C)\n2026-04-03T14:05:00Z,20\n'
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, text)
    assert asked(error) == {"zone"}


def test_an_abbreviation_of_several_zones_is_asked_about_unless_it_is_the_studys(tmp_path: Path) -> None:
    text = "Mission Start: Thu Oct 11 12:11:00 CST 2012\n\nTime,Temp (C)\n2012-10-11 12:11,20\n"
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, text)
    assert asked(error) == {"zone"}
    take_in(tmp_path, text, zone=ZoneInfo("Asia/Shanghai"))
    assert stored(tmp_path).times[0] == utc(2012, 10, 11, 4, 11)


def _autumn(times: list[str]) -> str:
    return "Time,Temp (C)\n" + "".join(f"{t},{20 + i / 10}\n" for i, t in enumerate(times))


def _clock_rows(start: int, count: int, zone: ZoneInfo, step_min: int = 10) -> list[str]:
    """What a clock that follows the zone writes: local times of steady UTC steps."""
    from datetime import UTC, datetime

    first = datetime.fromtimestamp(start / 1000, UTC)
    return [
        (first + i * timedelta(minutes=step_min)).astimezone(zone).strftime("%Y-%m-%d %H:%M")
        for i in range(count)
    ]


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("step", [10, 30, 60, 120])
def test_the_doubled_hour_is_told_apart_by_the_order_of_the_rows(
    tmp_path: Path, reverse: bool, step: int
) -> None:
    start = utc(2026, 10, 24, 22)
    rows = _clock_rows(start, 24, VIENNA, step)
    take_in(tmp_path, _autumn(rows[::-1] if reverse else rows))
    assert stored(tmp_path).times.tolist() == [start + i * step * 60_000 for i in range(24)]


def test_a_clock_that_runs_once_through_the_doubled_hour_is_asked_about(tmp_path: Path) -> None:
    rows = [f"2026-10-25 {h:02d}:{m:02d}" for h in range(1, 5) for m in range(0, 60, 10)]
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, _autumn(rows))
    assert asked(error) == {"doubled"}
    take_in(tmp_path, _autumn(rows), zone=timezone(timedelta(hours=1)))
    assert np.diff(stored(tmp_path).times).tolist() == [600_000] * (len(rows) - 1)


def test_a_file_that_ends_in_the_doubled_hour_is_in_its_first_pass(tmp_path: Path) -> None:
    rows = _clock_rows(utc(2026, 10, 24, 23), 9, VIENNA)
    take_in(tmp_path, _autumn(rows))
    assert stored(tmp_path).times[-1] == utc(2026, 10, 25, 0, 20)


def test_the_skipped_hour_is_reported(tmp_path: Path) -> None:
    rows = ["2026-03-29 01:50", "2026-03-29 02:10", "2026-03-29 03:00", "2026-03-29 03:10"]
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, _autumn(rows))
    assert asked(error) == {"zone"}
    staged = take_in(tmp_path, _autumn(rows), as_written=True)
    assert [(r.line, "never was" in r.reason) for r in staged.counts.refused] == [(3, True)]
    assert stored(tmp_path).times.tolist() == [
        utc(2026, 3, 29, 0, 50),
        utc(2026, 3, 29, 1, 0),
        utc(2026, 3, 29, 1, 10),
    ]


def test_new_york_has_its_own_doubled_hour(tmp_path: Path) -> None:
    zone = ZoneInfo("America/New_York")
    start = utc(2026, 11, 1, 4)
    take_in(tmp_path, _autumn(_clock_rows(start, 30, zone)), zone=zone)
    assert np.diff(stored(tmp_path).times).tolist() == [600_000] * 29


def test_a_file_exported_in_another_zone_is_recognised_by_what_is_stored(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    temps = [round(float(t), 2) for t in rng.normal(22, 2, 100)]

    def text(hour: int, n: int) -> str:
        return "Time,Temp (C)\n" + "".join(
            f"2026-04-{3 + (hour * 60 + i * 10) // 1440:02d} {(hour + i // 6) % 24:02d}:{i % 6}0,{temps[i]}\n"
            for i in range(n)
        )

    take_in(tmp_path, text(8, 80))
    with pytest.raises(ProblemError, match="2 h earlier"):
        take_in(tmp_path, text(10, 100), name="L1_again.csv")
    # The same export, a little longer, in the right zone: only what is new is taken in.
    staged = take_in(tmp_path, text(8, 100), name="L1_again.csv")
    assert (staged.kept, staged.doubles) == (20, 80)
    assert len(stored(tmp_path).times) == 100


def test_a_still_cellar_is_not_taken_for_another_zone(tmp_path: Path) -> None:
    """A file that goes on where the last one ended, in air that hardly changes, is no shifted copy."""

    def text(day: int, base: float) -> str:
        return "Time,Temp (C)\n" + "".join(
            f"2026-01-{day:02d} {i // 6:02d}:{i % 6}0,{base + (i // 30) * 0.5}\n" for i in range(144)
        )

    take_in(tmp_path, text(8, 11.0))
    assert take_in(tmp_path, text(9, 11.5), name="L1_b.csv").kept == 144


# --- rows good, bad and twice --------------------------------------------------------------------------


def test_good_rows_stay_and_bad_ones_are_named(tmp_path: Path) -> None:
    text = (
        "Time,Temp (C),RH (%)\n2026-04-03 14:05,20,80\n2026-04-03 14:15,warm,80\n2026-04-03 14:25\n"
        "yesterday,20,80\n2026-04-03 14:45,21,81,9,9\n2026-04-03 14:55,22,82\n"
        "2026-04-03 15:05,--,\nMin;20\nEnd of data\n"
    )
    staged = take_in(tmp_path, text)
    assert staged.kept == 2
    assert [r.line for r in staged.counts.refused] == [3, 4, 5, 6]
    assert staged.counts.refused[0].text == "2026-04-03 14:15,warm,80"
    assert (staged.counts.footer, staged.counts.empty) == (2, 1)
    said = "\n".join(describe(staged, VIENNA))
    assert "2 rows from 3 Apr 2026 14:05 to 3 Apr 2026 14:55, Vienna time" in said
    assert "4 rows are refused" in said
    assert "Line 2 reads as 3 Apr 2026 14:05, 20 °C, 80 % (L1)" in said
    record = intakes(tmp_path)[0][0]
    assert record.refused == 4 and record.layout["refused"][1]["line"] == 4


def test_codes_for_no_sensor_are_missing_and_both_zero_is_no_reading(tmp_path: Path) -> None:
    text = (
        "Time,Temp (C),RH (%)\n2026-04-03 14:05,-999,80\n2026-04-03 14:15,0.0,0.0\n"
        "2026-04-03 14:25,0.0,85\n2026-04-03 14:35,21,999.9\n"
    )
    staged = take_in(tmp_path, text)
    assert values(stored(tmp_path), "temperature_c") == [None, 0.0, 21.0]
    assert values(stored(tmp_path), "humidity_pct") == [80.0, 85.0, None]
    assert staged.counts.missing["-999"] == 1


def test_the_same_file_is_taken_in_once_and_again_after_an_undo(tmp_path: Path) -> None:
    text = "Time,Temp (C)\n2026-04-03 14:05,20\n2026-04-03 14:15,21\n"
    take_in(tmp_path, text)
    again = tmp_path / "other_name.csv"
    again.write_text(text)
    assert already_taken_in(again, Hints(), intakes(tmp_path)[0]) is not None
    undo_file(tmp_path, str(again), MADE)
    assert len(stored(tmp_path).times) == 0
    assert already_taken_in(again, Hints(), intakes(tmp_path)[0]) is None
    with pytest.raises(ProblemError, match="not taken in"):
        undo_file(tmp_path, "L1.csv", MADE)
    take_in(tmp_path, text)
    assert len(stored(tmp_path).times) == 2


def test_a_conflicting_reading_is_kept_and_flagged(tmp_path: Path) -> None:
    take_in(tmp_path, "Time,Temp (C)\n2026-04-03 14:05,20\n2026-04-03 14:15,21\n")
    take_in(
        tmp_path, "Time,Temp (C)\n2026-04-03 14:15,25\n2026-04-03 14:25,22\n", name="L1b.csv", logger="L1"
    )
    found = stored(tmp_path)
    assert values(found, "temperature_c") == [20.0, 21.0, 22.0]
    assert found.conflict["temperature_c"].tolist() == [False, True, False]


def test_several_series_in_one_file_are_asked_about(tmp_path: Path) -> None:
    rows = "".join(f"{tub},2026-04-03 {h:02d}:00,{20 + h / 10 + tub}\n" for tub in (1, 2) for h in range(24))
    text = "Tub,Time,Temp (C)\n" + rows
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, text)
    assert asked(error) == {"by"}
    take_in(tmp_path, text, by=("Tub",), series=(("1", "L2"), ("2", "L10")))
    assert len(stored(tmp_path, "L2").times) == len(stored(tmp_path, "L10").times) == 24
    take_in(tmp_path, text, name="L1.csv", where=(("Tub", "1"),))
    assert values(stored(tmp_path), "temperature_c")[0] == 21.0


def test_which_logger_is_told_by_the_files_name_or_asked(tmp_path: Path) -> None:
    text = "Time,Temp (C)\n2026-04-03 14:05,20\n2026-04-03 14:15,21\n"
    take_in(tmp_path, text, name="l10_april.csv")
    assert len(stored(tmp_path, "L10").times) == 2
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, text, name="april.csv")
    assert asked(error) == {"logger"}


def test_a_workbook_reads_like_a_text_table(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    from datetime import datetime

    book = openpyxl.Workbook()
    for row in (["Report"], [], ["Time", "Temp (°C)", "RH (%)"], [datetime(2026, 4, 3, 14, 5), 20.5, 80],
                [datetime(2026, 4, 3, 14, 15), 20.7, None]):  # fmt: skip
        book.active.append(row)
    book.save(tmp_path / "L1.xlsx")
    staged = take_in(tmp_path, (tmp_path / "L1.xlsx").read_bytes(), name="L1.xlsx")
    assert "commas" not in "".join(describe(staged, VIENNA))
    assert values(stored(tmp_path), "temperature_c") == [20.5, 20.7]
    assert stored(tmp_path).times[0] == utc(2026, 4, 3, 12, 5)


def test_large_files_are_read_in_blocks_and_cut_nowhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from zoneuse.readings.blocks import read_blocks
    from zoneuse.readings.read import file_reader

    monkeypatch.setattr(file_reader, "read_blocks", lambda path, e, d: read_blocks(path, e, d, size=5_000))
    start, count = utc(2026, 10, 23, 22), 3_000
    rows = _clock_rows(start, count, VIENNA)
    lines = [f"{t},{20 + i % 50 / 10:.1f}" for i, t in enumerate(rows)]
    lines.insert(1500, "broken")
    staged = take_in(tmp_path, "Time,Temp (C)\r\n" + "\r\n".join(lines))
    found = stored(tmp_path)
    assert found.times.tolist() == [start + i * 600_000 for i in range(count)]
    assert [r.line for r in staged.counts.refused] == [1502]
