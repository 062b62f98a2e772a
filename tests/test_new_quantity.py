"""A new quantity is one entry in the registry: carbon dioxide, followed from an export to every face."""

from __future__ import annotations

import json
import math
from datetime import timedelta
from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, scans, study_folder, vienna
from zoneuse.answers.study import Study
from zoneuse.recording.session.newest import broken, read_newest
from zoneuse.study.quantities import QUANTITIES, Quantity
from zoneuse.study.toml.file import load_declaration

CO2 = Quantity(
    "co2_ppm", "ppm", "carbon dioxide", 200, 20_000, 5, ("co2", "carbon dioxide", "kohlendioxid"),
    accuracy=50, digits=0, brief_digits=0, symbol="ppm", more="staler", less="fresher", too_much="too stale",
)  # fmt: skip
LIMITED = TWO_ZONES + "\n[limits.moss]\nco2_ppm = {high = 1000}\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Twelve days of both loggers' exports taken in, and a session each evening."""
    monkeypatch.setitem(QUANTITIES, "co2_ppm", CO2)
    made = study_folder(tmp_path / "study", LIMITED)
    for logger, base in (("L1", 900.0), ("L2", 500.0)):
        lines = ["Date/Time,CO2 (ppm)"]
        for k in range(12 * 48):
            at = vienna("2026-03-01T00:00") + timedelta(minutes=30 * k)
            value = 60_000.0 if k == 7 and logger == "L1" else base + 300 * math.sin(k / 9)
            lines.append(f"{at:%Y-%m-%d %H:%M},{value:.0f}")
        export = tmp_path / f"{logger}.csv"
        export.write_text("\n".join(lines) + "\n", encoding="utf-8")
        taken = run("readings", export, "--study", made, "--logger", logger, "--yes")
        assert taken.exit_code == 0, taken.stderr
    for day in range(1, 13):
        rows = [("bark",) if (day + k) % 4 else ("moss",) for k in range(8)]
        scans(made, f"2026-03-{day:02d}T19:00", rows)
    return made


def test_it_is_not_known_without_its_entry(tmp_path: Path) -> None:
    made = study_folder(tmp_path / "study", LIMITED)
    told = run("check", "--study", made)
    assert "co2_ppm" in told.output


def test_it_is_taken_in_flagged_joined_and_modelled(folder: Path) -> None:
    study = Study(folder)
    climate = study.climate()
    part = climate.parts["zones"].set_index(["zone", "quantity"])
    moss = part.loc["moss", "co2_ppm"]
    # The code for "no sensor" was not taken for a reading: the median is that of the others.
    assert moss["p95"] < 1300 and moss["accuracy"] == 50
    assert moss["above_limit_h"] > 24
    outside = next(f for f in climate.findings if f.verdict == "outside limits")
    assert outside.about == ("moss",) and outside.numbers["limit_high"].value == 1000
    assert outside.numbers["newest"].unit == "ppm"
    prefer = study.preference(compare=False)
    assert list(prefer.table["quantity"]) == ["co2_ppm"]
    assert prefer.findings[0].about == ("co2_ppm",) and prefer.findings[0].numbers["difference"].unit == "ppm"
    assert list(prefer.table["quantity_label"]) == ["carbon dioxide"]


def test_the_recorder_warns_of_it(folder: Path) -> None:
    declared = load_declaration(folder)
    newest = read_newest(folder)
    assert {one.quantity for one in newest} == {"co2_ppm"}
    over = [
        one if one.zone != "moss" else type(one)(one.zone, one.quantity, 1500.0, one.at) for one in newest
    ]
    (told,) = broken(declared, tuple(over), max(one.at for one in newest))
    assert told.startswith("Moss carbon dioxide 1500 ppm, above 1000 ppm")


def test_page_and_export_show_it(folder: Path, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    assert run("report", "--study", folder, "--out", page).exit_code == 0
    assert "carbon dioxide" in page.read_text("utf-8").lower()
    target = tmp_path / "out"
    assert run("export", target, "--study", folder, "--format", "csv").exit_code == 0
    described = json.loads((target / "datapackage.json").read_text("utf-8"))
    columns = {
        table["name"]: {f["name"]: f for f in table["schema"]["fields"]} for table in described["resources"]
    }
    for table in ("conditions", "choices", "readings"):
        assert "carbon dioxide" in columns[table]["co2_ppm"]["description"]
