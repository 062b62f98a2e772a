"""Nothing recorded is lost: the process is killed, hung up on, refused the disk; what was shown is there."""

from __future__ import annotations

import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.recorder.studies import ROUND, STUDY, make_study
from tests.recorder.terminal import Terminal, begin, open_terminal
from zoneuse.journal.reader import Session, read_journals
from zoneuse.recording.modes.opening import go_on, plan_of
from zoneuse.recording.modes.sheet import COUNTED
from zoneuse.recording.session.instant import read_clocks
from zoneuse.recording.session.past import read_past
from zoneuse.recording.session.plan import make_plan
from zoneuse.study.toml.file import load_declaration

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs a pseudo-terminal")
# Every scan again: answers, counts, an event, an undo, a note.
KEYS = [
    "c",
    "r",
    "w",
    "m",
    "-",
    "c3 w2-1\r",
    "1",
    "b",
    "s",
    "!2x",
    "\x7f",
    "2",
    ",d",
    "r",
    '"',
    "fed 1\r",
    "3",
    "+",
]

# A round and back again: animals, counts, some not told apart, covers, retreats left out, an undo.
ROUND_KEYS = [
    "1", "a", ",2", "e", "Y3", "a", "*", "\r", "_", "\r", "\t", "3", "\x7f", "\r", "\r", "c", "1", "\r", "b", "2", "\r",
]  # fmt: skip


def watch_for_a_while(terminal: Terminal, seconds: float, seed: int, script: Sequence[str] = KEYS) -> None:
    """Type the script again and again, at the speed of hasty fingers, until the time is up."""
    pace = random.Random(seed)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        for keys in script:
            terminal.type(keys)
            if not terminal.read(min(pace.uniform(0.001, 0.02), max(0.0, end - time.monotonic()))):
                return
            if time.monotonic() >= end:
                return


def check(study: Path, shown: int) -> Session:
    """All that was shown as saved is in the journal, and the session is offered and can go on."""
    journals = read_journals(study)
    assert all(p.hint for p in journals.problems), journals.problems
    (session,) = journals.sessions.values()
    held = [e for e in (*session.entries, *session.void) if e.record.kind in COUNTED]
    assert len(held) >= shown, f"{shown} shown as saved, {len(held)} in the journal"
    declared = load_declaration(study)
    (offered,) = read_past(declared, study).unfinished
    plan = plan_of(make_plan(declared, read_clocks().at, quiet_min=0.0), offered)
    core = go_on(plan, offered, read_clocks())
    core.tick(read_clocks())
    if core.plan.method == "retreat-round":
        core.note("It goes on.", read_clocks())
    else:
        core.press("c", read_clocks())
        core.press("r", read_clocks())
    core.finish(read_clocks())
    core.ledger.close()
    (after,) = read_journals(study).sessions.values()
    assert after.parts == session.parts + 1 and after.closed is not None
    made = [e for e in (*after.entries, *after.void) if e.record.kind in COUNTED]
    assert len(made) == len(held) + 1
    return after


def kill_once(study: Path, seed: int) -> int:
    chance = random.Random(seed)
    make_study(study)
    terminal = open_terminal(study, slowly=seed % 2 == 0)
    begin(terminal)
    watch_for_a_while(terminal, chance.uniform(0.0, 0.9), seed)
    terminal.end(signal.SIGKILL)
    check(study, terminal.saved)
    return terminal.saved


@pytest.mark.parametrize("seed", range(12))
def test_killed_at_a_random_moment(tmp_path: Path, seed: int) -> None:
    kill_once(tmp_path / "study", seed)


@pytest.mark.parametrize("seed", range(4))
def test_a_round_killed_at_a_random_moment(tmp_path: Path, seed: int) -> None:
    study = make_study(tmp_path / "study", ROUND)
    terminal = open_terminal(study, slowly=seed % 2 == 0, method="retreat-round")
    begin(terminal)
    watch_for_a_while(terminal, random.Random(seed).uniform(0.1, 0.9), seed, ROUND_KEYS)
    terminal.end(signal.SIGKILL)
    check(study, terminal.saved)


@pytest.mark.calibration
def test_killed_at_two_hundred_random_moments(tmp_path: Path) -> None:
    shown, torn = [], 0
    for seed in range(1000, 1200):
        study = tmp_path / str(seed)
        shown.append(kill_once(study, seed))
        torn += any(p.code == "torn" for p in read_journals(study).problems)
    print(
        f"\n200 kills; records shown as saved when killed: {min(shown)} to {max(shown)}, {sum(shown)} in all;"
    )
    print(f"{torn} journals ended in a torn line; no record shown as saved was missing")
    assert sum(shown) > 200


@pytest.mark.parametrize("ending", ["hang-up", "term", "ctrl-c"])
def test_ended_from_outside(tmp_path: Path, ending: str) -> None:
    study = make_study(tmp_path / "study")
    terminal = open_terminal(study)
    begin(terminal)
    watch_for_a_while(terminal, 0.3, 5)
    terminal.read(0.2)
    if ending == "hang-up":
        terminal.hang_up()
    elif ending == "term":
        assert os.waitstatus_to_exitcode(terminal.end(signal.SIGTERM)) == 0
        assert b"will offer to continue" in terminal.seen and b"\x1b[?1049l" in terminal.seen
    else:
        terminal.type("\x1b")
        terminal.read(0.2)
        terminal.type("\x03")
        terminal._wait()
        assert b"will offer to continue" in terminal.seen and b"\x1b[?1049l" in terminal.seen
    check(study, terminal.saved)


