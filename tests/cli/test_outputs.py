"""No output replaces a file that exists unasked, and nothing is ever written among a study's records."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.making import run, scans, study_folder

OUTPUTS = [
    ("zones", "--csv"), ("activity", "--csv"), ("prefer", "--csv"), ("shifts", "--csv"), ("retreats", "--csv"),
    ("climate", "--csv"), ("observers", "--csv"), ("plan", "--csv"), ("plan", "--ics"), ("report", "-o"),
]  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = study_folder(tmp_path / "study")
    scans(made, "2026-03-01T20:00", [("moss",), ("bark",)])
    return made


@pytest.mark.parametrize(("command", "option"), OUTPUTS)
def test_a_file_that_exists_stays_as_it_is(folder: Path, tmp_path: Path, command: str, option: str) -> None:
    out = tmp_path / "mine.txt"
    out.write_text("mine")
    refused = run(command, option, out, "--study", folder)
    assert refused.exit_code == 1 and "--force" in refused.stderr
    assert out.read_text() == "mine"
    assert run(command, option, out, "--force", "--study", folder).exit_code == 0
    assert out.read_text() != "mine"


@pytest.mark.parametrize(("command", "option"), OUTPUTS)
@pytest.mark.parametrize("place", ["study.toml", "journal/new.jsonl", "readings/new.json"])
def test_the_study_itself_is_never_written_to(folder: Path, command: str, option: str, place: str) -> None:
    (folder / "readings").mkdir(exist_ok=True)
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    done = run(command, option, folder / place, "--force", "--study", folder)
    assert done.exit_code == 1
    assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before


def test_exported_tables_are_replaced_only_with_force(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "tables"
    assert run("export", out, "--study", folder).exit_code == 0
    assert run("export", out, "--study", folder).exit_code == 1
    assert run("export", out, "--force", "--study", folder).exit_code == 0
