"""What the reader tells a keeper to do about a file it refuses, done to that very file: it goes in then.

Remedies that are flags are run from the shell's side in test_never_silent.py; here are those in plain words, and every
place that prints one. A refusal that is new and not shown here fails ``test_every_refusal_is_shown``.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest

import zoneuse.readings
from zoneuse.readings.layout import UndecidedError
from zoneuse.study.problems import ProblemError

from .intaking import stored, take_in, values
from .test_unseen import UNSEEN

Text = str | bytes
AT = [datetime(2026, 4, 3, 8, 0) + i * timedelta(minutes=10) for i in range(12)]


def table(cells: str, head: str) -> str:
    """A header and twelve rows: t the time, c °C, i the row."""
    return (
        head
        + "\n"
        + "".join(cells.format(t=t, c=round(20 + i / 10, 1), i=i) + "\n" for i, t in enumerate(AT))
    )


GOOD = table("{t:%Y-%m-%d %H:%M},{c}", "Time,Temp (C)")
TWO = 'Time,"Temp, °F","Temp, °F"\n' + table("{t:%Y-%m-%d %H:%M},68.{i},77.{i}", "").lstrip()
OTHER_HEAD = GOOD + "Time,RH (%)\n2026-04-04 08:00,70\n2026-04-04 08:10,71\n"


@dataclass(frozen=True)
class Case:
    """``text`` and ``hints`` are refused as ``code``, with a remedy that says ``says``; ``mended`` and ``then`` are
    what it tells to do. ``then`` is None where the flags stay."""

    code: str
    says: str
    text: Text
    mended: Callable[[Text], Text] = lambda text: text
    hints: Mapping[str, Any] = field(default_factory=dict)
    then: Mapping[str, Any] | None = None
    kept: int = 12
    name: str = "L1.csv"
    new_name: str = "L1.csv"


def _again(_: Text) -> Text:
    return GOOD


def _as_csv(text: Text) -> Text:
    import json

    return "Time,Temp (C)\n" + "".join(f"{r['time']},{r['temp']}\n" for r in json.loads(text))


def _below(text: Text) -> Text:
    """The hours of a matrix below each other."""
    lines = str(text).strip().split("\n")
    hours = lines[1].split(",")[1:]
    rows = [line.split(",") for line in lines[2:]]
    return "Time,Temp (C)\n" + "".join(
        f"{day} {hour},{v}\n" for day, *found in rows for hour, v in zip(hours, found, strict=True)
    )


def _divided(text: Text) -> Text:
    head, *rows = str(text).strip().split("\n")
    cells = [row.split(",") for row in rows]
    return (
        head.replace("0.1 C", "°C").replace("0.1 %", "%")
        + "\n"
        + "".join(f"{t},{float(c) / 10},{float(h) / 10}\n" for t, c, h in cells)
    )


CLOCKLESS = "Date,Time,Temp (C)\n" + "".join(f"{t:%Y-%m-%d},noon+{i},2{i % 10}.5\n" for i, t in enumerate(AT))
ONE_COLUMN = "Time,Temp (C)\n" + "".join(f"{t:%Y-%m-%d %H:%M},2{i % 10}.5\n" for i, t in enumerate(AT))
CASES = [
    Case("not-a-table", "Export the readings as text", b"%PDF-1.7\n\x00\x01\x02" + b"\x00\xff" * 99, _again),
    Case("no-clock", "date and time in one column", CLOCKLESS, lambda _: ONE_COLUMN),
    Case("blanks", "fixed width", table("{t:%Y-%m-%d %H:%M}          {c}", "Time              Note  Temp (C)"),
         lambda text: str(text).replace(" " * 14, ",").replace("Note  ", "Note,").replace(" " * 10, ",,")),
    Case("no-year", "Put a column 'year'", table("93,{t:%H%M},{c}", "day,time,Temp (C)"),
         lambda text: "\n".join(f"2026,{line}" if line[:1].isdigit() else f"year,{line}"
                                for line in str(text).strip().split("\n"))),
    Case("second-header", "files of their own", OTHER_HEAD, lambda text: str(text).split("Time,RH")[0]),
    Case("nothing-taken", "text editor", table("{t:%Y-%m-%d %H:%M},-999", "Time,Temp (C)"),
         lambda text: str(text).replace("-999", "20.5")),
    Case("no-readings", "recording is not empty", "Logger report\nStarted by button\n", _again),
    Case("no-table", "save it as CSV", '[{"time": "2026-04-03 08:00", "temp": 20.5}, {"time": "2026-04-03 08:10", '
         '"temp": 21.5}]\n', _as_csv, kept=2),
    Case("no-time", "Leave out --column", GOOD, hints={"columns": (("2", "at"),)}, then={}),
    Case("no-time", "with their times in one column", UNSEEN["a system's log without years"].text,
         lambda text: "Time,Temp (C)\n" + "".join(
             f"{datetime.strptime('2026 ' + line[:15], '%Y %b %d %H:%M:%S')},{line.split('temp=')[1].split()[0]}\n"
             for line in str(text).strip().split("\n"))),
    Case("hours-across", "below each other", UNSEEN["a day to a row"].text, _below, kept=144),
    Case("side-by-side", "Give --column 2=at", UNSEEN["two blocks side by side"].text,
         then={"columns": (("2", "at"), ("3", "temperature_c"))}, kept=6),
    Case("side-by-side", "--column 5=at and --column 6=", UNSEEN["two blocks side by side"].text,
         then={"columns": (("5", "at"), ("6", "temperature_c"))}, kept=6),
    Case("empty", "Export the readings again", "", _again),
    Case("loose-commas", "Export it again with one of these", table("{t:%Y-%m-%d %H:%M},20,{i},55,0",
         "Time,Temp (C),RH (%)"), lambda text: "\n".join(
             f'{r[0]},"{r[1]},{r[2]}","{r[3]},{r[4]}"' if len(r) == 5 else line
             for line in str(text).split("\n") for r in [line.split(",")])),
    Case("other-unit", "Divide it by ten", UNSEEN["tenths of a degree"].text, _divided),
    Case("other-unit", "Divide the column by ten", UNSEEN["tenths of a degree"].text, _divided,
         hints={"columns": (("2", "temperature_c"),)}),
    Case("other-unit", "Give --column 2=temperature_f", TWO, hints={"columns": (("2", "temperature_c"),)},
         then={"columns": (("2", "temperature_f"),)}),
    Case("columns-alike", "such as --column 2=QUANTITY", TWO, hints={"columns": (("Temp, °F", "temperature_f"),)},
         then={"columns": (("2", "temperature_f"),)}),
    Case("no-numbers", "what is exported", table("{i},{t:%Y-%m-%d %H:%M}", "No.,Time"), _again),
    Case("no-numbers", "Give the column that holds", table("{t:%Y-%m-%d %H:%M},warm,{c}", "Time,Feeling,Temp (C)"),
         hints={"columns": (("2", "temperature_c"),)}, then={"columns": (("3", "temperature_c"),)}),
    Case("no-column", "by its number or its header", GOOD, hints={"columns": (("Hum", "humidity_pct"),)},
         then={"columns": (("Temp (C)", "temperature_c"),)}),
    Case("no-column", "Give --where one of its headers", GOOD, hints={"where": (("Site", "a"),)}, then={}),
    Case("no-column", "Give --by one of its headers", table("{t:%Y-%m-%d %H:%M},a,{c}", "Time,Site,Temp (C)"),
         hints={"by": ("Place",), "series": (("a", "L1"),)}, then={"by": ("Site",), "series": (("a", "L1"),)}),
    Case("column-twice", "Name the logger of each", TWO,
         hints={"columns": (("2", "temperature_f"), ("3", "temperature_f"))},
         then={"columns": (("2", "L1:temperature_f"), ("3", "L2:temperature_f"))}, kept=24),
    Case("column-twice", "leave one out", TWO, hints={"columns": (("2", "temperature_f"), ("3", "temperature_f"))},
         then={"columns": (("2", "temperature_f"),)}),
    Case("date-order", "Leave out --dates",
         table("{t:%d.%m}.2026 {t:%H:%M},{c}", "Time,Temp (C)").replace("03.04", "23.04"), hints={"dates": "MDY"},
         then={}),
    Case("dates", "Look at the file's dates", table("99.99.2026 {t:%H:%M},{c}", "Time,Temp (C)"),
         lambda text: str(text).replace("99.99", "23.04")),
    Case("damaged-workbook", "save it as CSV", b"PK\x03\x04 cut short", _again, name="L1.xlsx"),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.code}: {case.says}")
def test_the_remedy_works_on_the_file_that_caused_it(tmp_path: Path, case: Case) -> None:
    with pytest.raises(ProblemError) as refused:
        take_in(tmp_path, case.text, name=case.name, **case.hints)
    problem = refused.value.problems[0]
    assert problem.code == case.code and case.says in problem.remedy
    then = case.hints if case.then is None else case.then
    staged = take_in(tmp_path, case.mended(case.text), name=case.new_name, **then)
    assert staged.kept == case.kept and staged.counts.refused_count == 0
    assert len(stored(tmp_path).times)


def test_text_without_lines_is_exported_again(tmp_path: Path) -> None:
    from zoneuse.readings.blocks import Encoding, read_blocks

    (tmp_path / "L1.csv").write_text(GOOD.replace("\n", " ") * 20)
    with pytest.raises(ProblemError, match="Export the readings again as text"):
        list(read_blocks(tmp_path / "L1.csv", Encoding("utf-8", 0), size=500))
    (tmp_path / "L1.csv").write_text(GOOD)
    assert len(list(read_blocks(tmp_path / "L1.csv", Encoding("utf-8", 0), size=100))) > 1


def test_a_folder_is_given_by_the_files_in_it(tmp_path: Path) -> None:
    from zoneuse.readings.layout import Hints
    from zoneuse.readings.read.intake import stage

    (tmp_path / "exports").mkdir()
    with pytest.raises(ProblemError, match=r"FOLDER/\*.csv"):
        stage(tmp_path, tmp_path / "exports", ["L1"], UTC, Hints(), intaken=[])
    take_in(tmp_path / "exports", GOOD)


def test_a_sheet_is_given_by_its_name_or_number(tmp_path: Path) -> None:
    data = (Path(__file__).parents[1] / "fixtures" / "old_workbook.xls").read_bytes()
    with pytest.raises(ProblemError, match="Give --sheet one of its sheets") as refused:
        take_in(tmp_path, data, name="L1.xls", sheet="May")
    assert "March, April" in str(refused.value)
    assert take_in(tmp_path, data, name="L1.xls", sheet="April").kept == 6
    assert take_in(tmp_path, data, name="L1.xls", sheet="1").kept == 6


def test_a_workbook_without_its_reader_goes_in_as_csv(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "python_calamine", None)
    data = (Path(__file__).parents[1] / "fixtures" / "old_workbook.xls").read_bytes()
    with pytest.raises(ProblemError, match=r'pip install "zoneuse\[xlsx\]", or save the sheet as CSV'):
        take_in(tmp_path, data, name="L1.xls")
    take_in(tmp_path, GOOD)


def test_an_export_in_another_zone_goes_in_with_its_own(tmp_path: Path) -> None:
    hot = [20 + (i * 7 % 11) / 10 for i in range(40)]
    at = [datetime(2026, 4, 3, 8, 0) + i * timedelta(minutes=10) for i in range(40)]

    def export(hours: int) -> str:
        return "Time,Temp (C)\n" + "".join(
            f"{t + timedelta(hours=hours):%Y-%m-%d %H:%M},{v}\n" for t, v in zip(at, hot, strict=True)
        )

    take_in(tmp_path, export(0), zone=UTC)
    with pytest.raises(ProblemError, match="give the one it was exported in with --tz") as refused:
        take_in(tmp_path, export(3), name="L1_b.csv", **{"zone": UTC})
    assert refused.value.problems[0].code == "shifted"
    # The flag goes before the study's zone.
    staged = _staged_in(tmp_path, export(3), timezone(timedelta(hours=3)))
    assert (staged.kept, staged.doubles) == (0, 40)


def _staged_in(folder: Path, text: str, zone: timezone) -> Any:
    from zoneuse.readings.layout import Hints
    from zoneuse.readings.read.intake import stage
    from zoneuse.readings.store.store import intakes

    (folder / "L1_b.csv").write_text(text)
    staged = stage(folder, folder / "L1_b.csv", ["L1"], UTC, Hints(zone=zone), intaken=intakes(folder)[0])
    staged.discard()
    return staged


def test_a_file_is_taken_out_by_its_id_where_several_have_its_name(tmp_path: Path) -> None:
    from zoneuse.readings.read.intake import undo_file
    from zoneuse.readings.store.store import intakes

    take_in(tmp_path, GOOD)
    take_in(tmp_path, GOOD.replace("2026-04-03", "2026-04-04"))
    (tmp_path / "L1.csv").unlink()
    made = datetime(2026, 5, 1, tzinfo=UTC)
    with pytest.raises(ProblemError, match="Give its id: zoneuse readings --undo ID"):
        undo_file(tmp_path, "L1.csv", made)
    first, second = intakes(tmp_path)[0]
    undo_file(tmp_path, second.id, made)
    assert [i.id for i in intakes(tmp_path)[0]] == [first.id]
    with pytest.raises(ProblemError, match="zoneuse readings lists what is there"):
        undo_file(tmp_path, second.id, made)


def test_damaged_readings_come_back_by_undoing_and_taking_in_again(tmp_path: Path) -> None:
    from zoneuse.readings.read.intake import undo_file
    from zoneuse.readings.store.store import intakes

    take_in(tmp_path, GOOD)
    part = next((tmp_path / "readings" / "logger=L1").glob("*.parquet"))
    part.write_bytes(part.read_bytes()[:-40])
    problems = intakes(tmp_path)[1]
    assert problems[0].code == "damaged-readings" and "undo that intake" in problems[0].remedy
    undo_file(tmp_path, "L1.csv", datetime(2026, 5, 1, tzinfo=UTC))
    assert take_in(tmp_path, GOOD).kept == 12 and intakes(tmp_path)[1] == []
    assert values(stored(tmp_path), "temperature_c")[0] == 20.0


def test_a_damaged_record_is_mended_by_taking_the_file_in_again(tmp_path: Path) -> None:
    from zoneuse.readings.store.store import intakes

    take_in(tmp_path, GOOD)
    record = next((tmp_path / "readings" / "taken-in").glob("*.json"))
    whole = record.read_bytes()
    record.write_bytes(whole[:60])
    assert (
        intakes(tmp_path)[1][0].code == "damaged-record"
        and "take the file in again" in intakes(tmp_path)[1][0].remedy
    )
    assert take_in(tmp_path, GOOD).kept == 12
    record.write_bytes(whole)
    assert intakes(tmp_path)[1] == []


def test_a_study_without_loggers_takes_the_file_once_one_is_added(tmp_path: Path) -> None:
    with pytest.raises(UndecidedError, match="no loggers yet: add"):
        take_in(tmp_path, GOOD, name="april.csv", loggers=())
    assert take_in(tmp_path, GOOD, name="april.csv", loggers=("L7", "L8"), logger="L7").kept == 12


# Shown elsewhere, or no remedy but what it says: each with where or why.
ELSEWHERE = {
    "lines": "a guard: no file is known for which the counts do not add up",
    "not-lines": "test_text_without_lines_is_exported_again",
    "unreadable": "the system's own words; nothing to run",
    "newer-format": "a newer version, of which there is none yet (tests/trust)",
    "no-logger": "test_calibration: names the loggers there are",
    "salt": "test_calibration: names the salts and spans there are",
    "several-units": "test_adversary: --where as printed, for each unit",
    "out-of-range": "test_adversary: divided by ten",
    "rounded-times": "test_adversary: exported with all digits",
    "a-folder": "test_a_folder_is_given_by_the_files_in_it",
    "no-sheet": "test_a_sheet_is_given_by_its_name_or_number",
    "no-xlsx": "test_a_workbook_without_its_reader_goes_in_as_csv",
    "shifted": "test_an_export_in_another_zone_goes_in_with_its_own",
    "several": "test_a_file_is_taken_out_by_its_id_where_several_have_its_name",
    "not-taken-in": "the same",
    "damaged-live": "tests/live: the line is named",
    "damaged-readings": "test_damaged_readings_come_back_by_undoing_and_taking_in_again",
    "damaged-record": "test_a_damaged_record_is_mended_by_taking_the_file_in_again",
}
# What is asked: its flags are run by test_never_silent and fuzz, as printed.
ASKED = {
    "by",
    "as_written",
    "columns",
    "sheet",
    "zone",
    "start",
    "unit",
    "decimal",
    "logger",
    "dates",
    "doubled",
}


def test_every_refusal_is_shown() -> None:
    calls = [
        (call.func.id, call.args[0].value)
        for path in Path(zoneuse.readings.__file__).parent.rglob("*.py")
        for call in ast.walk(ast.parse(path.read_text()))
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name)
        and call.func.id in ("fault", "Problem", "LeftOpen") and isinstance(call.args[0], ast.Constant)
    ]  # fmt: skip
    refusals = {code for kind, code in calls if kind != "LeftOpen"}
    assert refusals <= {case.code for case in CASES} | ELSEWHERE.keys()
    assert {hint for kind, hint in calls if kind == "LeftOpen"} <= ASKED
