"""The tables to take away: valid by an outside judge, true to the study, harmless in a spreadsheet."""

from __future__ import annotations

import csv
import hashlib
import json
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from frictionless import Package, validate

from tests.making import TWO_ZONES, run, scans, study_folder
from tests.tables.test_conditions import put_readings
from zoneuse import open_study
from zoneuse.export import every_table
from zoneuse.readings.store.store import read


@pytest.fixture
def study(tmp_path: Path) -> Path:
    folder = study_folder(tmp_path / "study", TWO_ZONES)
    scans(folder, "2026-03-28T20:00", [("moss", "bark"), ("moss", None), ("bark", "bark")], ("a1", "a2"))
    scans(folder, "2026-03-29T20:00", [("moss", "bark"), ("bark", "bark")], ("a1", "a2"))
    minutes = [60.0 * k for k in range(24 * 40)]
    put_readings(folder, "L1", minutes, {"temperature_c": [18 + 0.01 * k for k in range(len(minutes))]})
    put_readings(folder, "L2", minutes, {"humidity_pct": [60.0 + (k % 7) for k in range(len(minutes))]})
    why = '=HYPERLINK("http://x")'
    done = run("adjust", "water", "bark", "2", "l", "--why", why, "--expects", "bark:up", "--at", "2026-03-27",
               "--study", folder)  # fmt: skip
    assert done.exit_code == 0, done.output
    return folder


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_an_outside_judge_finds_the_package_valid(study: Path, tmp_path: Path, form: str) -> None:
    # Data Package standard (datapackage.org), judged by frictionless.
    target = tmp_path / "out"
    done = run("export", target, "--study", study, "--format", form)
    assert done.exit_code == 0, done.output
    described = json.loads((target / "datapackage.json").read_text())
    assert {r.name for r in Package(str(target / "datapackage.json")).resources} == set(every_table())
    for resource in described["resources"]:
        data = (target / resource["path"]).read_bytes()
        digest = hashlib.sha256(data).hexdigest()
        told = (
            (resource["hash"], resource["bytes"]) if form == "csv" else (resource["sha256"], resource["size"])
        )
        assert told == (f"sha256:{digest}" if form == "csv" else digest, len(data))
        for field in resource["schema"]["fields"]:
            assert field["description"]
    report = validate(str(target / "datapackage.json"))
    assert report.valid, report.to_summary()


def test_a_broken_key_is_found_by_the_outside_judge(study: Path, tmp_path: Path) -> None:
    # The keys are not only declared: a row that names a zone there is not makes the package invalid.
    target = tmp_path / "out"
    run("export", target, "--study", study, "--format", "csv")
    descriptor = json.loads((target / "datapackage.json").read_text())
    descriptor["resources"] = [
        {k: v for k, v in r.items() if k not in ("hash", "bytes")} for r in descriptor["resources"]
    ]
    (target / "datapackage.json").write_text(json.dumps(descriptor))
    text = (target / "zones.csv").read_text()
    (target / "zones.csv").write_text("\n".join(line for line in text.splitlines() if '"moss"' not in line))
    report = validate(str(target / "datapackage.json"))
    assert {e.type for task in report.tasks for e in task.errors} == {"foreign-key"}


def test_what_was_written_down_beside_the_watching_is_there(study: Path, tmp_path: Path) -> None:
    for words in (
        ["fed", "2 crickets"],
        ["weighed", "a1", "23.5"],
        ["shedding", "a2"],
        ["text", "quiet night"],
    ):
        done = run("note", *words, "--study", study, "--at", "2026-03-28T21:00")
        assert done.exit_code == 0, done.output
    target = tmp_path / "out"
    assert run("export", target, "--study", study, "--format", "csv").exit_code == 0
    (feed,), (weight,) = rows(target / "feeds.csv"), rows(target / "weights.csv")
    assert (feed["value"], feed["animal"]) == ("2 crickets", "")
    assert (weight["weight"], weight["animal"]) == ("23.5", "a1")
    assert weight["at"] == "2026-03-28T21:00:00.000+01:00"
    assert weight["at_utc"] == "2026-03-28T20:00:00.000+00:00"
    assert [r["what"] for r in rows(target / "context.csv")] == ["shedding"]
    assert [r["text"] for r in rows(target / "notes.csv")] == ["text quiet night"]
    # Everything of the kind on record is in exactly one of the tables.
    journals = open_study(study).journals
    written = sum(len(rows(target / f"{name}.csv")) for name in ("feeds", "weights", "notes", "context"))
    assert written == sum(1 for _ in journals.entries("context", "noted")) == 4
    assert len(rows(target / "sessions.csv")) == len(journals.sessions)


