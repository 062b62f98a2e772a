"""Time work beside its rivals: by turns in one run, medians, memory of a process of its own."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from statistics import median
from typing import Any


@dataclass(frozen=True)
class Line:
    """One line of the table: seconds of zoneuse and of each rival, and what was asked of it.

    ``goals`` are (rival, most that zoneuse's time divided by the rival's may be); ``facts`` are said beside.
    """

    work: str
    ours: float
    rivals: Mapping[str, float]
    goals: Mapping[str, float]
    facts: tuple[str, ...] = ()

    def ratio(self, rival: str) -> float:
        return self.ours / self.rivals[rival]


def timed(call: Callable[[], Any]) -> float:
    """Seconds of one call."""
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def by_turns(calls: Mapping[str, Callable[[], Any]], rounds: int = 5) -> dict[str, float]:
    """Median seconds of each call, one after the other in each round, so that a busy machine slows all alike."""
    found: dict[str, list[float]] = {name: [] for name in calls}
    for _ in range(rounds):
        for name, call in calls.items():
            found[name].append(timed(call))
    return {name: median(times) for name, times in found.items()}


def in_processes(
    codes: Mapping[str, str], rounds: int = 5, env: Mapping[str, str] | None = None
) -> dict[str, tuple[float, float]]:
    """Median (seconds, peak memory in MB) of each piece of code, each time in a process of its own, by turns.

    The code sets ``seconds``; imports stand before its clock, so that only the work is timed.
    """
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in codes}
    for _ in range(rounds):
        for name, code in codes.items():
            found[name].append(_one_process(code, env))
    return {name: (median(s for s, _ in runs), median(m for _, m in runs)) for name, runs in found.items()}


_SAY = """
import json, resource
print()
print(json.dumps([seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss]))
"""


def _one_process(code: str, env: Mapping[str, str] | None) -> tuple[float, float]:
    # A shell in between: a process forked from this one would count this one's memory as its own peak.
    command = f"{shlex.quote(sys.executable)} -c {shlex.quote(code + _SAY)}; exit $?"
    done = subprocess.run(
        ["sh", "-c", command], capture_output=True, text=True, check=False, env={**os.environ, **(env or {})}
    )
    if done.returncode:
        raise RuntimeError(done.stderr[-2000:])
    seconds, kilobytes = json.loads(done.stdout.strip().splitlines()[-1])
    return float(seconds), float(kilobytes) / 1024


COMMAND = """
import contextlib, io, sys, time
start = time.perf_counter()
sys.argv = ["zoneuse", *{words!r}]
from zoneuse.cli import main
with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
    main()
seconds = time.perf_counter() - start
"""


def command(words: list[str]) -> tuple[float, float]:
    """Seconds from the first import on and peak memory (MB) of a zoneuse command in a process of its own."""
    return _one_process(COMMAND.format(words=words), None)
