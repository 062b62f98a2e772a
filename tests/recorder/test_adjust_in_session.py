"""A change made during a session goes on record from the note box, in the words of the shell."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.making import run, study_folder, vienna
from zoneuse.journal.reader import read_journals
from zoneuse.recording.session.notes import understand
from zoneuse.study.names import UnknownNameError
from zoneuse.study.toml.file import load_declaration

AT = vienna("2026-03-04T21:30")


def test_what_where_how_much_what_is_expected_and_why(tmp_path: Path) -> None:
    declared = load_declaration(study_folder(tmp_path))
    said = understand(
        declared,
        [
            "adjust",
            "water",
            "m",
            "bark",
            "2",
            "l",
            "expects",
            "moss:up",
            "because",
            "the",
            "hide",
            "is",
            "dry",
        ],
        AT,
    )
    fields = dict(said.fields)
    assert fields.pop("adjustment").startswith("water-2026-03-04-")
    assert said.kind == "adjusted"
    assert fields == {
        "what": "water", "zones": ["moss", "bark"], "amount": 2.0, "unit": "l", "why": "the hide is dry",
        "expects": [{"what": "zone", "name": "moss", "direction": "up"}], "settle_h": 48.0,
    }  # fmt: skip


@pytest.mark.parametrize(
    "text", ["adjust", "adjust water", "adjust flood m", "adjust water m expects m:sideways"]
)
def test_what_is_no_change_says_what_would_be(tmp_path: Path, text: str) -> None:
    declared = load_declaration(study_folder(tmp_path))
    with pytest.raises(ValueError):
        understand(declared, text.split(), AT)


def test_an_unknown_zone_is_named(tmp_path: Path) -> None:
    declared = load_declaration(study_folder(tmp_path))
    with pytest.raises(UnknownNameError, match="cave"):
        understand(declared, ["adjust", "water", "cave"], AT)


def test_from_the_shell_too(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    assert run("note", "adjust", "cover", "bark", "--study", folder).exit_code == 0
    (entry,) = read_journals(folder).entries("adjusted")
    assert entry.record.get("settle_h") == 168.0
