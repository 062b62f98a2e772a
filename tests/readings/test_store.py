"""The store: old state or new at every instant, nothing twice, and light to read."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from zoneuse.readings.layout import Hints
from zoneuse.readings.read.intake import stage
from zoneuse.readings.store import store
from zoneuse.readings.store.store import PartWriter, commit, intakes, read, undo
from zoneuse.readings.store.taken import Intake, Part
from zoneuse.study import durable
from zoneuse.study.problems import ProblemError

from .intaking import MADE, VIENNA, stored, take_in

TEXT = "Time,Temp (C),RH (%)\n" + "".join(
    f"2026-04-03 14:{m:02d},{20 + m / 10},{70 + m / 10}\n" for m in range(60)
)


def _write(folder: Path, intake: str, made: str, times: list[int], values: list[float]) -> Part:
    writer = PartWriter(folder, intake, "L1", ("temperature_c",))
    writer.write(np.array(times, np.int64), {"temperature_c": np.array(values)})
    part = writer.place()
    commit(folder, Intake(intake, "a.csv", intake, 1, made, (part,), kept=len(times)))
    return part


def test_readings_count_only_once_their_record_is_there(tmp_path: Path) -> None:
    writer = PartWriter(tmp_path, "0badcafe", "L1", ("temperature_c",))
    writer.write(np.array([0, 1000]), {"temperature_c": np.array([20.0, 21.0])})
    part = writer.place()
    assert len(read(tmp_path, "L1").times) == 0
    commit(tmp_path, Intake("0badcafe", "a.csv", "x", 1, "2026", (part,)))
    assert read(tmp_path, "L1").times.tolist() == [0, 1000]
    undo(tmp_path, "0badcafe", "2026")
    assert len(read(tmp_path, "L1").times) == 0


def test_a_crash_at_any_step_leaves_the_old_state_or_the_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every call that can fail on a full disk fails in turn; the readings are then all there, or none."""
    steps = 0
    fail_at = 0

    def failing(real: object) -> object:
        def call(*args: object, **kwargs: object) -> object:
            nonlocal steps
            steps += 1
            if steps == fail_at:
                raise OSError(28, "No space left on device")
            return real(*args, **kwargs)  # type: ignore[operator]

        return call

    monkeypatch.setattr(os, "fsync", failing(os.fsync))
    monkeypatch.setattr(Path, "replace", failing(Path.replace))
    monkeypatch.setattr(durable, "sync_folder", failing(durable.sync_folder))
    seen = set()
    for fail_at in range(1, 40):
        steps = 0
        folder = tmp_path / str(fail_at)
        folder.mkdir()
        try:
            take_in(folder, TEXT)
        except OSError:
            rows = len(stored(folder).times)
            assert rows in (0, 60)
            seen.add(rows)
        else:
            assert len(stored(folder).times) == 60
            break
        steps = -1000
        if not len(stored(folder).times):
            take_in(folder, TEXT)  # a second try succeeds on whatever was left behind
        assert len(stored(folder).times) == 60
    assert 0 in seen and fail_at > 5


@pytest.mark.parametrize("room", [0, 2, 4096])
def test_where_nothing_more_is_taken_no_file_is_left_aside(tmp_path: Path, room: int) -> None:
    """A file may grow to so many bytes: a disk full from the first, amid the file's first letters, amid its rows."""
    limit, rows = resource.getrlimit(resource.RLIMIT_FSIZE), np.random.default_rng(1).random(20_000)
    text = "Time,Temp (C)\n" + "".join(
        f"{t},{x:.6f}\n"
        for t, x in zip(np.datetime64("2026-04-03T14:00:00") + np.arange(len(rows)), rows, strict=True)
    )
    (tmp_path / "a.csv").write_text(text)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, limit[1]))
    try:
        with pytest.raises(OSError):
            staged = stage(tmp_path, tmp_path / "a.csv", ("L1",), VIENNA, Hints(logger="L1"), intaken=[])
            try:
                staged.commit(MADE)
            finally:
                staged.discard()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limit)
    assert not [p for p in (tmp_path / "readings").rglob("*") if p.is_file()]


def test_the_record_is_the_last_thing_to_reach_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    real_sync, real_replace = os.fsync, Path.replace
    monkeypatch.setattr(os, "fsync", lambda fd: (order.append("fsync"), real_sync(fd))[1])
    monkeypatch.setattr(Path, "replace", lambda a, b: (order.append(Path(b).suffix), real_replace(a, b))[1])
    take_in(tmp_path, TEXT)
    placed = order.index(".parquet")
    assert "fsync" in order[:placed], "the readings are flushed before they get their name"
    recorded = order.index(".json")
    assert "fsync" in order[placed + 1 : recorded], "their name is flushed before the record counts"
    assert order[recorded + 1 :] == ["fsync"], "and the record's own name is flushed at the end"


