"""A disk that refuses under the running program: the banner, the retry, another folder, both clocks."""

from __future__ import annotations

import errno
import os
import resource
import stat
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

import pytest

from tests.recorder.driver import drive
from tests.recorder.studies import make_study
from tests.recorder.terminal import Terminal, begin, open_terminal
from zoneuse.journal.reader import read_journals

pytestmark = pytest.mark.skipif(not hasattr(resource, "prlimit"), reason="needs limits set from outside")


def limit(terminal: Terminal, size: int) -> None:
    """From now on no file of that process may grow past so many bytes."""
    _, hard = resource.prlimit(terminal.pid, resource.RLIMIT_FSIZE)
    resource.prlimit(terminal.pid, resource.RLIMIT_FSIZE, (size, hard))


def made(study: Path) -> int:
    return len(list(read_journals(study).entries("seen", "unseen")))


def filled(study: Path) -> Terminal:
    """A session in a terminal whose journal can grow no further, with records that wait."""
    terminal = open_terminal(study)
    begin(terminal)
    terminal.type("cr" + "!2x" * 4)
    terminal.until(b"5 saved")
    (journal,) = (study / "journal").glob("*.jsonl")
    limit(terminal, journal.stat().st_size + 40)
    terminal.type("wm")
    terminal.until(b"NOT SAVED: ")
    terminal.type("-")
    terminal.until(b"2 NOT YET")
    assert terminal.saved == 5
    return terminal


def test_a_disk_that_fills_up_is_tried_again_until_it_takes_all(tmp_path: Path) -> None:
    study = make_study(tmp_path / "study")
    terminal = filled(study)
    limit(terminal, 1 << 30)
    terminal.until(b"Everything is saved now")
    terminal.until(b"7 saved")
    terminal.end()
    assert made(study) == 3


def test_what_the_disk_refuses_is_written_elsewhere(tmp_path: Path) -> None:
    study, stick = make_study(tmp_path / "study"), tmp_path / "stick"
    terminal = filled(study)
    terminal.type("\x1b[17~")
    terminal.until(b"Write the records to another folder")
    # The limit stays: the new file is smaller than the old one.
    terminal.type(f"{stick}\r")
    terminal.until(b"7 saved")
    terminal.end()
    (there,) = stick.rglob("*.jsonl")
    (study / "journal" / there.name).write_bytes(there.read_bytes())
    assert made(study) == 3
    assert len(read_journals(study).sessions) == 1


def test_a_journal_made_read_only_is_never_called_saved_and_missing(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    d.core.ledger.journal.path.chmod(stat.S_IRUSR)
    d.core.ledger.folder.joinpath("journal").chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        d.keys("wm")
    finally:
        d.core.ledger.folder.joinpath("journal").chmod(stat.S_IRWXU)
    d.core.ledger.retry(d.now)
    assert d.core.saved == len(d.said("seen")) == 2


def test_a_file_system_turned_read_only_says_so_and_keeps_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    d = drive(tmp_path)
    d.keys("cr")

    def refuse(handle: int, data: bytes) -> int:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    with monkeypatch.context() as patch:
        patch.setattr("zoneuse.journal.writer.os.write", refuse)
        d.keys("wm-")
        assert d.core.ledger.trouble == "the study's folder cannot be written"
        assert (d.core.saved, len(d.core.ledger.waiting)) == (1, 2)
    assert d.core.ledger.retry(d.now)
    assert d.said("seen", "unseen") == ["a1 moss_end resting @1", "a2 water_dish moving @1", "a3 @1"]


@pytest.mark.parametrize("step_s", [3600, -3600])
def test_a_clock_stepped_by_an_hour_moves_no_scan_and_no_second(tmp_path: Path, step_s: float) -> None:
    d = drive(tmp_path)
    d.keys("crwm-").wait(20)
    d.step_clock(step_s)
    d.keys("c3w2-1⏎").wait(45)
    d.keys("cr")
    rows = [e.record for e in d.session().entries if e.record.kind in ("seen", "unseen")]
    assert [r.fields["scan"] for r in rows] == [1, 1, 1, 1, 1, 1, 2]
    monos = [r.mono for r in rows]
    assert all(m is not None for m in monos) and monos == sorted(monos, key=lambda m: m or 0.0)
    apart = (rows[3].at - rows[2].at).total_seconds()
    assert abs(apart - step_s) < 60, "the wall clock is written as it was"


def test_both_recorders_of_one_study_write_files_of_their_own(tmp_path: Path) -> None:
    study = make_study(tmp_path / "study")
    words = [sys.executable, "-m", "zoneuse", "watch", "--plain", "--quiet", "0", "--study", str(study)]
    both = [
        subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) for _ in range(2)
    ]
    answers = ["c r\nw m\n3 -\n", "b r\nw s\n3 c r\n"]
    for one, lines in zip(both, answers, strict=True):
        assert one.stdin is not None
        one.stdin.write(lines)
        one.stdin.flush()
    time.sleep(0.1)
    for one in both:
        out, _ = one.communicate("leave\n", timeout=30)
        assert out.count("Saved: ") == 3
    sessions = list(read_journals(study).sessions.values())
    assert len(sessions) == 2 and len(list((study / "journal").glob("*.jsonl"))) == 2
    found = sorted(
        sorted(str(e.record.fields.get("zone")) for e in s.entries if e.record.kind in ("seen", "unseen"))
        for s in sessions
    )
    assert found == [["None", "moss_end", "water_dish"], ["bark", "moss_end", "water_dish"]]
    assert all(isinstance(s.opened, datetime) for s in sessions)
