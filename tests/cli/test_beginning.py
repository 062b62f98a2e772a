"""From nothing to a study of one's own without an editor, and what `zoneuse` alone says at each step."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.making import TWO_ZONES, run, scans, study_folder
from zoneuse.cli import cli
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
        "Basking stone 300", "Cool hide 500", "", "Ida, Otto", "rbd", "L1 a", "L2 zz", "",
    )  # fmt: skip
    assert "Europe/Vienna" in said.split("There is no time zone 'Viena'")[1].splitlines()[0]
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
        "Warm 300", "Cold 30", "<", "Cold 300", "", "<", "", "Ida", "", "",
    )  # fmt: skip
    declared = load_declaration(tmp_path / "s")
    assert (declared.title, declared.species) == ("Skink", "Tiliqua")
    assert [(z.label, z.amount[0].value) for z in declared.zones.values()] == [("Warm", 300), ("Cold", 300)]


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
