"""`zoneuse tracks` from file to answers: what is on record is what the track was."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq
import pytest

from tests.making import run
from zoneuse import open_study
from zoneuse.journal.reader import read_journals
from zoneuse.live.tracks import kept_ticks

from .made import STUDY, points_of, study_at

START = "2026-03-01 12:00"
STAYS = ["moss", "moss", "open", "dish", "", "moss", "open", "open"]
EACH = 25 * 100  # 100 s at 25 pictures a second: ten ticks


def long_table() -> pa.Table:
    random = np.random.default_rng(2)
    tables = []
    for name, stays in (("a", STAYS), ("b", STAYS[::-1])):
        x, y = points_of(stays, EACH, random)
        n = len(x)
        tables.append(
            pa.table({"frame": np.arange(n), "id": [name] * n, "x": x, "y": y, "p": np.full(n, 0.9)})
        )
    return pa.concat_tables(tables).sort_by([("frame", "ascending"), ("id", "ascending")])


def zones_of(study: Path, animal: str) -> list[str | None]:
    rows = open_study(study).moments
    rows = rows[rows["animal"] == animal].sort_values("at")
    return [
        None if out or zone != zone else zone for zone, out in zip(rows["zone"], rows["out"], strict=True)
    ]


@pytest.mark.parametrize("kind", ["csv", "parquet", "semicolons"])
def test_every_moment_is_where_the_animal_was(tmp_path: Path, kind: str) -> None:
    study, table = study_at(tmp_path / "s"), long_table()
    path = tmp_path / f"run.{'parquet' if kind == 'parquet' else 'csv'}"
    if kind == "parquet":
        pq.write_table(table, path)
    elif kind == "csv":
        pa_csv.write_csv(table, path)
    else:
        lines = ["frame;id;x;y;p"]
        lines += [";".join(str(v).replace(".", ",") for v in r.values()) for r in table.to_pylist()]
        path.write_text("\n".join(lines), encoding="utf-8")
    done = run("tracks", path, "--study", study, "--start", START, "--yes")
    assert done.exit_code == 0, done.output
    for animal, stays in (("a", STAYS), ("b", STAYS[::-1])):
        expected = [zone or None for zone in stays for _ in range(10)]
        assert zones_of(study, animal) == expected
    rows = open_study(study).moments
    assert (rows["out"] == "outside every outline").sum() == 20  # nowhere: kept, and in no share


def test_parts_tell_visits_and_time_together(tmp_path: Path) -> None:
    study = study_at(tmp_path / "s")
    pq.write_table(long_table(), tmp_path / "run.parquet")
    run("tracks", tmp_path / "run.parquet", "--study", study, "--start", START, "--yes")
    parts = json.loads(run("zones", "--study", study, "--json").stdout)["parts"]
    ada = {r["zone"]: r for r in parts["visits"] if r["animal"] == "a"}
    moss = ada["moss"]
    assert (moss["entries"], moss["exits"], moss["visits"]) == (1, 2, 2)
    assert moss["time_min"] == pytest.approx(5.0) and moss["first_entry_min"] == 0
    assert ada["dish"]["dwell_min"] == pytest.approx(100 / 60) and ada["dish"][
        "first_entry_min"
    ] == pytest.approx(5.0)
    both = [(p, q) for p, q in zip(STAYS, STAYS[::-1], strict=True) if p and q]
    pair = parts["together"][0]
    assert pair["moments"] == 10 * len(both)
    assert pair["together"] == pytest.approx(sum(p == q for p, q in both) / len(both))


def test_the_picture_shows_the_hours_and_where_on_the_sketch_they_were(tmp_path: Path) -> None:
    study = study_at(tmp_path / "s")
    pq.write_table(long_table(), tmp_path / "run.parquet")
    run("tracks", tmp_path / "run.parquet", "--study", study, "--start", START, "--yes")
    parts = json.loads(run("zones", "--study", study, "--json").stdout)["parts"]
    cells = parts["density"]
    assert sum(c["moments"] for c in cells) == 140 and cells[0]["beyond"] == 20
    assert len(cells) == 24 * 16 and {c["zone_label"] for c in cells} == {"Moss", "Open", "Dish"}
    by_zone = {z: sum(c["moments"] for c in cells if c["zone"] == z) for z in ("moss", "open", "dish")}
    assert by_zone == {"moss": 60, "open": 60, "dish": 20}  # what the moments say, of points well inside
    assert {r["hour"] for r in parts["by_hour"]} == {12}
    assert sum(r["share"] for r in parts["by_hour"]) == pytest.approx(1.0)
    svg = tmp_path / "z.svg"
    assert run("zones", "--study", study, "--plot", svg).exit_code == 0
    assert "Where the tracks were" in svg.read_text("utf-8") and "Hours of the day" in svg.read_text("utf-8")
    page = tmp_path / "page.html"
    assert run("report", "--study", study, "-o", page).exit_code == 0
    assert "Where the tracks were" in page.read_text("utf-8")


def test_the_picture_is_of_the_moments_asked_for(tmp_path: Path) -> None:
    study = study_at(tmp_path / "s", STUDY.replace("size = [60, 40]", ""))
    pq.write_table(long_table(), tmp_path / "run.parquet")
    run("tracks", tmp_path / "run.parquet", "--study", study, "--start", START, "--yes")

    def drawn(*asked: str) -> int:
        cells = json.loads(run("zones", "--study", study, *asked, "--json").stdout)["parts"].get(
            "density", []
        )
        return sum(c["moments"] for c in cells)

    assert drawn() == 140  # as large as its outlines where no size is given
    assert drawn("--animal", "b") == 70 and drawn("--since", "2026-03-02") == 0
    run("tracks", tmp_path / "run.parquet", "--study", study, "--undo")
    assert drawn() == 0


def test_a_damaged_file_of_tracks_is_named_and_never_drawn(tmp_path: Path) -> None:
    study = study_at(tmp_path / "s")
    pq.write_table(long_table(), tmp_path / "run.parquet")
    run("tracks", tmp_path / "run.parquet", "--study", study, "--start", START, "--yes")
    (kept,) = (study / "tracks").glob("*.parquet")
    whole = kept.read_bytes()
    sound = json.loads(run("zones", "--study", study, "--json").stdout)["rows"]
    for place in (10, len(whole) // 3, len(whole) - 20):
        kept.write_bytes(whole[:place] + bytes([whole[place] ^ 4]) + whole[place + 1 :])
        told = json.loads(run("zones", "--study", study, "--json").stdout)
        assert told["rows"] == sound and not told["parts"].get("density", [])
        assert "tracks-damaged" in [c["code"] for c in told["cautions"]]
        checked = run("check", "--study", study)
        assert checked.exit_code == 1 and kept.name in checked.stdout + checked.stderr


def test_a_file_of_tracks_flipped_or_cut_at_any_byte_is_left_out(tmp_path: Path) -> None:
    study = study_at(tmp_path / "s")
    pq.write_table(long_table(), tmp_path / "run.parquet")
    run("tracks", tmp_path / "run.parquet", "--study", study, "--start", START, "--yes")
    (kept,) = (study / "tracks").glob("*.parquet")
    whole, journals = kept.read_bytes(), read_journals(study)
    assert kept_ticks(study, journals).tables["overhead"].num_rows == 160
    for at in range(0, len(whole), 17):  # 1 by hand: docs/trust.md
        for bad in (whole[:at], whole[:at] + bytes([whole[at] ^ (1 << at % 8)]) + whole[at + 1 :]):
            kept.write_bytes(bad)
            found = kept_ticks(study, journals)
            assert not found.tables and [p.code for p in found.problems] == ["damaged-tracks"], at
    kept.unlink()
    assert [p.code for p in kept_ticks(study, journals).problems] == ["damaged-tracks"]


def test_no_file_is_taken_in_twice_and_undo_takes_it_out(tmp_path: Path) -> None:
    study = study_at(tmp_path / "s")
    path = tmp_path / "run.parquet"
    pq.write_table(long_table(), path)
    take = ("tracks", path, "--study", study, "--start", START, "--yes")
    run(*take)
    before = sorted((study / "journal").iterdir())
    again = run(*take)
    assert "taken in already" in again.stdout and sorted((study / "journal").iterdir()) == before
    assert run("tracks", path, "--study", study, "--undo").exit_code == 0
    assert len(open_study(study).moments) == 0
    assert run(*take).exit_code == 0 and len(open_study(study).moments) == 160


def test_wide_tables_and_times_without_rows(tmp_path: Path) -> None:
    study = study_at(tmp_path / "s")
    lines = ["time,ax,ay,bx,by"]
    for second in (*range(100), *range(1000, 1100)):
        bea = ",," if second < 50 else ",15,20"
        at = f"2026-03-01T12:{second // 60:02d}:{second % 60:02d}"
        lines.append(f"{at},{'abc' if second == 7 else 40},20{bea}")
    (tmp_path / "w.csv").write_text("\n".join(lines), encoding="utf-8")
    done = run("tracks", tmp_path / "w.csv", "--study", study, "--yes")
    assert done.exit_code == 0, done.output
    assert "1 cell not a number" in done.stderr and "nobody looked for 15 min" in done.stderr
    ada, bea = zones_of(study, "a"), zones_of(study, "b")
    assert ada == ["open"] * len(ada) and len(ada) == len(bea)
    assert 18 <= len(ada) <= 24  # only while the table has rows, and the short while a row speaks
    assert bea[:5] == [None] * 5 and bea[-1] == "moss"


REST = (("0007", "R2"), ("0009", "R1"), ("0007", "R9"))


def test_antennas_stand_for_zones_and_silence_is_unseen(tmp_path: Path) -> None:
    study = study_at(tmp_path / "s")
    lines = ["time,tag,reader"]
    lines += [f"2026-03-01T12:00:{s:02d}+01:00,0007,R1" for s in range(0, 30, 5)]
    lines += [
        "2026-03-01T12:02:00+01:00,0007,R2",
        "2026-03-01T12:02:01+01:00,0009,R1",
        "2026-03-01T12:02:02+01:00,0007,R9",
    ]
    (tmp_path / "r.csv").write_text("\n".join(lines), encoding="utf-8")
    done = run("tracks", tmp_path / "r.csv", "--study", study, "--yes")
    assert done.exit_code == 0, done.output
    assert "1 row left out: '0009'" in done.stderr and "1 read left out: an antenna" in done.stderr
    rows = open_study(study).moments
    assert rows["zone"].fillna("-").tolist() == ["moss"] * 4 + ["-"] * 8 + ["dish"]
    assert set(rows["out"]) == {""}  # unseen counts in the limits, it is not left out


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (("camera = ", "x"), ""),
        (("[[0, 0], [30, 0], [30, 40], [0, 40]]", "[[0, 0], [30, 40], [30, 0], [0, 40]]"), "zones.moss.outline"),
        (('antennas = {R1 = "moss"', 'antennas = {R1 = "mos"'), "tracks.readers.antennas.R1"),
        (("rate = 25\n", ""), "tracks.overhead.rate"),
        (('names = {"0007" = "a"}', 'names = {"0007" = "zz"}'), "tracks.readers.names.0007"),
        (("size = [60, 40]", "size = [60]"), "cameras.top.size"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_study_toml_is_named_with_its_place(tmp_path: Path, change: Any, place: str) -> None:
    study = study_at(tmp_path / "s", STUDY.replace(*change))
    done = run("check", "--study", study)
    if place:
        assert done.exit_code == 1 and place in done.stdout + done.stderr
    else:
        assert done.exit_code == 0, done.output


def test_a_start_that_is_missing_and_columns_that_fit_nothing_are_told(tmp_path: Path) -> None:
    study = study_at(tmp_path / "s")
    pq.write_table(long_table(), tmp_path / "run.parquet")
    done = run("tracks", tmp_path / "run.parquet", "--study", study, "--yes")
    assert done.exit_code == 1 and "--start" in done.stderr
    (tmp_path / "x.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    done = run("tracks", tmp_path / "x.csv", "--study", study, "--yes")
    assert done.exit_code == 1 and "[tracks.NAME]" in done.stderr
    assert not (study / "journal").exists()


def test_a_full_disk_leaves_no_piece_aside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = study_at(tmp_path / "s")
    pq.write_table(long_table(), tmp_path / "run.parquet")

    def full(_table: pa.Table, where: Path, **_: Any) -> None:
        Path(where).write_bytes(b"PAR1")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(pq, "write_table", full)
    done = run("tracks", tmp_path / "run.parquet", "--study", study, "--start", START, "--yes")
    assert done.exit_code != 0
    assert not list((study / "tracks").iterdir()) and not read_journals(study).sessions
