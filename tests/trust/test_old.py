"""Studies of format 1 stay readable: the kept one is opened, untouched, and gives what it gave when it was made."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.making import run, tree
from tests.trust.make_old import EXPECTED, STUDY, read_now
from zoneuse.journal.reader import read_journals
from zoneuse.journal.records import KINDS

AGAIN = "after a method was changed on purpose: python -m tests.trust.make_old expected, and say so in the changelog"


def flat(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from flat(inner, f"{path}/{name}")
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from flat(inner, f"{path}/{number}")
    else:
        yield path, value


def test_the_kept_study_reads_to_the_digit() -> None:
    before = tree(STUDY)
    now = dict(flat(json.loads(json.dumps(read_now(), default=str))))
    kept = dict(flat(json.loads(EXPECTED.read_text("utf-8"))))
    assert now.keys() == kept.keys(), AGAIN
    for place, value in kept.items():
        # Sums of floats differ in their last bits between processors; nothing else may.
        assert now[place] == (pytest.approx(value, rel=1e-9) if isinstance(value, float) else value), (
            place,
            AGAIN,
        )
    assert tree(STUDY) == before


def test_it_holds_every_kind_of_record() -> None:
    journals = read_journals(STUDY)
    held = {e.record.kind for s in journals.sessions.values() for e in (*s.entries, *s.void)}
    # Time budgets came within this format; tests/journal and the second reader hold them.
    assert held == KINDS.keys() - {"spent"}, "a new kind of record belongs into a study of its own format"


@pytest.mark.parametrize(
    "words", [("zones",), ("readings",), ("mend", "--all"), ("shifts",), ("retreats",), ("plan",)]
)
def test_every_command_reads_it(tmp_path: Path, words: tuple[str, ...]) -> None:
    study = Path(shutil.copytree(STUDY, tmp_path / "old"))
    assert run(*words, "--study", study).exit_code == 0
    assert tree(study) == tree(STUDY)


def test_it_can_be_gone_on_with(tmp_path: Path) -> None:
    study = Path(shutil.copytree(STUDY, tmp_path / "old"))
    assert run("seen", "a1", "moss", "--study", study).exit_code == 0
    assert run("mend", "2026-03-01", "3", "--take-back", "--study", study).exit_code == 0
    kept = tree(STUDY)
    assert {name: data for name, data in tree(study).items() if name in kept} == kept
