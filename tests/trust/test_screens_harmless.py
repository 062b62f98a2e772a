"""Hostile names on the screens: shown as they are, never obeyed."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, scans, study_folder
from tests.recorder.studies import STUDY
from tests.recorder.test_screens import SIZES, begin, dump, make_app
from tests.review.showing import answer_all, opened
from tests.trust.strangers import harmless, toml_text

NAMES = [
    "[bold red]x[/bold red]",
    "[/oops]",
    "[@click=app.quit]q[/]",
    "\x1b[2J\x1b[31m",
    "\u202egnp.exe",
    "\x9b31m",
    "a\\nb[",
    "M" * 400,
]


def renamed(text: str, name: str) -> str:
    return re.sub(r'^label = ".*"$', lambda _: f"label = {toml_text(name)}", text, flags=re.MULTILINE)


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
async def test_the_recorder(tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    app, _ = make_app(tmp_path, renamed(STUDY, name))
    async with app.run_test(size=SIZES[0]) as pilot:
        await begin(pilot)
        await pilot.press("c", "r", "b", "m", "minus")
        await pilot.pause()
        shown = dump(app)
        assert harmless(shown) and "saved" in shown
        assert app.is_running


@pytest.mark.parametrize("name", NAMES[:3], ids=range(3))
async def test_the_review(
    tmp_path: Path, tmp_path_factory: pytest.TempPathFactory, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(os.environ, "XDG_CACHE_HOME", str(tmp_path / "cache"))
    folder = study_folder(tmp_path / "study", renamed(TWO_ZONES, name))
    for day in range(1, 7):
        scans(folder, f"2026-03-0{day}T20:00", [("moss", "bark"), ("moss", "moss")], ("a1", "a2"))
    assert run("note", f"x {name}", "--study", folder).exit_code == 0
    assert answer_all(folder, ("sessions", "zones")) == {}
    async with opened(folder, SIZES[0], ("zones",)) as (app, pilot):
        for key in ("1", "escape", "s", "enter", "escape"):
            await pilot.press(key)
            await pilot.pause()
            assert harmless(dump(app))
        assert app.is_running
