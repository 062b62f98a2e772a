"""Small made-up exports of many shapes, each with one trap, and what a person would read in them."""

from __future__ import annotations

from pathlib import Path

import pytest

from zoneuse.readings.layout import UndecidedError
from zoneuse.study.problems import ProblemError

from .intaking import stored, take_in, utc, values

AT = utc(2026, 4, 3, 12, 5)  # 14:05 in Vienna
TEMPERATURE = [23.5, 23.6]

READ = {
    "fixed width": "Report\n\nDate        Time      Temp(C)   RH(%)\n----------  --------  --------  ------\n"
    "2026-04-03  14:05:00  23.5      91.0\n2026-04-03  14:15:00  23.6      91.2\n",
    "bars": "| Time | Temp (C) | RH |\n|---|---|---|\n| 2026-04-03 14:05 | 23.5 | 91 |\n"
    "| 2026-04-03 14:15 | 23.6 | 92 |\n",
    "statistics below": "Nr.;Datum/Uhrzeit;Temperatur [°C];rel. Feuchte [%]\n1;2026-04-03 14:05:00;23,5;91,0\n"
    "2;2026-04-03 14:15:00;23,6;91,2\nMittelwert;;23,55;91,1\nMinimum;;23,5;91,0\n",
    "unit row": "Timestamp,Temperature,Relative Humidity,Dew Point\nyyyy-mm-dd hh:mm,degC,%,degC\n"
    "2026-04-03 14:05,23.5,91.0,20\n2026-04-03 14:15,23.6,91.2,20\n",
    "units in the cells": "Fri 03 Apr 2026 14:05;23,5 °C;91 %rF\nFri 03 Apr 2026 14:15;23,6 °C;91 %rF\n",
    "utc beside local": "Time (local),Time (UTC),Temp °C\n2026-04-03 08:05,2026-04-03 12:05,23.5\n"
    "2026-04-03 08:15,2026-04-03 12:15,23.6\n",
    "comment marks": "# logger: L1\n# time zone: UTC\n#time,temperature_c\n2026-04-03 12:05,23.5\n"
    "2026-04-03 12:15,23.6\n",
    "zone name above": "Timezone: America/New_York\n\nTime,Temp (C)\n2026-04-03 08:05,23.5\n"
    "2026-04-03 08:15,23.6\n",
    "microseconds": "time,temp_c\n2026-04-03 14:05:00.000256,23.5\n2026-04-03 14:15:00.000321,23.6\n",
    "compact columns": "DATE,TIME,TEMP_C\n20260403,1405,23.5\n20260403,1415,23.6\n",
    "header again": "Time,Temp (C)\n2026-04-03 14:05,23.5\nTime,Temp (C)\n2026-04-03 14:15,23.6\n",
    "separator line": "sep=;\nTime;Temp (C)\n2026-04-03 14:05;23,5\n2026-04-03 14:15;23,6\n",
    "unquoted unit": "Date Time,Temp, °C,RH, %\n2026-04-03 14:05,23.5,80\n2026-04-03 14:15,23.6,81\n",
    "month in spanish": "Fecha;Temp (C)\n3 abr. 2026 14:05;23,5\n3 abr. 2026 14:15;23,6\n",
    "blank lines": "Time,Temp (C)\r\n\r\n2026-04-03 14:05,23.5\r\n\r\n2026-04-03 14:15,23.6\r\n\r\n",
    "time last": "Temp (C);RH (%);Timestamp\n23,5;91;2026-04-03 14:05\n23,6;91;2026-04-03 14:15\n",
    "long with units": "time,measure,unit,value\n2026-04-03 14:05,temperature,°F,74.3\n"
    "2026-04-03 14:05,humidity,%,80\n"
    "2026-04-03 14:15,temperature,°F,74.48\n",
    "epoch with fractions": "time,temp_c\n1775217900.0,23.5\n1775218500.0,23.6\n",
    "utf-16": "Time\tTemp (°C)\n2026-04-03 14:05\t23,5\n2026-04-03 14:15\t23,6\n",
}  # fmt: skip


