"""Once end to end in a real terminal: tmux, at 80x24 and at the size of a phone."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.recorder.driver import line
from tests.recorder.studies import ROUND, add_newest, make_study
from zoneuse.journal.reader import read_journals

pytestmark = pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")


class Tmux:
    """One window on a server of its own."""

    def __init__(self, socket: Path, size: tuple[int, int], command: str) -> None:
        self._base = ["tmux", "-S", str(socket), "-f", "/dev/null"]
        self.run(
            "new-session",
            "-d",
            "-x",
            str(size[0]),
            "-y",
            str(size[1]),
            f"stty size > {socket}.size; {command}",
        )

    def run(self, *words: str) -> str:
        return subprocess.run(
            [*self._base, *words], capture_output=True, text=True, check=True, timeout=20
        ).stdout

    def keys(self, *keys: str) -> None:
        for key in keys:
            self.run("send-keys", *(() if len(key) > 1 else ("-l",)), key.replace(";", "\\;"))

    def until(self, sign: str, seconds: float = 20.0) -> str:
        end = time.monotonic() + seconds
        while sign not in (shown := self.run("capture-pane", "-p")):
            assert time.monotonic() < end, f"{sign} never came:\n{shown}"
            time.sleep(0.05)
        return shown

    def close(self) -> None:
        subprocess.run([*self._base, "kill-server"], capture_output=True, check=False, timeout=20)


def test_a_round_of_the_retreats_with_one_hand(tmp_path: Path) -> None:
    study = make_study(tmp_path / "study", ROUND)
    command = f"XDG_STATE_HOME={tmp_path} {sys.executable} -m zoneuse watch --study {study}; sleep 60"
    terminal = Tmux(tmp_path / "tmux", (40, 20), command)
    try:
        terminal.until("look into 4 retreats")
        terminal.until("More: shedding")
        terminal.keys("Enter")
        terminal.until("Moss end 1/4")
        terminal.keys("1", "a", ",", "2", "e", "_", "Enter")
        terminal.until("Bark stack 2/4")
        terminal.keys("Tab")
        terminal.until("Leaf litter 3/4")
        terminal.keys("*", "2", "Enter", "BSpace", "Y", "6", "a", "Enter")
        terminal.until("Drain tube 4/4")
        terminal.keys("-")
        terminal.until("Left out: Bark stack")
        terminal.keys("<", "<", "<", "Enter")
        terminal.until("Looked everywhere? Enter: yes")
        time.sleep(0.8)
        terminal.keys("Enter")
        terminal.until("1 recorded as not found")
        terminal.keys(".")
        terminal.until("The session is finished")
        terminal.keys("Enter")
        terminal.until("Found 8 of 9 known to live here.")
    finally:
        terminal.close()
    (session,) = read_journals(study).sessions.values()
    made = [line(dict(e.record.fields)) for e in session.entries if e.record.kind in ("seen", "unseen")]
    assert made == ["a1 moss_end asleep", "a2 moss_end alert ?", "youngx6 leaf_litter asleep", "a3"]
    assert session.closed == "finished"


@pytest.fixture
def opened(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[tuple[Tmux, Path]]:
    study = make_study(tmp_path / "study")
    add_newest(study)
    command = (
        f"XDG_STATE_HOME={tmp_path} {sys.executable} -m zoneuse watch --study {study} --quiet 0; sleep 60"
    )
    terminal = Tmux(tmp_path / "tmux", request.param, command)
    yield terminal, study
    terminal.close()


@pytest.mark.parametrize("opened", [(80, 24), (40, 20)], indirect=True, ids=["80x24", "40x20"])
def test_every_key_of_a_session(opened: tuple[Tmux, Path]) -> None:
    terminal, study = opened
    terminal.until("Begin")
    terminal.until("More: shedding")
    terminal.keys("Enter")
    terminal.until("Broad stripe: where?")
    terminal.keys("c", "r", "w", "m", "-", "c", "3", "w", "2", "-", "1", "Enter")
    terminal.until("Scan 1 is complete")
    terminal.keys("!", "2", "x")
    terminal.until("Strike!")
    terminal.keys("BSpace", '"')
    terminal.until("Note (the beat goes on)")
    terminal.keys(*"fed 1", "Enter")
    terminal.until("fed Broad stripe")
    terminal.keys(":")
    terminal.until("PAUSED")
    terminal.keys(":", "2", ",", ";", "b", "s", "#")
    terminal.until("newest first")
    terminal.keys("Escape")
    time.sleep(0.3)
    terminal.keys("?")
    terminal.until("Your keys")
    terminal.keys("Escape")
    time.sleep(0.3)
    terminal.keys(".")
    terminal.until("again ends it")
    time.sleep(0.6)
    terminal.keys(".")
    terminal.until("The session is finished")
    terminal.keys("Enter")
    terminal.until("1 of 10 scans done")
    (session,) = read_journals(study).sessions.values()
    made = [line(dict(e.record.fields)) for e in session.entries if e.record.kind in ("seen", "unseen")]
    assert made == [
        "a1 moss_end resting @1", "a2 water_dish moving @1", "a3 @1", "youngx3 moss_end @1",
        "youngx2 water_dish @1", "youngx1 @1", "a2 bark soaking ~?@1",
    ]  # fmt: skip
    assert session.closed == "left" and len([e for e in session.void if e.record.kind == "happened"]) == 1