def test_what_study_toml_declares_is_there_and_what_only_records_name_too(
    study: Path, tmp_path: Path
) -> None:
    declared = (study / "study.toml").read_text()
    (study / "study.toml").write_text(declared.replace("[animals.a2]", "[animals.a3]"))
    target = tmp_path / "out"
    assert run("export", target, "--study", study, "--format", "csv").exit_code == 0
    assert {r["animal"]: r["declared"] for r in rows(target / "animals.csv")} == {
        "a1": "true",
        "a3": "true",
        "a2": "false",
    }
    assert [r["zone"] for r in rows(target / "zones.csv")] == ["moss", "bark"]
    periods = rows(target / "periods.csv")
    assert {(r["zone"], r["value"]) for r in periods if r["what"] == "amount"} == {
        ("moss", "300"),
        ("bark", "100"),
    }
    assert {(r["logger"], r["zone"]) for r in periods if r["what"] == "placed"} >= {("L1", "moss")}
    assert validate(str(target / "datapackage.json")).valid


def test_the_tables_hold_what_the_study_holds(study: Path, tmp_path: Path) -> None:
    target = tmp_path / "out"
    run("export", target, "--study", study, "--format", "csv")
    moments = open_study(study).moments
    written = rows(target / "moments.csv")
    assert [r["zone"] or None for r in written] == [
        z if isinstance(z, str) else None for z in moments["zone"]
    ]
    # The clock goes forward on 29 March 2026: each time carries the offset of its day.
    assert {r["at"][-6:] for r in written} == {"+01:00", "+02:00"}
    assert written[0]["at"].startswith("2026-03-28T20:00")
    choices = rows(target / "choices.csv")
    for moment in {r["moment"] for r in choices}:
        own = [r for r in choices if r["moment"] == moment]
        assert sum(float(r["offered"]) for r in own) == pytest.approx(1)
        assert [r["chosen"] for r in own].count("true") == 1
        there = written[int(moment) - 1]
        assert next(r["zone"] for r in own if r["chosen"] == "true") == there["zone"]
        assert own[0]["at"] == there["at"]
    readings = rows(target / "readings.csv")
    assert len(readings) == sum(len(read(study, logger).times) for logger in ("L1", "L2")) > 1900
    assert {r["zone"] for r in readings if r["logger"] == "L1"} == {"moss"}


def test_a_cell_that_would_run_as_a_formula_is_defused(study: Path, tmp_path: Path) -> None:
    target = tmp_path / "out"
    run("export", target, "--study", study, "--format", "csv")
    (change,) = rows(target / "adjustments.csv")
    assert change["why"].startswith("'=HYPERLINK")
    assert change["expects"] == "bark:up"
    run("export", target, "--study", study, "--force")
    # Parquet holds the words as they were written: nothing there runs.
    assert pq.read_table(target / "adjustments.parquet")["why"][0].as_py().startswith("=HYPERLINK")
    assert not (target / "adjustments.csv").exists()


def test_times_in_parquet_carry_the_studys_zone(study: Path, tmp_path: Path) -> None:
    target = tmp_path / "out"
    run("export", target, "--study", study)
    schema = pq.read_schema(target / "moments.parquet")
    assert str(schema.field("at").type) == "timestamp[ms, tz=Europe/Vienna]"
    assert str(schema.field("day").type) == "date32[day]"
    assert str(schema.field("sure").type) == "bool"


def test_other_peoples_files_and_the_study_itself_are_left_alone(study: Path, tmp_path: Path) -> None:
    target = tmp_path / "out"
    target.mkdir()
    (target / "thesis.txt").write_text("mine")
    refused = run("export", target, "--study", study)
    assert refused.exit_code == 1
    assert "thesis.txt" in str(refused.exception)
    assert [p.name for p in target.iterdir()] == ["thesis.txt"]
    assert run("export", target, "--study", study, "--force").exit_code == 0
    for place in (study, study / "journal", study / "readings" / "x"):
        assert run("export", place, "--study", study).exit_code == 1


def test_what_was_not_finished_is_not_described_and_may_be_run_again(
    study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "out"
    assert run("export", target, "--study", study).exit_code == 0

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr("zoneuse.export.package.put_in_place", full)
        assert run("export", target, "--study", study, "--force").exit_code == 1
    assert not (target / "datapackage.json").exists()
    assert run("export", target, "--study", study).exit_code == 0
    assert not list(target.glob(".*"))


def test_an_empty_study_gives_empty_tables(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study", TWO_ZONES)
    done = run("export", tmp_path / "out", "--study", folder, "--format", "csv")
    assert done.exit_code == 0, done.output
    assert validate(str(tmp_path / "out" / "datapackage.json")).valid
