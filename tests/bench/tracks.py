"""Ten million positions of two animals to their states: beside reading the file, and beside testing each position."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from tests.bench.measure import Line, in_processes
from tests.tracks.made import ROOMS

STUDY = (
    """
format = 1
title = "Tracked"
timezone = "UTC"
[enclosure]
measured_in = "surface_cm2"
"""
    + ROOMS
    + """
[tracks.overhead]
columns = {frame = "frame", animal = "id", x = "x", y = "y", confidence = "p"}
rate = 25
least_confidence = 0.6
fastest = 60
border = 1
"""
)
OURS = """
import time
from datetime import UTC, datetime
from pathlib import Path
from zoneuse.live.tracks import stage
from zoneuse.study.toml.file import load_declaration
declared = load_declaration(Path({study!r}))
start = time.perf_counter()
staged = stage(declared, Path({file!r}), start=datetime(2026, 3, 1, 18, tzinfo=UTC))
seconds = time.perf_counter() - start
assert staged.counts.rows == {rows}
"""
# What one writes who has no more than the positions: no jumps, no hysteresis, nothing of what was not seen.
PLAIN = """
import time
import numpy as np, pandas as pd
from matplotlib.path import Path
start = time.perf_counter()
table = pd.read_{kind}({file!r})
points = table[["x", "y"]].to_numpy()
found = np.full(len(points), -1)
for k, outline in enumerate((
    [(0, 0), (30, 0), (30, 40), (0, 40)], [(30, 0), (60, 0), (60, 20), (50, 20), (50, 40), (30, 40)],
    [(50, 20), (60, 20), (60, 40), (50, 40)],
)):
    found[Path(outline).contains_points(points)] = k
table.assign(zone=found).groupby("id")["zone"].value_counts()
seconds = time.perf_counter() - start
"""


def write(folder: Path, rows: int, seed: int = 20260301) -> tuple[Path, Path]:
    """Animals that rest and go, with noise, one row in fifty of low confidence; as Parquet and as CSV."""
    random, each = np.random.default_rng(seed), rows // 2
    stay = random.exponential(375, each // 100).astype(int) + 1
    xy = [
        np.repeat(random.uniform(0, most, len(stay)), stay)[:each] + random.normal(0, 0.2, each)
        for _ in range(2)
        for most in (60, 40)
    ]
    table = pa.table({
        "frame": np.repeat(np.arange(each), 2),
        "id": pa.DictionaryArray.from_arrays(pa.array(np.tile([0, 1], each).astype("i4")), ["a", "b"]),
        "x": np.round(np.stack([xy[0], xy[2]], 1).ravel(), 3), "y": np.round(np.stack([xy[1], xy[3]], 1).ravel(), 3),
        "p": np.where(random.random(2 * each) < 0.02, 0.3, 0.95),
    })  # fmt: skip
    pq.write_table(table, folder / "positions.parquet")
    pa_csv.write_csv(table, folder / "positions.csv")
    return folder / "positions.parquet", folder / "positions.csv"


def lines(folder: Path, rows: int = 10_000_000, rounds: int = 3) -> list[Line]:
    """A line for Parquet and one for CSV."""
    study = folder / "tracked"
    study.mkdir(exist_ok=True)
    (study / "study.toml").write_text(STUDY, encoding="utf-8")
    found = []
    for file, kind, asked in zip(write(study, rows), ("parquet", "csv"), (3, 8), strict=True):
        fill = {"study": str(study), "file": str(file), "rows": rows, "kind": kind}
        times = in_processes(
            {"zoneuse": OURS.format(**fill), "pandas, matplotlib": PLAIN.format(**fill)}, rounds
        )
        memory = ", ".join(f"{name} {mb:.0f}" for name, (_, mb) in times.items())
        found.append(
            Line(
                f"{rows:,} positions to states, {kind}", times["zoneuse"][0],
                {"pandas, matplotlib": times["pandas, matplotlib"][0]}, {},
                (f"at most {asked} s for ten million asked", f"peak memory, MB: {memory} (at most 300)"),
            )
        )  # fmt: skip
        file.unlink()
    return found
