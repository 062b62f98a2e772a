"""Ten million logger rows into the store, beside pandas and DuckDB writing the same columns to Parquet."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.bench.measure import Line, in_processes

OURS = """
import shutil, time
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo
from zoneuse.readings.read.intake import stage
from zoneuse.readings.layout import Hints
study = Path({study!r})
shutil.rmtree(study / "readings", ignore_errors=True)
start = time.perf_counter()
staged = stage(study, Path({file!r}), ("L1",), ZoneInfo("UTC"), Hints(logger="L1"), intaken=[])
staged.commit(datetime(2026, 3, 1, tzinfo=UTC))
seconds = time.perf_counter() - start
assert staged.kept == {rows}, staged.kept
"""
PANDAS = """
import time
import pandas as pd, pyarrow as pa, pyarrow.parquet as pq
start = time.perf_counter()
writer, rows = None, 0
for part in pd.read_csv({file!r}, chunksize=1_000_000):
    first = part.columns[0]
    part[first] = pd.to_datetime(part[first], format={format!r}, utc=True).astype("datetime64[ms, UTC]")
    table = pa.Table.from_pandas(part, preserve_index=False)
    writer = writer or pq.ParquetWriter({out!r}, table.schema, compression="zstd")
    writer.write_table(table)
    rows += len(part)
writer.close()
seconds = time.perf_counter() - start
assert rows == {rows}
"""
DUCKDB = """
import time
import duckdb
start = time.perf_counter()
duckdb.sql("COPY (SELECT * FROM read_csv({file!r})) TO {out!r} (FORMAT parquet, COMPRESSION zstd)")
seconds = time.perf_counter() - start
"""
# The least that any reader must do.
CAT = """
import time
start = time.perf_counter()
with open({file!r}, "rb") as source, open("/dev/null", "wb") as out:
    while piece := source.read(1 << 20):
        out.write(piece)
seconds = time.perf_counter() - start
"""


def write_rows(path: Path, rows: int, vendor: bool = False, seed: int = 20260301) -> None:
    """A reading a second with noise: ISO times with offset, or month/day/year with AM and PM as loggers write them."""
    random = np.random.default_rng(seed)
    block = 200_000
    start = np.datetime64("2016-01-01T00:00:00")
    with path.open("w", encoding="utf-8") as out:
        out.write(
            "Date Time,Temperature (°C),Humidity (%)\n" if vendor else "time,temperature_c,humidity_pct\n"
        )
        for first in range(0, rows, block):
            n = np.arange(first, min(first + block, rows))
            times = start + n.astype("timedelta64[s]")
            celsius = np.round(20 + 5 * np.sin(n / 13750) + random.normal(0, 0.1, n.size), 2)
            humidity = np.round(70 + 10 * np.cos(n / 13750) + random.normal(0, 0.5, n.size), 1)
            text = _vendor(times) if vendor else [f"{t}Z" for t in np.datetime_as_string(times)]
            out.writelines(
                f"{t},{c:.2f},{h:.1f}\n"
                for t, c, h in zip(text, celsius.tolist(), humidity.tolist(), strict=True)
            )


def _vendor(times: np.ndarray) -> list[str]:
    return [t.strftime("%m/%d/%Y %I:%M:%S %p") for t in times.astype(object)]


def growth(folder: Path, sizes: tuple[int, int, int] = (1_000_000, 4_000_000, 16_000_000)) -> str:
    """A row of a table: seconds and memory for files of so many rows."""
    file, study, cells = folder / "grows.csv", folder / "grows", []
    study.mkdir(exist_ok=True)
    for rows in sizes:
        write_rows(file, rows)
        code = OURS.format(study=str(study), file=str(file), rows=rows)
        seconds, memory = in_processes({"zoneuse": code}, 3)["zoneuse"]
        cells.append(f"{seconds:.2f} s, {memory:.0f} MB")
    file.unlink()
    return f"| rows taken in ({', '.join(f'{rows // 1_000_000}' for rows in sizes)} million) | {' | '.join(cells)} |"


def lines(folder: Path, rows: int = 10_000_000, rounds: int = 5) -> list[Line]:
    """Both lines of the table: ISO times, and a vendor's."""
    found = []
    for vendor in (False, True):
        file = folder / ("vendor.csv" if vendor else "iso.csv")
        write_rows(file, rows, vendor)
        (folder / "study").mkdir(exist_ok=True)
        fill = {"study": str(folder / "study"), "file": str(file), "out": str(folder / "out.parquet"), "rows": rows,
                "format": "%m/%d/%Y %I:%M:%S %p" if vendor else "ISO8601"}  # fmt: skip
        codes = {"zoneuse": OURS.format(**fill), "pandas": PANDAS.format(**fill), "cat": CAT.format(**fill)}
        if not vendor:
            codes["DuckDB"] = DUCKDB.format(**fill)
        times = in_processes(codes, rounds)
        size = sum(p.stat().st_size for p in (folder / "study").rglob("*.parquet")) / 2**20
        memory = ", ".join(f"{name} {mb:.0f}" for name, (_, mb) in times.items())
        kind = "month/day/year, AM and PM" if vendor else "ISO times"
        found.append(
            Line(
                f"take in {rows:,} rows, {kind}",
                times["zoneuse"][0],
                {name: s for name, (s, _) in times.items() if name != "zoneuse"},
                {"pandas": 0.25} if vendor else {"pandas": 0.7, "DuckDB": 0.8},
                (f"peak memory, MB: {memory} (at most 230)", f"stored in {size:.0f} MB"),
            )
        )
        file.unlink()
    return found
