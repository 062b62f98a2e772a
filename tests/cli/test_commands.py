"""The command line: help, exit statuses, and what it says of bad input, with nothing changed on disk."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, scans, study_folder, tree
from zoneuse.cli import COMMANDS
from zoneuse.journal.reader import read_journals


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_with_an_example(command: str) -> None:
    result = run(command, "-h")
    assert result.exit_code == 0
    assert "Example" in result.stdout
    assert f"zoneuse {command}" in " ".join(result.stdout.split())


def test_help_lists_every_command_once() -> None:
    listed = run("--help").stdout
    assert all(listed.count(f"\n  {name} ") == 1 for name in COMMANDS)


def test_an_unknown_command_is_status_2() -> None:
    assert run("zonez").exit_code == 2


@pytest.mark.parametrize(
    "command", [("zones",), ("prefer",), ("check",), ("adjust", "water", "moss"), ("sightings", "x.csv")]
)
def test_no_study_gets_one_clear_message(tmp_path: Path, command: tuple[str, ...]) -> None:
    result = run(*command, "--study", tmp_path)
    assert result.exit_code == 1
    assert "there is no study here" in result.stderr
    assert "zoneuse new" in result.stderr
    assert result.stdout == ""
    assert tree(tmp_path) == {}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (TWO_ZONES.replace("format = 1", "format = 9"), "newer zoneuse"),
        (
            TWO_ZONES.replace('key = "b"', 'key = "m"').replace("amount = 300", "amount = 0"),
            "zones.moss.amount",
        ),
        ("\x00\x01\x02", "study.toml"),
        ("", "format"),
    ],
)
def test_a_faulty_study_is_refused_by_every_answer_and_left_alone(
    tmp_path: Path, text: str, says: str
) -> None:
    folder = study_folder(tmp_path, text)
    before = tree(folder)
    for command in ("check", "zones", "prefer"):
        result = run(command, "--study", folder)
        assert result.exit_code == 1
        assert says in result.stderr
        assert "Traceback" not in result.stderr
        assert result.stdout == ""
    assert tree(folder) == before


def test_new_without_a_terminal_starts_a_study_that_passes_check(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    assert run("new", folder).exit_code == 0
    assert run("check", "--study", folder).exit_code == 0
    again = run("new", folder)
    assert again.exit_code == 1
    assert "already there" in again.stderr


def test_new_from_another_study_copies_its_declaration(tmp_path: Path) -> None:
    source = study_folder(tmp_path / "a")
    assert run("new", tmp_path / "b", "--from", source / "study.toml").exit_code == 0
    assert (tmp_path / "b" / "study.toml").read_text(encoding="utf-8") == TWO_ZONES


def test_an_empty_study_answers_that_it_is_too_early(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for command in ("zones", "prefer"):
        answer = json.loads(run(command, "--study", folder, "--json").stdout)
        assert answer["answer"] == command
        assert answer["rows"] == []
        assert [f["verdict"] for f in answer["findings"]] == ["too early"]


def test_few_sessions_are_too_early_and_say_what_is_needed(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for day in (1, 2):
        scans(folder, f"2026-03-0{day}T20:00", [("moss",)] * 10)
    answer = json.loads(run("zones", "--study", folder, "--json").stdout)
    assert {f["verdict"] for f in answer["findings"]} == {"too early"}
    assert "at least 5 sessions on 3 days" in answer["findings"][0]["says"]
    assert all(f["standing"] == "" for f in answer["findings"])


def test_json_has_the_documented_shape_and_csv_the_table(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s", TWO_ZONES.replace('label = "Moss"', 'label = "=1+1"'))
    for day in range(1, 8):
        scans(folder, f"2026-03-0{day}T20:00", [("moss",), ("bark",), (None,)])
    csv_file = tmp_path / "zones.csv"
    answer = json.loads(run("zones", "--study", folder, "--json", "--csv", csv_file).stdout)
    assert list(answer) == [
        "schema",
        "answer",
        "study",
        "zoneuse",
        "filters",
        "effort",
        "rows",
        "parts",
        "findings",
        "cautions",
        "seed",
    ]
    assert list(answer["rows"][0]) == [
        "zone", "zone_label", "available", "used", "used_low", "used_high", "ratio", "ratio_low", "ratio_high",
        "unseen_low", "unseen_high", "n_eff", "df", "se", "moments", "sessions", "verdict", "reason",
    ]  # fmt: skip
    row = answer["rows"][0]
    assert row["available"] == pytest.approx(0.75)
    assert row["used"] == pytest.approx(0.5)
    assert (row["unseen_low"], row["unseen_high"]) == pytest.approx((1 / 3, 2 / 3))
    lines = csv_file.read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("zone,zone_label,available,used") and lines[0].endswith("verdict,reason")
    assert len(lines) == 3


def test_filters_narrow_an_answer_and_unknown_ones_are_named(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for day in range(1, 8):
        scans(folder, f"2026-03-0{day}T20:00", [("moss", "bark")] * 3, ("a1", "a2"))
    for option, moments in (
        (("--animal", "Dot"), 21),
        (("--animal", "1,2"), 42),
        (("--since", "2026-03-07"), 6),
    ):
        answer = json.loads(run("zones", "--study", folder, "--json", *option).stdout)
        assert answer["effort"]["moments"] == moments
    wrong = run("zones", "--study", folder, "--animal", "a7")
    assert wrong.exit_code == 1
    assert "a7" in wrong.stderr
    assert run("zones", "--study", folder, "--since", "whenever").exit_code == 2


def test_an_adjustment_goes_on_record_with_what_is_expected(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    result = run(
        "adjust", "water", "m", "2", "l", "--why", "hides drying", "--expects", "moss:up", "--at", "2026-03-04 21:30",
        "--study", folder,
    )  # fmt: skip
    assert result.exit_code == 0, result.stderr
    (entry,) = read_journals(folder).entries("adjusted")
    fields = dict(entry.record.fields)
    assert fields.pop("adjustment") in result.stdout
    assert fields == {
        "what": "water", "zones": ["moss"], "amount": 2.0, "unit": "l", "why": "hides drying",
        "expects": [{"what": "zone", "name": "moss", "direction": "up"}], "settle_h": 48.0,
    }  # fmt: skip
    assert entry.record.at.isoformat() == "2026-03-04T20:30:00+00:00"


@pytest.mark.parametrize(
    "arguments",
    [
        ("adjust", "water", "cave"),
        ("adjust", "flood", "moss"),
        ("adjust", "water", "moss", "--expects", "moss:sideways"),
        ("adjust", "water", "moss", "--settle", "soon"),
        ("adjust", "water", "moss", "--undoes", "water-1"),
        ("adjust", "water", "moss", "--draw-from", "2026-03-01", "--draw-until", "2026-03-10"),
    ],
)
def test_a_wrong_adjust_is_status_2_and_records_nothing(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    folder = study_folder(tmp_path)
    before = tree(folder)
    result = run(*arguments, "--study", folder)
    assert result.exit_code == 2
    assert result.stderr
    assert tree(folder) == before


def test_a_drawn_day_is_sealed_among_at_least_twenty(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    result = run(
        "adjust", "heat", "moss", "--draw-from", "2026-03-01", "--draw-until", "2026-03-20", "--study", folder
    )
    assert result.exit_code == 0, result.stderr
    (entry,) = read_journals(folder).entries("drawn")
    assert len(entry.record.get("days")) == 20
    assert entry.record.get("day") in entry.record.get("days")
    name = entry.record.get("adjustment")
    assert run("adjust", "heat", "moss", "--drawn", name, "--study", folder).exit_code == 0
    assert [e.record.get("adjustment") for e in read_journals(folder).entries("adjusted")] == [name]


def test_the_demo_is_a_sound_study_with_answers(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    result = run("demo", folder)
    assert result.exit_code == 0, result.stderr
    said = " ".join(result.stdout.split())
    # The five sentences of the page, not a table.
    assert "Eight animals in one enclosure" in said
    # What its script made true is what it tells: the pipe is too dry, the moved bark was found, the moss is drying.
    assert re.search(r"Clay pipe \([^)]*\) is avoided", said)
    assert "What speaks most against Clay pipe is that it is too dry" in said
    assert (
        "After the new layout on 1 Apr 2026 19:30, use of Cork bark rose" in said
        and "You expected it to rise, and that is the way it went" in said
    )
    dry = run("climate", "--study", folder, "--now", "2026-04-26T12:00").stdout
    assert re.search(r"Moss end (will pass your limit|is drying)", " ".join(dry.split()))
    assert len(result.stdout.splitlines()) < 24
    assert run("check", "--study", folder).exit_code == 0
    assert run("demo", folder).exit_code == 1


def test_labels_from_a_stranger_cannot_steer_the_terminal(tmp_path: Path) -> None:
    hostile = "\\u001b[2J\\u202eevil"
    folder = study_folder(tmp_path, TWO_ZONES.replace('label = "Moss"', f'label = "{hostile}"'))
    for day in range(1, 8):
        scans(folder, f"2026-03-0{day}T20:00", [("moss",)] * 5)
    shown = run("zones", "--full", "--study", folder).stdout
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    assert "evil" in shown


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (("check",), 0),
        (("zones", "--cluster", "week"), 2),
        (("sightings", "none.csv"), 1),
        (("--version",), 0),
    ],
)
def test_the_shell_gets_the_status(tmp_path: Path, arguments: tuple[str, ...], status: int) -> None:
    folder = study_folder(tmp_path)
    done = subprocess.run(
        [sys.executable, "-m", "zoneuse", *arguments],
        cwd=folder,
        capture_output=True,
        stdin=subprocess.DEVNULL,
    )
    assert done.returncode == status


def test_the_shell_gets_the_status_of_a_faulty_study(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TWO_ZONES.replace('key = "b"', 'key = "m"'))
    done = subprocess.run([sys.executable, "-m", "zoneuse", "check"], cwd=folder, capture_output=True)
    assert done.returncode == 1


def test_what_counts_as_even_and_as_usual_can_be_set(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study", TWO_ZONES)
    for day in range(2, 26):
        scans(folder, f"2026-03-{day:02d}T20:00", [("moss",)] * (6 + day % 3) + [("bark",)] * (3 - day % 2))
    strict = json.loads(run("zones", "--study", folder, "--json", "--even-within", "0.99", "1.01").stdout)
    loose = json.loads(run("zones", "--study", folder, "--json", "--even-within", "0.2", "5").stdout)
    assert "in proportion" not in {f["verdict"] for f in strict["findings"]}
    assert {f["verdict"] for f in loose["findings"]} == {"in proportion"}
    told = run("activity", "--study", folder, "--recent-from", "2026-03-15", "--usual-within", "0.3")
    assert told.exit_code == 0, told.output
