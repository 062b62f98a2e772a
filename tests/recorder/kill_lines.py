"""Kills of a session in lines with what is newer: several animals, zones that turn up, parts; by hand.

``python -m tests.recorder.kill_lines 100 [seed]``: each session is killed at a random moment (SIGKILL), half of them
while a zone is being added. What was said to be saved must be on record, and what turned up in study.toml.
"""

from __future__ import annotations

import contextlib
import os
import random
import select
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.recorder.studies import STUDY, make_study
from zoneuse.journal.reader import read_journals
from zoneuse.study.toml.file import load_declaration

_WAYS = (["--method", "focal", "--animal", "1,2,3"], ["--method", "ad-libitum"], ["--quiet", "0"])


def killed(seed: int) -> tuple[int, int, int]:
    """One session: how many records and zones had been said to be there, and in how many parts they lie."""
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as name:
        study = make_study(Path(name) / "study", STUDY)
        watch = [sys.executable, "-m", "zoneuse", "watch", "--plain", "--study", str(study), "--quiet", "0"]
        program = subprocess.Popen(
            [*watch, *chance.choice(_WAYS)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            env={**os.environ, "XDG_STATE_HOME": name},
        )  # fmt: skip
        said = _talk(program, chance)
        program.wait()
        records = sum(
            line.split("Saved: ", 1)[1].split(". ")[0].count(":") for line in said if "Saved: " in line
        )
        zones = [line.split(" is there from now on")[0] for line in said if " is there from now on" in line]
        journals = read_journals(study)
        assert all(p.hint for p in journals.problems), journals.problems
        (session,) = journals.sessions.values()
        made = [
            e for e in (*session.entries, *session.void) if e.record.kind in ("seen", "unseen", "happened")
        ]
        assert len(made) >= records, (seed, records, len(made), said)
        labels = {zone.label for zone in load_declaration(study).zones.values()}
        assert labels >= set(zones), (seed, zones)
        opened = [e.record for e in session.entries if e.record.kind == "opened"]
        assert len(opened[-1].fields["zones"]) >= 7 + len(zones), (seed, opened[-1].fields)
        return records, len(zones), session.parts


def _talk(program: subprocess.Popen[bytes], chance: random.Random) -> list[str]:
    """Lines in, lines out, until it is killed in the middle of one."""
    assert program.stdin is not None and program.stdout is not None
    answers = bytearray()
    keys = list("ghijk")
    lines = chance.randrange(1, 25)
    for number in range(lines):
        _hear(program, answers)
        line = f"{chance.choice('123')} {chance.choice('cwblof')} {chance.choice('rms')}"
        if chance.random() < 0.15 or (number == lines - 1 and chance.random() < 0.5):
            line = f"zone {keys.pop()} place {number}" if keys else line
        with contextlib.suppress(BrokenPipeError):
            program.stdin.write(f"{line}\n".encode())
            program.stdin.flush()
    time.sleep(chance.choice((0.0, 0.001, 0.003, 0.01, 0.03)))
    program.kill()
    answers += program.stdout.read()
    return answers.decode().splitlines()


def _hear(program: subprocess.Popen[bytes], answers: bytearray) -> None:
    """One more line of answer."""
    assert program.stdout is not None
    heard = answers.count(b"\n")
    while answers.count(b"\n") == heard and select.select([program.stdout], [], [], 60)[0]:
        some = os.read(program.stdout.fileno(), 65536)
        if not some:
            return
        answers += some


def main(times: int, seed: int) -> None:
    found = [killed(seed + number) for number in range(times)]
    records, zones, parts = map(sum, zip(*found, strict=True))
    print(
        f"{times} kills: {records} records and {zones} zones said to be there, in {parts} parts, none missing"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
