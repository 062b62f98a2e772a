"""Bytes that are no UTF-8, as a Latin-1 terminal sends for a letter with dots: keys that mean nothing, said once."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from tests.recorder.studies import make_study
from tests.recorder.terminal import Terminal, begin, open_screen, open_terminal

pytest.importorskip("pty")
NO_TEXT = b"sent no UTF-8"


def bad_bytes(terminal: Terminal) -> int:
    """Sends them twice; how often the sentence was begun after the second time."""
    # The first of the two might be the beginning of a letter, until the second comes.
    os.write(terminal.handle, b"\xe4\xe4")
    terminal.until(NO_TEXT)
    terminal.read(0.3)
    told = len(terminal.seen)
    os.write(terminal.handle, b"\xe4\xfc" + b"\xff" * 20)
    terminal.read(1.0)
    return len(re.findall(NO_TEXT, terminal.seen[told:]))


def test_the_session_goes_on_and_keys_behind_it_count(tmp_path: Path) -> None:
    terminal = open_terminal(make_study(tmp_path / "study"))
    begin(terminal)
    try:
        assert bad_bytes(terminal) == 0
        before = terminal.saved
        os.write(terminal.handle, b"\xe41or")
        terminal.until(f"{before + 1} saved".encode())
        assert terminal.status is None
    finally:
        terminal.end()


@pytest.mark.parametrize("command", ["review", "build"])
def test_review_and_build_stay_open(command: str, tmp_path: Path) -> None:
    terminal = open_screen(make_study(tmp_path / "study"), command)
    try:
        terminal.until(b"\xe2\x94" if command == "review" else b"F1")
        assert bad_bytes(terminal) >= 0
        assert terminal.read(0.2), "it ended"
        assert b"Traceback" not in terminal.seen
    finally:
        terminal.end()
