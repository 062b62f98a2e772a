"""`zoneuse readings` from the shell's side: stdout carries the answer, stderr the rest, and the exit status holds."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from zoneuse.cli import cli

STUDY = """# the keeper's own words
format = 1
title = "Cellar"
timezone = "Europe/Vienna"

[enclosure]
measured_in = "places"

[zones.moss]
label = "Moss end"
key = "c"
amount = 1  # one place

[zones.dish]
label = "Dish"
key = "w"
amount = 1

[animals.a1]
label = "Broad stripe"
key = "1"

[behaviours.resting]
label = "Resting"
key = "r"
lasts = true

[loggers.L1]
placed = [{zone = "moss", from = 2026-03-01}]  # under bark

[loggers.L2]
placed = [{zone = "dish", from = 2026-03-01}]
"""
GOOD = "Time,Temp (C),RH (%)\n" + "".join(
    f"2026-04-03 {h:02d}:{m:02d},{20 + h / 10 + m / 100:.2f},{70 + h / 10:.1f}\n"
    for h in range(24)
    for m in (0, 30)
)


@pytest.fixture
def study(tmp_path: Path) -> Path:
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "study.toml").write_text(STUDY)
    (tmp_path / "L1.csv").write_text(GOOD)
    (tmp_path / "L2.csv").write_text(GOOD + "\n")
    return folder


def run(study: Path, *words: str | Path) -> Result:
    return CliRunner().invoke(cli, ["readings", *map(str, words), "--study", str(study)])


def test_many_files_in_one_call(study: Path) -> None:
    result = run(study, study.parent / "L1.csv", study.parent / "L2.csv", "--yes")
    assert result.exit_code == 0
    assert result.stdout == (
        "L1.csv: 48 readings taken in (L1, 3 Apr 2026 00:00 to 3 Apr 2026 23:30, every 30 min).\n"
        "L2.csv: 48 readings taken in (L2, 3 Apr 2026 00:00 to 3 Apr 2026 23:30, every 30 min).\n"
    )
    assert "48 rows from 3 Apr 2026 00:00 to 3 Apr 2026 23:30, Vienna time, every 30 min" in result.stderr
    newest = json.loads((study / "readings" / "newest.json").read_text())
    assert newest["zones"]["moss"]["humidity_pct"] == {
        "value": 72.3,
        "at": "2026-04-03T21:30:00Z",
        "logger": "L1",
    }


def test_the_same_again_changes_nothing(study: Path) -> None:
    run(study, study.parent / "L1.csv", "--yes")
    before = sorted(p.name for p in study.rglob("*") if p.name != "newest.json")
    result = run(study, study.parent / "L1.csv", "--yes")
    assert result.exit_code == 0 and "nothing new" in result.stdout
    assert sorted(p.name for p in study.rglob("*") if p.name != "newest.json") == before


def test_without_a_terminal_it_wants_yes(study: Path) -> None:
    result = run(study, study.parent / "L1.csv")
    assert result.exit_code == 1
    assert "--yes" in result.stderr and result.stdout == ""
    assert not list(study.rglob("*.parquet*"))


def test_what_cannot_be_decided_is_refused_with_its_flag_and_the_others_go_in(study: Path) -> None:
    (study.parent / "x.csv").write_text("Time,Temperature\n03/04/2026 14:05,20\n03/04/2026 14:15,21\n")
    result = run(study, study.parent / "x.csv", study.parent / "L1.csv", "--yes")
    assert result.exit_code == 1
    assert "--unit C or --unit F" in result.stderr and "--logger ID" in result.stderr
    assert "L1.csv: 48 readings" in result.stdout
    result = run(study, study.parent / "x.csv", "--yes", "--unit", "C", "--logger", "L2")
    assert result.exit_code == 1 and "--dates DMY or --dates MDY" in result.stderr
    result = run(study, study.parent / "x.csv", "--yes", "--unit", "C", "--logger", "L2", "--dates", "DMY")
    assert result.exit_code == 0


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (["--logger", "L9", "L1.csv"], 2),
        (["--tz", "Mars/Base", "L1.csv"], 2),
        (["--column", "x", "L1.csv"], 2),
        (["--column", "x=happiness", "L1.csv"], 2),
        (["--salt-point", "L1", "NaCl", "warm", "70"], 2),
        (["--salt-point", "L1", "sugar", "20", "70"], 1),
        (["no-such-file.csv", "--yes"], 1),
        (["--undo", "never.csv"], 1),
    ],
)
def test_exit_statuses(study: Path, words: list[str], status: int) -> None:
    from zoneuse.cli.narration import report_error

    result = run(study, *words)
    code = result.exit_code
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        code = int(report_error(result.exception))  # type: ignore[arg-type]
    assert code == status
    assert not list(study.rglob("*.parquet*"))


def test_refused_rows_are_named_and_the_status_is_0(study: Path) -> None:
    (study.parent / "L1.csv").write_text(GOOD.replace("2026-04-03 05:00,20.50,", "2026-04-03 05:00,warm,"))
    result = run(study, study.parent / "L1.csv", "--yes")
    assert result.exit_code == 0
    assert (
        result.stdout
        == "L1.csv: 47 readings taken in (L1, 3 Apr 2026 00:00 to 3 Apr 2026 23:30, every 30 min), 1 row refused.\n"
    )
    assert "1 x Temp (C): 'warm' is not a number (line 12)" in result.stderr


def test_undo_takes_a_file_out(study: Path) -> None:
    run(study, study.parent / "L1.csv", "--yes")
    result = run(study, "--undo", study.parent / "L1.csv")
    assert result.exit_code == 0 and "48 readings no longer count" in result.stdout
    assert "none yet" in run(study).stdout


def test_the_overview_shows_what_is_there_and_what_is_suspect(study: Path) -> None:
    wet = GOOD.replace("Time", "Time") + "".join(
        f"2026-04-04 {h:02d}:00,19.{h:02d},100.0\n" for h in range(14)
    )
    (study.parent / "L1.csv").write_text(wet)
    run(study, study.parent / "L1.csv", "--yes")
    result = run(study, "--now", "2026-04-06 12:00")
    assert result.exit_code == 0
    first = next(line for line in result.stdout.splitlines() if line.startswith("L1"))
    assert " ".join(first.split()) == "L1 moss 62 3 Apr 2026 00:00 4 Apr 2026 13:00 30 min 1 day ago"
    assert "humidity: 23 % of the readings are at its ceiling" in result.stdout
    assert "L2 |" in result.stdout and "none yet" in result.stdout


def test_a_salt_point_goes_into_the_study_and_its_comments_stay(study: Path) -> None:
    result = run(study, "--salt-point", "L1", "nacl", "20", "78.2", "--now", "2026-04-06 12:00")
    assert result.exit_code == 0 and "75.5 % above nacl at 20 °C" in result.stdout
    text = (study / "study.toml").read_text()
    assert '{salt = "NaCl", at_c = 20.0, shown_pct = 78.2, on = 2026-04-06}' in text
    for comment in ("# the keeper's own words", "# one place", "# under bark"):
        assert comment in text
    run(study, study.parent / "L1.csv", "--yes")
    newest = json.loads((study / "readings" / "newest.json").read_text())
    assert newest["zones"]["moss"]["humidity_pct"]["value"] == pytest.approx(72.3 - 2.721, abs=2e-3)


def test_side_by_side(study: Path) -> None:
    (study.parent / "L2.csv").write_text(GOOD.replace(",7", ",6"))
    run(study, study.parent / "L1.csv", study.parent / "L2.csv", "--yes")
    result = run(study, "--side-by-side", "2026-04-03", "2026-04-04")
    assert "humidity: 2 loggers, 48 common times, 10 % apart" in result.stdout
    assert "L1  +5.00 % from their mean" in result.stdout


def test_control_characters_of_a_file_never_reach_the_terminal(study: Path) -> None:
    text = GOOD.replace("2026-04-03 05:00,20.50,", "2026-04-03 05:00,\x1b[2Jwarm,")
    (study.parent / "L1.csv").write_text(text)
    result = run(study, study.parent / "L1.csv", "--yes")
    assert "\x1b" not in result.stderr + result.stdout


def test_parts_of_one_file_can_be_taken_in_one_after_the_other(study: Path) -> None:
    rows = "".join(f"{t},2026-04-03 {h:02d}:00,{20 + h / 10 + t}\n" for t in (1, 2) for h in range(24))
    (study.parent / "tubs.csv").write_text("Tub,Time,Temp (C)\n" + rows)
    for tub, logger in (("1", "L1"), ("2", "L2")):
        result = run(study, study.parent / "tubs.csv", "--where", f"Tub={tub}", "--logger", logger, "--yes")
        assert result.stdout == (
            f"tubs.csv: 24 readings taken in ({logger}, 3 Apr 2026 00:00 to 3 Apr 2026 23:00, every 1 h).\n"
        )
    result = run(study, study.parent / "tubs.csv", "--where", "Tub=2", "--logger", "L2", "--yes")
    assert "nothing new" in result.stdout
