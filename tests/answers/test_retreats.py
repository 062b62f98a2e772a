"""The retreats answer, through the open study and the command."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.making import run, scans, study_folder
from zoneuse import open_study


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Twenty checks: Dot always in the moss; Line in moss and bark by turns, once not found."""
    folder = study_folder(tmp_path / "study")
    for day in range(1, 21):
        line = None if day == 20 else ("moss" if day % 2 else "bark")
        # The second scan of a session repeats the first and must not count.
        scans(folder, f"2026-03-{day:02d}T20:00", [("moss", line), ("bark", "bark")], ("a1", "a2"))
    return folder


def test_only_the_first_scan_of_a_session_is_a_check(folder: Path) -> None:
    table: Any = open_study(folder).retreats().table.set_index(["animal", "zone"])
    assert table.loc[("a1", "moss"), "share"] == 1
    assert table.loc[("a1", "moss"), "visits"] == 20
    assert table.loc[("a2", "moss"), "visits"] == 10
    assert table.loc[("a2", "moss"), "share"] == pytest.approx(10 / 19)
    assert table.loc[("a1", "moss"), "home"]


def test_an_animal_that_never_moves_gives_one_look(folder: Path) -> None:
    table: Any = open_study(folder).retreats().table.set_index(["animal", "zone"])
    assert table.loc[("a1", "moss"), "share_low"] < 0.3
    assert table.loc[("a2", "moss"), "share_low"] > 0.3


def test_stays_and_homes(folder: Path) -> None:
    table: Any = open_study(folder).retreats().table.set_index(["animal", "zone"])
    assert table.loc[("a1", "moss"), "stay_probability"] == 1
    assert table.loc[("a2", "bark"), "stay_probability"] == 0


def test_the_check_without_one_of_two_is_not_apart(folder: Path) -> None:
    pair = open_study(folder).retreats().parts["pairs"].iloc[0]
    assert pair["half_weight"] == pytest.approx(10 / (10 + 9 + 0.5))


def test_the_command_gives_the_same_as_json(folder: Path) -> None:
    result = run("retreats", "--study", folder, "--json")
    assert result.exit_code == 0
    found = json.loads(result.stdout)
    assert found["answer"] == "retreats"
    assert list(found["rows"][0]) == [
        "animal", "animal_label", "group", "group_label", "zone", "zone_label", "share", "share_low", "share_high",
        "n_eff", "df", "se", "visits", "stay_probability", "home",
    ]  # fmt: skip


def test_a_study_without_checks_says_so(tmp_path: Path) -> None:
    answer = open_study(study_folder(tmp_path / "empty")).retreats()
    assert [f.verdict for f in answer.findings] == ["too early"]


def test_an_empty_retreat_is_named_with_what_that_is_worth(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study")
    for day in range(1, 11):
        scans(folder, f"2026-03-{day:02d}T20:00", [("moss",)])
    empty = [f for f in open_study(folder).retreats().findings if f.about == ("bark",)]
    # It never moved: one look, however many checks.
    assert [f.verdict for f in empty] == ["too early"]
    assert "10 checks" in empty[0].says and "about 580 empty checks" in empty[0].says
