"""The command: refused without a terminal, faults said before any screen, and once in a real terminal."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.making import run, study_folder
from tests.recorder.test_real_terminal import Tmux
from tests.review.keys_in_docs import PAGE, with_table
from tests.review.showing import SKETCHED


def test_without_a_terminal_it_says_what_to_use(small: Path) -> None:
    result = run("review", "--study", small)
    assert result.exit_code == 2 and "needs a terminal" in result.stderr and "zoneuse zones" in result.stderr


def test_the_screens_load_nothing_heavy() -> None:
    code = (
        "import zoneuse.cli.answers.reviewing, zoneuse.screens.review.app as a, zoneuse.screens.review.home, sys\n"
        "import zoneuse.screens.review.answer_screen, zoneuse.screens.review.sessions\n"
        "import zoneuse.screens.review.records, zoneuse.screens.review.readings, zoneuse.screens.review.filters\n"
        "print(*sys.modules)"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert not {"numpy", "pandas", "pyarrow", "scipy", "matplotlib"} & {
        m.split(".")[0] for m in loaded.split()
    }


def test_the_keys_in_the_page_are_those_of_the_program() -> None:
    page = PAGE.read_text("utf-8")
    assert page == with_table(page), "run: python -m tests.review.keys_in_docs"


@pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")
@pytest.mark.parametrize(("size", "said"), [((80, 24), "which moments"), ((40, 20), "which moments")])
def test_a_real_terminal(
    small: Path, own_cache: Path, tmp_path: Path, size: tuple[int, int], said: str
) -> None:
    command = f"XDG_CACHE_HOME={own_cache} {sys.executable} -m zoneuse review --study {small}; echo LEFT $?; sleep 20"
    terminal = Tmux(tmp_path / "tmux", size, command)
    try:
        shown = terminal.until("Two zones · 13 sessions")
        assert "m Moss" in shown
        terminal.until("1 Zones")
        terminal.keys("1")
        terminal.until("13 sessions on 13 days")
        terminal.keys("Enter")
        terminal.until("Sessions · ")
        terminal.keys("/")
        terminal.until(said)
        terminal.keys("Escape")
        terminal.until("Sessions · ")
        terminal.keys("Escape")
        terminal.until("1 Zones ·")
        terminal.keys("C-c")
        terminal.until("LEFT 0")
    finally:
        terminal.close()


@pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")
def test_a_fault_in_the_study_is_said_and_no_screen_opens(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study", SKETCHED.replace("amount = 300", 'amount = "much"'))
    command = f"{sys.executable} -m zoneuse review --study {folder}; echo LEFT $?; sleep 20"
    terminal = Tmux(tmp_path / "tmux", (80, 24), command)
    try:
        shown = terminal.until("LEFT 1")
        assert "Fault:" in shown and "zones.moss" in shown
    finally:
        terminal.close()
