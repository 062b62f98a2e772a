"""From nothing to a study of one's own without an editor, and what `zoneuse` alone says at each step."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.making import TWO_ZONES, run, scans, study_folder
from zoneuse.cli import cli
from zoneuse.cli.narration import say
from zoneuse.cli.study import starting
from zoneuse.cli.study.next_step import next_steps
from zoneuse.study.toml.file import load_declaration

NOW = datetime(2026, 4, 1, tzinfo=UTC)


def begin(folder: Path, monkeypatch: pytest.MonkeyPatch, *lines: str) -> str:
    monkeypatch.setattr(starting, "someone_there", lambda: True)
    done = CliRunner().invoke(cli, ["new", str(folder)], input="\n".join(lines) + "\n")
    assert done.exit_code == 0, done.output
    return done.output


def test_the_questions_make_a_sound_study_with_keys_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = begin(
        tmp_path / "s", monkeypatch, "Skink", "", "Viena", "Europe/Vienna", "n", "floor_cm2",
        "Basking stone 300", "Cool hide 500", "", "", "Ida, Otto", "", "rbd", "", "L1 a", "L2 zz", "", "",
    )  # fmt: skip
    assert "Europe/Vienna" in said.split("There is not a time zone 'Viena'")[1].splitlines()[0]
    declared = load_declaration(tmp_path / "s")
    keys = {z.label: z.key for z in declared.zones.values()}
    assert len(keys) == 2
    assert all(f"  {key}  {label}" in said for label, key in keys.items())
    assert not set(keys.values()) & {b.key for b in declared.behaviours.values()}
    assert set(declared.behaviours) == {"resting", "basking", "drinking"}
    assert [a.label for a in declared.animals.values()] == ["Ida", "Otto"]
    assert run("check", "--study", tmp_path / "s").exit_code == 0
    assert run("look", "Ida=Cool hide", "--study", tmp_path / "s").exit_code == 0


def test_back_changes_one_answer_and_loses_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    begin(
        tmp_path / "s", monkeypatch, "Skrink", "Tiliqua", "UTC", "<", "<", "<", "Skink", "", "", "n", "",
        "Warm 300", "Cold 30", "<", "Cold 300", "", "<", "", "", "Ida", "", "", "", "", "",
    )  # fmt: skip
    declared = load_declaration(tmp_path / "s")
    assert (declared.title, declared.species) == ("Skink", "Tiliqua")
    assert [(z.label, z.amount[0].value) for z in declared.zones.values()] == [("Warm", 300), ("Cold", 300)]


def test_roles_groups_lights_and_limits_are_asked_and_each_can_be_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begin(
        tmp_path / "s", monkeypatch, "Newts", "", "UTC", "n", "", "Moss 400", "Pond 900", "",
        "1 ret", "2 wet", "2 water", "1 basking", "<", "",                   # roles: a wrong one, one taken back
        "Ida", "Young six", "Young 6", "Eggs 9", "<", "", "", "8 to 20:30",  # a group taken back, lights by hand
        "", "s humidity mean 3", "s humidity min 75", "s temperature max 20,5", "s humidity max 98", "",
    )  # fmt: skip
    declared = load_declaration(tmp_path / "s")
    assert {z.label: z.role for z in declared.zones.values()} == {"Moss": "retreat", "Pond": "water"}
    assert [(g.label, g.key, g.size[0].value) for g in declared.groups.values()] == [("Young", "2", 6)]
    text = (tmp_path / "s" / "study.toml").read_text("utf-8")
    assert 'lights = {on = "08:00", off = "20:30"}' in text
    moss = next(z for z in declared.zones.values() if z.label == "Moss").id
    assert f"[limits.{moss}]\nhumidity_pct = {{low = 75, high = 98}}\ntemperature_c = {{high = 20.5}}" in text
    assert run("check", "--study", tmp_path / "s").exit_code == 0


@pytest.mark.parametrize("columns", [80, 40])
def test_in_a_terminal_lines_are_broken_between_words(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    out = Terminal()
    monkeypatch.setattr("sys.stderr", out)
    monkeypatch.setenv("COLUMNS", str(columns))
    words = "A zone whose words go on for longer than a line of any terminal at a tank would hold at once"
    say(f"  3  {words}")
    lines = out.getvalue().splitlines()
    assert len(lines) > 1 and all(len(line) < columns for line in lines)
    assert all(line.startswith("     ") for line in lines[1:])
    assert " ".join(line.strip() for line in lines) == f"3  {words}"


def test_alone_it_says_what_to_do_next(tmp_path: Path) -> None:
    assert "zoneuse new" in " ".join(next_steps(tmp_path, NOW))
    folder = study_folder(tmp_path / "s")
    first = " ".join(next_steps(folder, NOW))
    assert "watch --practice" in first
    assert "readings FILE" in first
    scans(folder, "2026-03-01T20:00", [("moss",)])
    assert "zoneuse plan" in " ".join(next_steps(folder, NOW))
    broken = study_folder(tmp_path / "b", TWO_ZONES.replace("amount = 300", "amount = 3,0"))
    assert "zoneuse check" in " ".join(next_steps(broken, NOW))
    assert "what to do next" in run("--help").stdout
    assert run().exit_code == 0