@pytest.mark.parametrize("case", READ)
def test_reads_what_a_person_would(tmp_path: Path, case: str) -> None:
    staged = take_in(tmp_path, READ[case], encoding="utf-16" if case == "utf-16" else "utf-8")
    found = stored(tmp_path)
    assert found.times.tolist() == [AT, AT + 600_000]
    assert values(found, "temperature_c") == pytest.approx(TEMPERATURE)
    assert staged.counts.refused_count == 0


ASKED = {
    "no header": ("2026-04-03 14:05:00 23.5 91.0\n2026-04-03 14:15:00 23.6 91.2\n", "columns"),
    "inside and outside": ("Time,Internal Temp (C),External Temp (C)\n2026-04-03 14:05,23.5,22\n"
    "2026-04-03 14:15,23,23\n",
                           "columns"),
    "commas and points": ("Time;Temp (C)\n2026-04-03 14:05;23,5\n2026-04-03 14:15;23.6\n", "decimal"),
}  # fmt: skip


@pytest.mark.parametrize("case", ASKED)
def test_asks_what_a_person_would(tmp_path: Path, case: str) -> None:
    text, hint = ASKED[case]
    with pytest.raises(UndecidedError) as error:
        take_in(tmp_path, text)
    assert hint in {q.hint for q in error.value.questions}


def test_commas_that_part_cells_and_decimals_alike_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ProblemError, match="rows fall apart"):
        take_in(tmp_path, "Time,Temp (C),RH (%)\n2026-04-03 14:05,23,5,91,0\n2026-04-03 14:15,23,6,91,2\n")


def test_thousands_and_other_quantities(tmp_path: Path) -> None:
    text = (
        "Time;Temp. °C;Lux;UV index;Soil moisture (%)\n2026-04-03 14:05;23,5;1.234,5;3,2;33\n"
        "2026-04-03 14:15;23,6;12,5;3,1;34\n"
    )
    take_in(tmp_path, text)
    found = stored(tmp_path)
    assert values(found, "light_lux") == [1234.5, 12.5]
    assert values(found, "uv_index") == [3.2, 3.1]
    assert values(found, "soil_moisture_pct") == [33.0, 34.0]


def test_what_is_measured_in_another_unit_is_left_out_and_said(tmp_path: Path) -> None:
    text = (
        "Time,Temp (C),Light,Soil moisture (raw),Battery (V)\n2026-04-03 14:05,23.5,80,1804,3\n"
        "2026-04-03 14:15,23.6,82,1810,3\n"
    )
    staged = take_in(tmp_path, text)
    assert list(stored(tmp_path).values) == ["temperature_c"]
    assert any("Light" in note for note in staged.layout.notes) and any(
        "Soil" in note for note in staged.layout.notes
    )


def test_daily_readings_of_dates_alone(tmp_path: Path) -> None:
    take_in(tmp_path, "Date,Temp (C)\n2026-04-03,23.5\n2026-04-04,23.6\n")
    assert stored(tmp_path).times.tolist() == [utc(2026, 4, 2, 22), utc(2026, 4, 3, 22)]


def test_bytes_that_are_no_letters_do_not_stop_a_good_table(tmp_path: Path) -> None:
    text = b"\xef\xbb\xbfTime,Temp (C),Event\n2026-04-03 14:05,23.5,\x80\n2026-04-03 14:15,23.6,\n"
    staged = take_in(tmp_path, text)
    assert values(stored(tmp_path), "temperature_c") == TEMPERATURE
    assert [m.says for m in staged.marks] == ["\ufffd"]


def test_epoch_times_beside_one_value_and_a_foot(tmp_path: Path) -> None:
    take_in(
        tmp_path, "Date Time,Temp (C)\n1775217900000,23.5\n1775218200000,\n1775218500000,23.6\nEnd of data"
    )
    assert stored(tmp_path).times.tolist() == [AT, AT + 600_000]