times_values = st.lists(st.tuples(st.integers(0, 50), st.floats(-10, 60)), min_size=1, max_size=30)


@settings(max_examples=40, deadline=None)
@given(st.lists(times_values, min_size=1, max_size=4))
def test_each_time_once_and_the_first_file_counts(
    tmp_path_factory: pytest.TempPathFactory, files: list
) -> None:
    folder = tmp_path_factory.mktemp("store")
    first: dict[int, float] = {}
    differing: set[int] = set()
    for number, rows in enumerate(files):
        _write(folder, f"{number:08x}", f"2026-01-0{number + 1}", [t for t, _ in rows], [v for _, v in rows])
        for t, v in rows:
            held = first.setdefault(t, v)
            if abs(held - v) > 0.06:
                differing.add(t)
    found = read(folder, "L1")
    assert found.times.tolist() == sorted(first)
    assert found.values["temperature_c"].tolist() == [first[t] for t in sorted(first)]
    flagged = {int(t) for t in found.times[found.conflict["temperature_c"]]}
    assert differing <= flagged


def test_a_span_reads_the_same_as_the_whole_cut(tmp_path: Path) -> None:
    take_in(tmp_path, TEXT)
    whole = stored(tmp_path)
    low, high = int(whole.times[10]), int(whole.times[20])
    part = read(tmp_path, "L1", low, high)
    assert part.times.tolist() == whole.times[10:20].tolist()
    assert np.array_equal(part.values["humidity_pct"], whole.values["humidity_pct"][10:20])


def test_a_synchronisers_copies_do_not_count(tmp_path: Path) -> None:
    take_in(tmp_path, TEXT)
    record = next((tmp_path / "readings" / "taken-in").glob("*.json"))
    record.with_name(record.stem + ".sync-conflict-20260403.json").write_bytes(record.read_bytes())
    (record.parent / ".hidden.json.tmp").write_text("{")
    assert len(intakes(tmp_path)[0]) == 1
    assert len(stored(tmp_path).times) == 60


def test_a_damaged_record_is_named_and_the_others_count(tmp_path: Path) -> None:
    take_in(tmp_path, TEXT)
    (tmp_path / "readings" / "taken-in" / "00000000.json").write_text("{torn")
    found, problems = intakes(tmp_path)
    assert len(found) == 1 and "00000000.json" in problems[0].file


def test_a_newer_format_is_refused_and_nothing_touched(tmp_path: Path) -> None:
    take_in(tmp_path, TEXT)
    record = next((tmp_path / "readings" / "taken-in").glob("*.json"))
    changed = json.loads(record.read_text()) | {"format": 2}
    changed.pop("crc")
    record.write_text(json.dumps(changed))
    with pytest.raises(ProblemError, match="found format 2"):
        stored(tmp_path)


def test_missing_readings_of_a_committed_intake_are_named(tmp_path: Path) -> None:
    take_in(tmp_path, TEXT)
    next((tmp_path / "readings").rglob("*.parquet")).unlink()
    found, problems = intakes(tmp_path)
    assert found[0].parts == () and "cannot be read" in str(problems[0])
    assert len(stored(tmp_path).times) == 0


def test_reading_and_taking_in_load_no_pandas(tmp_path: Path) -> None:
    """pandas costs 0.7 s at the start: neither the store nor the reader may bring it in."""
    (tmp_path / "L1.csv").write_text(TEXT)
    code = (
        "import sys; from pathlib import Path; from datetime import datetime, UTC\n"
        "import zoneuse.readings.trust.series\n"
        "from zoneuse.readings.read.intake import stage; from zoneuse.readings.layout import Hints\n"
        "from zoneuse.readings.store.store import read\n"
        "d = Path(sys.argv[1]); s = stage(d, d / 'L1.csv', ['L1'], UTC, Hints(), intaken=[])\n"
        "s.commit(datetime.now(UTC))\n"
        "assert len(read(d, 'L1').times) == 60\n"
        "assert not {'pandas', 'scipy', 'statsmodels', 'matplotlib'} & set(sys.modules), 'heavy import'\n"
    )
    subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=True, capture_output=True)


def test_the_parts_schema_is_the_designs(tmp_path: Path) -> None:
    import pyarrow.parquet as pq

    take_in(tmp_path, TEXT)
    path = next((tmp_path / "readings" / "logger=L1").glob("*.parquet"))
    schema = pq.read_schema(path)
    assert [str(f.type) for f in schema] == ["timestamp[ms, tz=UTC]", "double", "double"]
    meta = pq.ParquetFile(path).metadata.row_group(0).column(0)
    assert "DELTA_BINARY_PACKED" in meta.encodings and meta.compression == "ZSTD"
    assert store.FORMAT == 1
