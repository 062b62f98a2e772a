"""`zoneuse mend` alone: the last records of every kind, and one of them corrected by its number."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.making import run, study_folder
from zoneuse.cli.records import mending
from zoneuse.journal.reader import read_journals
from zoneuse.recording.mending import last_made
from zoneuse.recording.mending.made import MANY


@pytest.fixture
def study(tmp_path: Path) -> Path:
    folder = study_folder(tmp_path / "s")
    for words in (
        ("seen", "a1", "moss", "--at", "2026-03-01T20:00"),
        ("note", "weighed", "a2", "12 g"),
        ("note", "fed", "a1", "cricket"),
        ("note", "shed skin whole, colours bright"),
    ):
        assert run(*words, "--study", folder).exit_code == 0
    return folder


def counted(folder: Path) -> list[str]:
    kinds = ("seen", "context", "noted")
    found = (e.record for e in read_journals(folder).entries(*kinds))
    return sorted(str(r.get("zone") or r.get("value") or r.get("text")) for r in found)


def test_every_kind_is_listed_newest_first_in_words(study: Path) -> None:
    lines = run("mend", "--study", study).stdout.splitlines()
    assert [line.split(": ", 1)[1] for line in lines] == [
        "note: shed skin whole, colours bright", "fed Dot cricket", "weighed Line 12 g", "Dot: Moss",
    ]  # fmt: skip
    assert "ago" in lines[0]


def test_a_number_corrects_that_one_and_nothing_else(study: Path) -> None:
    assert run("mend", "3", "--text", "21 g", "--study", study).exit_code == 0
    assert counted(study) == sorted(["21.0", "cricket", "moss", "shed skin whole, colours bright"])
    assert "corrected; was: weighed Line 12 g" in run("mend", "--study", study).stdout
    assert run("mend", "2", "--take-back", "--study", study).exit_code == 0
    assert counted(study) == sorted(["21.0", "moss", "shed skin whole, colours bright"])
    # Taken back, it keeps its number and can be put back.
    assert run("mend", "2", "--put-back", "--study", study).exit_code == 0
    assert "cricket" in counted(study)
    assert run("mend", "4", "--zone", "bark", "--study", study).exit_code == 0
    assert "bark" in counted(study)


def test_a_number_alone_shows_and_changes_nothing(study: Path) -> None:
    before = counted(study)
    assert "weighed Line 12 g" in run("mend", "3", "--study", study).stdout
    assert counted(study) == before
    assert run("mend", "9", "--study", study).exit_code == 2
    assert run("mend", "--take-back", "--study", study).exit_code == 2
    assert counted(study) == before


@pytest.mark.parametrize(
    ("keys", "changed"),
    [("3\nv\n21 g\n", {"21.0"}), ("1\nt\n", set()), ("\n", None), ("4\nz\nb\n", {"bark"}), ("4\n\n", None)],
)
def test_asked_in_a_terminal(
    study: Path, monkeypatch: pytest.MonkeyPatch, keys: str, changed: set[str] | None
) -> None:
    from click.testing import CliRunner

    from zoneuse.cli import cli

    monkeypatch.setattr(mending, "someone_there", lambda: True)
    before = counted(study)
    done = CliRunner().invoke(cli, ["mend", "--study", str(study)], input=keys)
    assert done.exit_code == 0, done.output
    if changed is None:
        assert counted(study) == before
    else:
        assert len(set(before) - set(counted(study))) == 1
        assert set(counted(study)) - set(before) == changed


def test_taken_in_tables_do_not_push_todays_records_away(study: Path, tmp_path: Path) -> None:
    table = tmp_path / "old.csv"
    rows = [f"2025-03-{d:02}T20:00,{d},a1,moss" for d in range(1, 29)]
    table.write_text("at,session,animal,zone\n" + "\n".join(rows) + "\n")
    assert run("sightings", table, "--yes", "--study", study).exit_code == 0
    assert "shed skin" in run("mend", "--study", study).stdout.splitlines()[0]
    assert len(last_made(read_journals(study))) == MANY
