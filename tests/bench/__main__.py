"""Every benchmark of the table, and docs/performance.md from it: python -m tests.bench [NAME...] [--quick].

Names: readings conditions choosing permuting journals startup year tracks growth. Without names all are run and
the tables of the page are written anew (its notes stay); with names the lines are only printed. Takes about
fifteen minutes on two quiet cores.
"""

from __future__ import annotations

import argparse
import compileall
import os
import platform
import sys
import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa

import zoneuse
from tests.bench import choosing, conditions, journals, permuting, readings, startup, tracks, year
from tests.bench.measure import Line

PAGE = Path(__file__).parents[2] / "docs" / "performance.md"
_BY_HAND = "## Read with care"


def main() -> None:
    """Run what is asked for, print it as a table, and write the page after a whole run."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("names", nargs="*")
    parser.add_argument(
        "--quick", action="store_true", help="A tenth of the rows, one round: to see that it runs."
    )
    asked = parser.parse_args()
    # As an installation has it: where Python is told to write no bytecode, every start would compile it anew.
    compileall.compile_dir(Path(zoneuse.__file__).parent, quiet=1)
    with tempfile.TemporaryDirectory() as scratch:
        groups = _groups(Path(scratch), asked.quick)
        chosen = asked.names or [*groups, "growth"]
        lines: list[Line] = []
        for name in chosen:
            if name != "growth":
                found = groups[name]()
                lines += found
                print("\n".join(row(line) for line in found), flush=True)
        grown = [readings.growth(Path(scratch)), *year.growth(Path(scratch))] if "growth" in chosen else []
        print("\n".join(grown))
    if not asked.names and not asked.quick:
        PAGE.write_text(page(lines, grown, kept(PAGE.read_text(encoding="utf-8"))), encoding="utf-8")


def _groups(scratch: Path, quick: bool) -> dict[str, Callable[[], list[Line]]]:
    def of_readings() -> list[Line]:
        return readings.lines(scratch, 1_000_000 if quick else 10_000_000, 1 if quick else 5)

    def of_journals() -> list[Line]:
        records = 100_000 if quick else 1_000_000
        return [*journals.to_disk(scratch), journals.read_back(scratch, records, 1 if quick else 5)]

    return {
        "readings": of_readings,
        "conditions": lambda: conditions.lines(1 if quick else 5),
        "choosing": choosing.lines,
        "permuting": permuting.lines,
        "journals": of_journals,
        "startup": lambda: startup.lines(2 if quick else 9),
        "year": lambda: year.lines(scratch, 1 if quick else 3),
        "tracks": lambda: tracks.lines(scratch, 1_000_000 if quick else 10_000_000, 1 if quick else 3),
    }


def row(line: Line) -> str:
    """One row of the table: times, ratio to each rival, and whether the goal was met."""
    rivals = "; ".join(f"{name} {_seconds(s)}" for name, s in line.rivals.items()) or "–"
    ratios = "; ".join(f"{line.ratio(name):.3g}" for name in line.rivals) or "–"
    goals = "; ".join(_goal(line, name, most) for name, most in line.goals.items()) or "–"
    return (
        f"| {line.work} | {_seconds(line.ours)} | {rivals} | {ratios} | {goals} | {'; '.join(line.facts)} |"
    )


def _goal(line: Line, rival: str, most: float) -> str:
    return f"at most {most:.3g}: {'met' if line.ratio(rival) <= most else '**missed**'}"


def _seconds(value: float) -> str:
    return f"{value * 1000:.2g} ms" if value < 0.1 else f"{value:.2f} s"


def kept(written: str) -> str:
    """What a run leaves of the page: all that was written by hand below the tables. ValueError without it."""
    return written[written.index(f"\n{_BY_HAND}\n") :]


def page(lines: list[Line], grown: list[str], notes: str) -> str:
    """docs/performance.md."""
    head = "| work | zoneuse | beside | zoneuse / beside | goal | |\n|---|---|---|---|---|---|"
    versions = ", ".join(
        f"{name} {v}"
        for name, v in (("numpy", np.__version__), ("pandas", pd.__version__), ("pyarrow", pa.__version__))
    )
    return (
        "# Speed, beside what people would use instead\n\n"
        f"Written by `python -m tests.bench` on {date.today():%d %b %Y}: {_machine()}; Python "
        f"{platform.python_version()}, {versions}, zoneuse {zoneuse.__version__}. Data from fixed seeds; each line and "
        "its rivals in turn in one run, medians. A ratio below 1 is faster.\n\n"
        f"{head}\n" + "\n".join(row(line) for line in lines) + "\n\n## As a study grows\n\n"
        "Cold, imports (about .6 s and 120 MB) included; rows taken in without.\n\n"
        "| what grows | 1x | 4x | 16x |\n|---|---|---|---|\n" + "\n".join(grown) + f"\n{notes}"
    )


def _machine() -> str:
    model = ""
    if Path("/proc/cpuinfo").exists():
        found = [
            n
            for n in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
            if n.startswith("model name")
        ]
        model = found[0].split(":")[1].strip() if found else ""
    return f"{os.cpu_count()} cores ({model or platform.machine()}), {platform.system()} {platform.release()}"


if __name__ == "__main__":
    sys.exit(main())
