"""Answers are registered once; what a registered answer gets without any other line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.making import run, scans, study_folder
from zoneuse import cli as package
from zoneuse.answers import registry
from zoneuse.answers.registry import ANSWERS, AnswerKind, ask_of, columns_of, verdicts_of
from zoneuse.answers.study import Study

# Another name for the zones: a folder and one line, nothing else.
PLACES = AnswerKind("places", "zones", "zones_again", "Places", "Where are they?", "Where they are.")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = study_folder(tmp_path)
    for day in range(1, 8):
        scans(made, f"2026-03-0{day}T20:00", [("moss", "bark")] * 3, ("a1", "a2"))
    return made


@pytest.mark.parametrize("kind", ANSWERS, ids=lambda k: k.name)
def test_each_is_laid_out_alike_and_reached_from_every_side(kind: AnswerKind) -> None:
    assert callable(ask_of(kind)) and columns_of(kind)[0] and "too early" in verdicts_of(kind)
    assert callable(getattr(Study, kind.function))
    assert run(kind.name, "--help").exit_code == 0


def test_an_answer_more_is_one_line(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import zoneuse.answers.zones.ask as ask

    monkeypatch.setattr(ask, "zones_again", ask.zones, raising=False)
    monkeypatch.setattr(registry, "ANSWERS", (*ANSWERS, PLACES))
    monkeypatch.setitem(package.COMMANDS, "places", ("", PLACES.line))
    told = json.loads(run("places", "--study", folder, "--animal", "a1", "--json").stdout)
    assert told["effort"]["moments"] == 21 and told["filters"]["animals"] == ["a1"]
    assert Study(folder).answer("places").effort == Study(folder).zones().effort


def test_counts_are_whole_numbers_and_what_was_asked_for_is_named(folder: Path) -> None:
    answer = Study(folder).zones(animals="a1", slot="any time")
    assert answer.table["moments"].dtype == "int64" and answer.table["sessions"].dtype == "int64"
    assert answer.headline.endswith(" (only Dot, in slot any time).")
    assert answer.to_dict()["filters"]["slot"] == "any time"
    assert answer.table["zone_label"].tolist() == ["Moss", "Bark"]


def test_even_within_prints_its_own_bounds(folder: Path) -> None:
    for day in range(10, 29):
        scans(
            folder,
            f"2026-03-{day}T20:00",
            [("moss", "moss"), ("moss", "bark"), ("bark", "moss")] * 2,
            ("a1", "a2"),
        )
    said = [
        f.says for f in Study(folder).zones(even_within=(0.2, 5)).findings if f.verdict == "in proportion"
    ]
    assert said and all("within 0.2 to 5." in one for one in said)


def test_the_plan_has_findings(folder: Path) -> None:
    told = json.loads(run("plan", "--study", folder, "--now", "2026-04-01", "--json").stdout)
    assert told["findings"] and all(f["verdict"] == "too early" and f["reason"] for f in told["findings"])


def test_without_rows_the_first_finding_is_the_headline(tmp_path: Path) -> None:
    """Faces do not say it twice: they go by this."""
    study = Study(study_folder(tmp_path))
    for kind in ANSWERS:
        answer = getattr(study, kind.function)()
        assert len(answer.table) or answer.findings[0].says == answer.headline, kind.name
