"""Every benchmark of the table, and docs/performance.md from it: python -m tests.bench [NAME...] [--quick].

Names: readings conditions choosing permuting journals startup year tracks growth. Without names all are run and
the page is written; with names the lines are only printed. Takes about fifteen minutes on two quiet cores.
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
        PAGE.write_text(page(lines, grown), encoding="utf-8")


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


def page(lines: list[Line], grown: list[str]) -> str:
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
        "its rivals by turns in one run, medians. A ratio below 1 is faster.\n\n"
        f"{head}\n" + "\n".join(row(line) for line in lines) + "\n\n## As a study grows\n\n"
        "Cold, imports (about .6 s and 120 MB) included; rows taken in without.\n\n"
        "| what grows | 1x | 4x | 16x |\n|---|---|---|---|\n" + "\n".join(grown) + f"\n{_NOTES}"
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


_NOTES = """
## Read with care

- zoneuse gives its limits of shares and peaks without resampling, so those lines compare with doing the same job by
  resampling; the figures of the rivals are extrapolated from 100 (shares), 20 (peaks) and 5 (company) repetitions.
- Records are read back one by one as Python objects, each with its checksum; pyarrow reads columns in two threads and
  checks nothing. msgspec and orjson were weighed and left out: decoding is a third of the time, and they add to every
  start of the recorder. A reader into columns would be a second reader of what must never be misread, and everything
  behind it looks at records; a study's sessions have a few hundred each.
- 10 million positions (`tracks`) were measured on 28 Nov 2026 at a load of 30, so by processor time: from Parquet
  2.6 s, from CSV 5.0 s, imports in it, 249 and 204 MB; 4.3 and 6.6 s before. On idle cores it has not been measured.
- `zones` imports pandas, which is more than half of its time, and then reads, tests and draws.
- 100 million rows were taken in once, by hand: 7.6 s and 175 MB (10 million in the same run: .85 s, 185 MB).
- Intake was measured again on 28 Nov 2026 (1 and 10 million ISO rows) while seven others worked on the same two
  cores (load 12 to 20), so by processor time, by turns, medians of 5 and 3: 1 million .34 s, DuckDB 2.0.1 .30,
  pandas .42, `cat` .02 (zoneuse / DuckDB 1.12); 10 million 2.67 s, DuckDB 2.72, pandas 3.96, `cat` .11 (.98). By
  the wall, 10 million: 12.3 s, 12.3, 30.0, .7. At most .8 of DuckDB is **missed**. Memory 171 MB, DuckDB 426,
  pandas 361. DuckDB only copies; zoneuse also takes the sum of the file, counts its lines, holds its times against
  each other and what is stored, and flushes it to the disk.
- Since then rows written digit under digit are read without the CSV reader (`readings/read/even_rows`). Processor time
  of whole processes, imports (.36 to .42 s) included, by turns at a load of 30, medians of 3: 4 million rows 1.23 s,
  1.56 without it; 10 million 2.59 s, DuckDB 2.0.1 2.62, `cat` .11: .91 (.86 to 1.00). At most .8 is still **missed**;
  memory 139 MB (169 without it), DuckDB 383. Of 4 million rows' 1.2 s: imports .39, reading rows .25, Parquet .23,
  SHA-256 .12, reading the file and its lines .15.
- A read looks into each file of readings (checksum, table of contents): 1,000 intakes cost .25 s of processor, of
  which records .10, checksums .02, tables of contents .14. It is not kept in a cache: a cache could be believed
  where the file is not.
- A million moments need new memory from the system; where that is slow to give, the line varies by as much as itself.
- Killing a process cannot show a missing fsync: the order of fsync and acknowledgement is checked by tracing
  (`tests/recorder/test_traced.py`).
"""


if __name__ == "__main__":
    sys.exit(main())