def plain(study: Path, lines: str, before: str = "", tracer: tuple[str, ...] = (), status: int = 0) -> str:
    """The line mode as a process of its own; what it said."""
    words = ["zoneuse", "watch", "--plain", "--quiet", "0", "--study", str(study)]
    code = f"{before}\nimport sys\nsys.argv = {words!r}\nfrom zoneuse.cli import main\nmain()\n"
    done = subprocess.run(
        [*tracer, sys.executable, "-c", code],
        input=lines,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == status, done.stderr
    return done.stdout


def test_a_round_by_lines(tmp_path: Path) -> None:
    study = make_study(tmp_path / "study", ROUND)
    said = plain(
        study, "1 a ,2\nY3a *2\n_\nnext\nskip\n1\nyes\nnext\nback\nY9\nundo\nlist\nfinish\n"
    ).splitlines()
    assert said[0].startswith("Moss end 1/4: who? Cover not lifted. here: nobody yet")
    assert said[1].startswith("Saved: Broad stripe: Moss end, asleep; Two dots: Moss end (guess).")
    assert "3 of Unmarked young: Moss end, asleep; 2 of them: Moss end." in said[2]
    assert "Moss end: looked into, cover lifted" in said[4] and "Bark stack: not looked into" in said[5]
    assert "recorded in Moss end already" in said[6] and "Saved: Broad stripe: Leaf litter" in said[7]
    assert "Drain tube 4/4" in said[8] and "Leaf litter 3/4" in said[9]
    assert "12 in all, but the group is 6" in said[10]
    assert "1 of 4" not in said[-1] and "2 of 4 retreats looked into (cover lifted at 2)." in said[-1]


def test_a_file_that_may_not_grow_is_told_at_once(tmp_path: Path) -> None:
    study = make_study(tmp_path / "study")
    limit = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (900, 900))"
    said = plain(study, "c r\nw m\n3 -\n1 b r\n1 c r\n1 b s\n1 w s\n", limit, status=1)
    saved = said.count("Saved: ")
    assert 0 < saved < 7
    assert "NOT SAVED, the file has reached its size limit" in said
    held = list(read_journals(study).entries("seen", "unseen"))
    assert len(held) >= saved
    kept, _, lost = said.partition("Write down what could not be saved:\n")
    # What is to be copied to paper, one line each, with its time.
    assert lost.count("\n") == kept.count("NOT SAVED, ") > 0, said
    assert all(line[2] == ":" and line.count(": ") == 1 for line in lost.splitlines())


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
def test_the_system_calls_show_an_fsync_before_each_acknowledgement(tmp_path: Path) -> None:
    study = make_study(tmp_path / "study")
    trace = tmp_path / "trace"
    tracer = ("strace", "-f", "-s", "60", "-e", "trace=write,fsync,fdatasync,openat", "-o", str(trace))
    said = plain(study, "c r\nw m\n3 -\n! 2 x\nundo\nnote fed 1\n" * 3, tracer=tracer)
    asked = said.count("Saved: ")
    assert asked >= 6
    journal, dirty, acknowledged = None, False, 0
    for call in trace.read_text("utf-8", "replace").splitlines():
        if found := re.search(r'openat\(.*\.jsonl", .*O_APPEND.*\) = (\d+)', call):
            journal = found[1]
        elif journal and re.search(rf"write\({journal}, .*= \d+", call):
            dirty = True
        elif journal and re.search(rf"fsync\({journal}\)\s+= 0", call):
            dirty = False
        elif 'write(1, "' in call:
            acknowledged += call.count("Saved:")
            assert not dirty, f"acknowledged before it was on the disk: {call}"
    assert acknowledged >= asked - 1


def test_a_line_is_saved_only_after_its_fsync(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.recorder.driver import drive

    d = drive(tmp_path)
    calls: list[str] = []
    write, sync = os.write, os.fsync
    monkeypatch.setattr(
        "zoneuse.journal.writer.os.write", lambda h, b: (calls.append("write"), write(h, b))[1]
    )
    monkeypatch.setattr("zoneuse.journal.writer.os.fsync", lambda h: (calls.append("fsync"), sync(h))[1])
    d.core.ledger.on_saved = lambda line: calls.append("saved")
    d.keys("crwm-")
    assert calls == ["write", "fsync", "saved"] * 3


def test_opening_the_recorder_loads_no_heavy_library() -> None:
    heavy = ("pandas", "pyarrow", "scipy", "statsmodels", "matplotlib", "numpy")
    code = (
        "import sys, zoneuse.cli, zoneuse.cli.records.watching, zoneuse.cli.records.recording\n"
        "import zoneuse.cli.records.mending\n"
        "import zoneuse.screens.recorder.app, zoneuse.screens.recorder.start, zoneuse.screens.recorder.watch\n"
        "import zoneuse.screens.recorder.boxes, zoneuse.recording.session.past, zoneuse.recording.telling.plain\n"
        f"print([m for m in {heavy!r} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
    first = "import sys, zoneuse.cli.records.watching, zoneuse.screens.recorder.start; print('_hashlib' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", first], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize("words", [["watch"], ["watch", "--method", "focal"]])
def test_without_a_terminal_one_sentence_and_status_2(tmp_path: Path, words: list[str]) -> None:
    study = make_study(tmp_path / "study")
    done = subprocess.run(
        [sys.executable, "-m", "zoneuse", *words, "--study", str(study)],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=30, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "watch needs a terminal" in done.stderr and "\x1b" not in done.stderr + done.stdout


def test_colliding_keys_stop_the_start_of_focal_with_the_remedy(tmp_path: Path) -> None:
    study = make_study(tmp_path / "study", STUDY.replace('key = "r"', 'key = "c"'))
    words = ["watch", "--plain", "--method", "focal", "--animal", "a1", "--study", str(study)]
    done = subprocess.run(
        [sys.executable, "-m", "zoneuse", *words],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=30, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert 'write key = "r" under [behaviours.resting]' in done.stderr
