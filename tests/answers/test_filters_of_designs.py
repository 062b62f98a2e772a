"""Answers of one treatment, or one phase: the numbers are those of its moments and of no other."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.answers.test_shifts_between import CHAMBER, animals, trials
from tests.making import run, study_folder, vienna
from zoneuse import open_study
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.study import ProblemError
from zoneuse.study.toml.file import load_declaration

PHASES = """
[phases.first_day]
until = 2026-03-03
[phases.later]
label = "Second day"
from = 2026-03-03
"""


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six animals, each under the control on one day and under the spider on another, half of them first."""
    folder = study_folder(tmp_path_factory.mktemp("both"), CHAMBER + PHASES + animals(6))
    tried = [(i, "spider" if (i + turn) % 2 else "control", 0.8 if (i + turn) % 2 else 0.2)
             for turn in range(2) for i in range(6)]  # fmt: skip
    trials(folder, tried, per_day=6)
    return folder


def test_zones_and_activity_of_a_treatment_count_its_moments_only(both: Path) -> None:
    study = open_study(both)
    for treatment, share in (("control", 0.2), ("spider", 0.8)):
        zones = study.zones(treatments=treatment)
        hide = zones.table.set_index("zone").loc["hide"]
        assert hide["used"] == pytest.approx(share), treatment
        assert zones.effort["moments"] == 60 and zones.effort["sessions"] == 6
        doing = study.activity(treatments=[treatment]).table.set_index("behaviour")
        assert doing.loc["resting", "share"] == pytest.approx(share)
        # Each moment outside the hide brought one flick: ten scans of six trials, a minute apart.
        assert doing.loc["flick", "per_hour"] == pytest.approx((1 - share) * 60)
    # Both together are all there is, which is none of the two.
    every = study.zones(treatments="control,spider").table.set_index("zone").loc["hide", "used"]
    assert every == pytest.approx(0.5) == study.zones().table.set_index("zone").loc["hide", "used"]


def test_a_phase_and_a_treatment_meet_and_are_named_like_every_filter(both: Path) -> None:
    told = run("zones", "--json", "--treatment", "Spider model", "--phase", "later", "--study", both)
    found = json.loads(told.stdout)
    assert found["filters"]["treatments"] == ["spider"] and found["filters"]["phases"] == ["later"]
    assert (found["effort"]["sessions"], found["effort"]["days"]) == (3, 1)
    # What is inside the filters is accounted for, and no more: 30 sightings of three trials.
    assert found["effort"]["records"] == found["effort"]["counted"] == 30
    printed = run("zones", "--treatment", "spider", "--phase", "later", "--study", both).stdout
    assert "(only under Spider model, in Second day)." in " ".join(printed.split())
    first = open_study(both).shifts(between="control,spider", phases="first_day")
    assert "3 animals against 3" in first.basis


def test_a_name_that_is_none_says_which_there_are(both: Path) -> None:
    with pytest.raises(ProblemError, match="'nothing' is no treatment here; known: control, spider, cloth"):
        open_study(both).zones(treatments="nothing")
    told = run("activity", "--phase", "latter", "--study", both)
    assert told.exit_code and "the nearest name is 'later'." in told.stderr and "?." not in told.stderr


def test_rounds_that_found_nobody_belong_to_their_treatment(tmp_path: Path) -> None:
    text = CHAMBER.replace("amount = 100", 'amount = 100\nrole = "retreat"') + PHASES + animals(2)
    declared = load_declaration(study_folder(tmp_path, text))
    for day, treatment in ((1, "control"), (2, "control"), (3, "control"), (4, "spider"), (5, "spider")):
        at = vienna(f"2026-03-0{day}T12:00")
        rows = [RecordToWrite("checked", {"zone": zone}, at) for zone in ("hide", "far")]
        # On the first and the last day somebody was there.
        rows += [RecordToWrite("seen", {"animal": "a0", "zone": "hide"}, at)] if day in (1, 5) else []
        write_rows(declared, at, rows, method="retreat-round", treatment=treatment)
    study = open_study(tmp_path)
    checks = {
        asked: study.retreats(**dict([asked])).basis.split(";")[0]  # type: ignore[arg-type]
        for asked in (
            ("treatments", None),
            ("treatments", "control"),
            ("treatments", "spider"),
            ("phases", "first_day"),
        )
    }
    assert [said.split(" on ")[0] for said in checks.values()] == [
        "5 checks",
        "3 checks",
        "2 checks",
        "2 checks",
    ]
