"""The same study gives the same answer to the digit: again, in another locale, time zone and order of hashing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "demo_sessions" / "cellar"
SMALL = Path(__file__).parent / "fixtures" / "format1"
OTHERWISE = {
    "PYTHONHASHSEED": "4242",
    "TZ": "Pacific/Auckland",
    "LC_ALL": "de_DE.UTF-8",
    "LANG": "de_DE.UTF-8",
}
PLAINLY = {"PYTHONHASHSEED": "0", "TZ": "America/St_Johns", "LC_ALL": "C", "OMP_NUM_THREADS": "1"}
# All answers in one process: loading is what takes long.
_ASK = """
import sys
from zoneuse.cli import cli
for words in (["zones", "--full"], ["zones", "--json"], ["activity", "--json"], ["prefer", "--json"],
              ["shifts", "--json"],
              ["retreats", "--json"], ["observers", "--json"], ["climate", "--json", "--now", "2026-05-20"],
              ["plan", "--json", "--now", "2026-05-20"], ["mend", "last"]):
    try:
        cli([*words, "--study", sys.argv[1]], standalone_mode=False)
    except SystemExit as end:
        print("status", end.code)
"""


def ask(study: Path, **environment: str) -> bytes:
    done = subprocess.run(
        [sys.executable, "-c", _ASK, str(study)], capture_output=True, check=False, cwd=ROOT,
        env=os.environ | {"PYTHONIOENCODING": "utf-8", "COLUMNS": "80", **environment},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()[-2000:]
    return done.stdout


@pytest.fixture(scope="module")
def here() -> bytes:
    return ask(SMALL, PYTHONHASHSEED="1", TZ="Europe/Vienna", LC_ALL="C.UTF-8")


def test_the_same_to_the_digit(here: bytes) -> None:
    assert ask(SMALL, **OTHERWISE) == here


@pytest.mark.calibration
def test_the_demo_study_to_the_digit() -> None:
    first = ask(DEMO, PYTHONHASHSEED="1", TZ="Europe/Vienna", LC_ALL="C.UTF-8")
    assert ask(DEMO, **OTHERWISE) == first
    assert ask(DEMO, **PLAINLY) == first


def test_every_answer_that_draws_says_its_seed(here: bytes) -> None:
    text = here.decode()
    assert "Random draws: seed 1." in text
    assert text.count('"seed": ') == 8
    # Nothing is drawn for what is done and for agreement: there the seed is none.
    assert text.count('"seed": null') == 2
