"""The system calls of the full screen: what it calls saved was fsynced before the terminal was told."""

from __future__ import annotations

import re
import shutil
import subprocess
import time
from pathlib import Path

import pytest

from tests.recorder.studies import make_study
from tests.recorder.terminal import begin, open_terminal

pytestmark = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
_RECORD = re.compile(r"write\(\d+<[^>]*\.jsonl>, .*\\\"is\\\": ?\\\"(?:seen|unseen|happened)\\\"")
_SYNCED = re.compile(r"fsync\(\d+<[^>]*\.jsonl>\)\s*= 0|<\.\.\. fsync resumed>\)\s*= 0")
_SHOWN = re.compile(r"write\(\d+<(?:/dev/|pipe|[^>]*pts)[^>]*>, .*?(\d+) saved")


def test_no_number_of_saved_records_is_shown_before_their_fsync(tmp_path: Path) -> None:
    study, trace = make_study(tmp_path / "study"), tmp_path / "trace"
    terminal = open_terminal(study)
    begin(terminal)
    words = ["strace", "-f", "-y", "-s", "8000", "-e", "trace=write,fsync", "-o", str(trace)]
    tracer = subprocess.Popen([*words, "-p", str(terminal.pid)], stderr=subprocess.PIPE, text=True)
    assert tracer.stderr is not None
    if "attached" not in tracer.stderr.readline():
        terminal.end()
        pytest.skip("this machine lets no process be traced")
    for number, keys in enumerate(("cr", "wm", "-", "!2x", "!1x"), 1):
        terminal.type(keys)
        terminal.until(f"{number} saved".encode())
    terminal.end()
    tracer.wait(timeout=10)
    time.sleep(0.05)
    written, on_disk, shown = 0, 0, 0
    for call in trace.read_text("utf-8", "replace").splitlines():
        if _RECORD.search(call):
            written += 1
        elif _SYNCED.search(call):
            on_disk = written
        elif found := _SHOWN.search(call):
            shown = max(shown, int(found[1]))
            assert int(found[1]) <= on_disk, f"{found[1]} shown as saved, {on_disk} on the disk"
    assert (written, shown) == (5, 5)
