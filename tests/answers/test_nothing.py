"""An answer with nothing to go on says which kind of nothing it is, and what to do."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console

from tests.making import run, scans, study_folder
from zoneuse import open_study
from zoneuse.answers.answer import Answer
from zoneuse.answers.study import Study

ASKED: dict[str, Callable[..., Answer]] = {
    "zones": Study.zones, "activity": Study.activity, "prefer": Study.preference, "retreats": Study.retreats,
    "observers": Study.observers,
}  # fmt: skip


@pytest.mark.parametrize("name", ASKED)
def test_without_a_session_it_says_how_to_begin(name: str, tmp_path: Path) -> None:
    answer = ASKED[name](open_study(study_folder(tmp_path)))
    assert answer.headline.startswith("No session is on record yet. Watch a session with zoneuse watch")


@pytest.mark.parametrize("name", ASKED)
def test_filters_that_leave_nothing_are_named_with_what_there_is(name: str, tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for day in (1, 2):
        scans(folder, f"2026-03-0{day}T20:00", [("moss",)])
    answer = ASKED[name](open_study(folder), since="2027-01-01")
    assert answer.headline == (
        "Nothing on record matches what was asked for (from 1 Jan 2027 00:00 on). "
        "Without that, 2 sessions are on record."
    )
    assert not answer.basis.startswith(" ")


def test_a_headline_that_is_a_finding_is_not_said_again(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for day in (1, 2):
        scans(folder, f"2026-03-0{day}T20:00", [("moss",)])
    run("adjust", "water", "moss", "1", "l", "--at", "2026-03-04T10:00", "--study", folder)
    console = Console(width=80, record=True, quiet=False, file=(tmp_path / "out").open("w"))
    answer = open_study(folder).shifts()
    console.print(answer)
    assert console.export_text().count(answer.headline[:40]) == 1
