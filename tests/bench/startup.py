"""How soon things appear: the recorder beside an empty Textual app, commands beside what they cannot do without."""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path

from tests.bench.measure import Line, by_turns
from tests.bench.recorder import EMPTY, RECORDER, until_shown
from tests.recorder.studies import make_study

DEMO = Path(__file__).parents[2] / "demo_sessions" / "cellar"
COMMAND = "import sys; sys.argv = {words!r}; from zoneuse.cli import main; main()"


def _run(code: str) -> None:
    import subprocess

    subprocess.run([sys.executable, "-c", code], check=False, capture_output=True)


def lines(rounds: int = 9) -> list[Line]:
    """The three starts of the table."""
    empty, ours = [], []
    with tempfile.TemporaryDirectory() as folder:
        code = RECORDER.format(study=str(make_study(Path(folder) / "study")))
        for _ in range(rounds):
            empty.append(until_shown(EMPTY, b"READY"))
            ours.append(until_shown(code, b"Begin"))
    rival = "empty Textual app"
    found = [
        Line(
            "the recorder's first screen",
            statistics.median(ours),
            {rival: statistics.median(empty)},
            {rival: 1.3},
        )
    ]
    for words, needed, most in (
        (["zoneuse", "--help"], "click", 1.5),
        (["zoneuse", "zones", "--study", str(DEMO)], "pandas", 1.6),
    ):
        rival = f"importing {needed} alone"
        times = by_turns(
            {
                "zoneuse": lambda w=words: _run(COMMAND.format(words=w)),
                rival: lambda n=needed: _run(f"import {n}"),
            },
            rounds,
        )
        name = "zoneuse zones on the demo" if len(words) > 2 else "zoneuse --help"
        found.append(Line(name, times["zoneuse"], {rival: times[rival]}, {rival: most}))
    return found
