"""A stranger's store: what is not as its record says is one problem, named and left out; the rest counts."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from zoneuse.readings.arrow_arrays import AT_TYPE
from zoneuse.readings.store.sealing import crc_of, sealed
from zoneuse.readings.store.store import intakes, read
from zoneuse.readings.trust.newest import refresh_newest
from zoneuse.study.toml.file import load_declaration

from .intaking import stored, take_in
from .test_readings_command import STUDY

GOOD = "Time,Temp (C)\n2026-04-03 14:05,20\n2026-04-03 14:15,21\n"


def stranger(folder: Path) -> tuple[Path, Path]:
    """A study with one good intake of L2 and one of L1; the record and the file of the latter."""
    take_in(folder, GOOD, name="L2.csv")
    take_in(folder, GOOD.replace("20\n", "22\n"))
    record = next(
        p for p in (folder / "readings" / "taken-in").glob("*.json") if '"logger": "L1"' in p.read_text()
    )
    return record, folder / "readings" / "logger=L1" / f"{record.stem}.parquet"


def rewritten(record: Path, change: Callable[[dict[str, Any]], None]) -> None:
    raw = json.loads(record.read_text())
    raw.pop("crc")
    change(raw)
    record.write_bytes(sealed(json.dumps(raw)))


def replaced(record: Path, part: Path, table: pa.Table) -> None:
    """Put another table in the place of the readings, with a checksum that fits."""
    pq.write_table(table, part, compression="zstd")

    def change(raw: dict[str, Any]) -> None:
        raw["parts"][0] |= {"crc": crc_of(part), "rows": table.num_rows}

    rewritten(record, change)


def _ats(*ms: int) -> pa.Array:
    return pa.array(ms, pa.int64()).cast(AT_TYPE)


TABLES = {
    "no at": lambda: pa.table({"temperature_c": [20.0, 21.0]}),
    "at twice": lambda: pa.Table.from_arrays([_ats(1, 2), _ats(1, 2)], names=["at", "at"]),
    "at as text": lambda: pa.table({"at": ["2026-04-03", "2026-04-04"], "temperature_c": [20.0, 21.0]}),
    "at without a zone": lambda: pa.table({"at": pa.array([1, 2], pa.timestamp("ms"))}),
    "nothing at": lambda: pa.table({"at": pa.nulls(2, AT_TYPE), "temperature_c": [20.0, 21.0]}),
    "far at": lambda: pa.table({"at": _ats(-(1 << 62), 1 << 62), "temperature_c": [20.0, 21.0]}),
    "values as text": lambda: pa.table({"at": _ats(1, 2), "temperature_c": ["20", "21"]}),
    "values twice": lambda: pa.Table.from_arrays([_ats(1, 2), pa.array([1.0, 2.0]), pa.array([1.0, 2.0])],
                                                 names=["at", "temperature_c", "temperature_c"]),
}  # fmt: skip


@pytest.mark.parametrize("name", TABLES)
def test_a_file_that_holds_no_readings_is_named_and_left_out(tmp_path: Path, name: str) -> None:
    record, part = stranger(tmp_path)
    replaced(record, part, TABLES[name]())
    found, problems = intakes(tmp_path)
    assert [p.code for p in problems] == ["damaged-readings"] and str(part) in problems[0].file
    assert len(read(tmp_path, "L1", intaken=found).times) == 0
    assert len(stored(tmp_path, "L2").times) == 2


def test_times_that_no_record_speaks_of_are_left_out_where_a_file_lies_of_itself(tmp_path: Path) -> None:
    record, part = stranger(tmp_path)
    good = json.loads(record.read_text())["parts"][0]["first_ms"]
    table = pa.table({"at": _ats(good, 1 << 62), "temperature_c": [20.0, 21.0]})
    # Without statistics nothing but the times themselves can tell.
    pq.write_table(table, part, write_statistics=False)
    rewritten(record, lambda raw: raw["parts"][0].update(crc=crc_of(part), rows=2))
    assert read(tmp_path, "L1").times.tolist() == [good]


def test_a_small_file_that_would_fill_the_memory_is_left_out(tmp_path: Path) -> None:
    record, part = stranger(tmp_path)
    rows, zeros = 1 << 19, np.zeros(1 << 19)
    names = ["at", "temperature_c", "humidity_pct", "light_lux", "surface_c", "uv_index", "soil_moisture_pct"]
    flat = pa.table([pa.array(zeros.astype(np.int64)).cast(AT_TYPE), *[pa.array(zeros)] * 6], names=names)
    with pq.ParquetWriter(part, flat.schema, compression="zstd") as out:
        for _ in range(5):
            out.write_table(flat)
    rewritten(record, lambda raw: raw["parts"][0].update(crc=crc_of(part), rows=5 * rows))
    assert part.stat().st_size < 500_000
    began = time.process_time()
    problems = intakes(tmp_path)[1]
    assert time.process_time() - began < 1
    assert [p.code for p in problems] == ["damaged-readings"] and "GB of memory" in problems[0].found
    assert len(stored(tmp_path, "L2").times) == 2


WRONG: dict[str, Callable[[dict[str, Any]], None]] = {
    "made a number": lambda raw: raw.update(made=5),
    "rows a text": lambda raw: raw["parts"][0].update(rows="2"),
    "first far": lambda raw: raw["parts"][0].update(first_ms=-(10**30)),
    "first infinite": lambda raw: raw["parts"][0].update(first_ms=float("inf")),
    "first after last": lambda raw: raw["parts"][0].update(first_ms=raw["parts"][0]["last_ms"] + 1),
    "first nothing": lambda raw: raw["parts"][0].update(first_ms=None),
    "parts a number": lambda raw: raw.update(parts=7),
    "a mark's time a text": lambda raw: raw.update(marks=[{"at_ms": "x", "logger": "L1", "says": "button"}]),
    "a mark without words": lambda raw: raw.update(marks=[{"at_ms": 1, "logger": "L1", "says": 4}]),
    "kept a list": lambda raw: raw.update(kept=[1]),
    "layout a text": lambda raw: raw.update(layout="x"),
    "quantities numbers": lambda raw: raw["parts"][0].update(quantities=[1]),
    "quantities a text": lambda raw: raw["parts"][0].update(quantities="temperature_c"),
    "format a text": lambda raw: raw.update(format="1"),
    "file a number": lambda raw: raw.update(file=3),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_record_of_a_wrong_kind_is_one_problem_and_the_rest_counts(tmp_path: Path, name: str) -> None:
    record, _ = stranger(tmp_path)
    rewritten(record, WRONG[name])
    found, problems = intakes(tmp_path)
    assert [p.code for p in problems] == ["damaged-record"] and str(record) in problems[0].file
    assert [p.logger for i in found for p in i.parts] == ["L2"]
    (tmp_path / "study.toml").write_text(STUDY)
    refresh_newest(tmp_path, load_declaration(tmp_path))
    assert "dish" in (tmp_path / "readings" / "newest.json").read_text()


@pytest.mark.skipif(os.name == "nt", reason="there are no pipes as files")
def test_a_pipe_or_a_device_in_the_store_is_named_and_nobody_waits(tmp_path: Path) -> None:
    record, part = stranger(tmp_path)
    part.unlink()
    os.mkfifo(part)
    assert [p.code for p in intakes(tmp_path)[1]] == ["damaged-readings"]
    part.unlink()
    part.symlink_to("/dev/zero")
    assert [p.code for p in intakes(tmp_path)[1]] == ["damaged-readings"]
    record.unlink()
    os.mkfifo(record)
    assert [p.code for p in intakes(tmp_path)[1]] == ["damaged-record"]


@pytest.mark.parametrize("name", ["readings", "readings/taken-in", "readings/logger=L1"])
def test_nothing_is_written_through_a_link_out_of_the_study(tmp_path: Path, name: str) -> None:
    study, outside = tmp_path / "study", tmp_path / "outside"
    outside.mkdir()
    (study / name).parent.mkdir(parents=True)
    (study / name).symlink_to(outside)
    with pytest.raises(OSError, match="leads out of the study"):
        take_in(study, GOOD)
    assert list(outside.iterdir()) == []


def test_a_link_in_the_place_of_the_newest_values_is_replaced(tmp_path: Path) -> None:
    take_in(tmp_path, GOOD)
    (tmp_path / "study.toml").write_text(STUDY)
    mine = tmp_path.parent / f"{tmp_path.name}-mine.txt"
    mine.write_text("mine")
    (tmp_path / "readings" / "newest.json").symlink_to(mine)
    refresh_newest(tmp_path, load_declaration(tmp_path))
    assert mine.read_text() == "mine" and not (tmp_path / "readings" / "newest.json").is_symlink()


def test_looking_at_what_is_there_changes_nothing(tmp_path: Path) -> None:
    from click.testing import CliRunner

    from zoneuse.cli import cli

    take_in(tmp_path, GOOD)
    (tmp_path / "study.toml").write_text(STUDY)

    def tree() -> dict[str, tuple[int, int]]:
        return {str(p): (p.stat().st_mtime_ns, p.stat().st_size) for p in sorted(tmp_path.rglob("*"))}

    before = tree()
    now = datetime(2026, 4, 4, tzinfo=UTC).isoformat()
    assert CliRunner().invoke(cli, ["readings", "--study", str(tmp_path), "--now", now]).exit_code == 0
    assert tree() == before
