"""Published use-against-availability numbers, through the command line from a table of sightings."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.making import run, study_folder

CLASSES = ("interior", "in_edge", "out_edge", "further")
AVAILABLE = (0.340, 0.101, 0.104, 0.455)
USED = (25, 22, 30, 40)


@pytest.fixture(scope="module")
def moose(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Neu, Byers & Peek 1974, J. Wildl. Manage. 38:541-545: 117 records in four classes."""
    base = tmp_path_factory.mktemp("moose")
    zones = "".join(
        f'[zones.{name}]\nlabel = "{name}"\nkey = "{key}"\namount = {amount}\n'
        for name, key, amount in zip(CLASSES, "abcd", AVAILABLE, strict=True)
    )
    folder = study_folder(
        base / "study",
        f'format = 1\ntitle = "Moose"\ntimezone = "UTC"\n[enclosure]\nmeasured_in = "places"\n{zones}'
        '[animals.m]\nlabel = "Moose"\nkey = "1"\n',
    )
    records = [name for name, count in zip(CLASSES, USED, strict=True) for _ in range(count)]
    rows = "".join(
        f"2026-01-{1 + i // 24:02d}T{i % 24:02d}:00,day {i // 24},m,{name}\n"
        for i, name in enumerate(records)
    )
    table = base / "moose.csv"
    table.write_text(f"at,session,animal,zone\n{rows}", encoding="utf-8")
    assert run("sightings", table, "--study", folder, "--yes").exit_code == 0
    return folder


def rows(folder: Path, *options: str) -> dict[str, dict[str, float]]:
    result = run("zones", "--study", folder, "--json", *options)
    assert result.exit_code == 0, result.stderr
    return {row["zone"]: row for row in json.loads(result.stdout)["rows"]}


def test_neu_byers_peek_intervals_with_every_record_by_itself(moose: Path) -> None:
    # Shares and Bonferroni limits at 95 %: recomputed from the published inputs (CHECK_VALUES 1.1, a/b).
    expected = {
        "interior": (0.213675, 0.119024, 0.308326),
        "in_edge": (0.188034, 0.097807, 0.278261),
        "out_edge": (0.256410, 0.155582, 0.357239),
        "further": (0.341880, 0.232349, 0.451412),
    }
    found = rows(moose, "--cluster", "moment")
    for zone, values in expected.items():
        shown = [found[zone][name] for name in ("used", "used_low", "used_high")]
        assert shown == pytest.approx(values, abs=5e-7)
        available = dict(zip(CLASSES, AVAILABLE, strict=True))[zone]
        # Manly's ratio is the share over what is offered, and so are its limits.
        ratios = [found[zone][name] for name in ("ratio", "ratio_low", "ratio_high")]
        assert ratios == pytest.approx([v / available for v in values], abs=1e-5)
    assert sum(r["ratio"] * r["available"] for r in found.values()) == pytest.approx(1)


def test_the_published_method_comes_with_its_caution_and_without_its_p(moose: Path) -> None:
    result = run("zones", "--study", moose, "--cluster", "moment")
    said = " ".join(result.stdout.split())
    assert "Animals stay put, so these limits are too narrow" in said
    assert "43.69" not in said
    assert "chi-" not in said.lower()
    assert "1.7" not in said


def test_by_session_the_same_records_are_worth_less(moose: Path) -> None:
    by_record, by_session = rows(moose, "--cluster", "moment"), rows(moose)
    for zone in CLASSES:
        width = [r[zone]["used_high"] - r[zone]["used_low"] for r in (by_record, by_session)]
        assert width[1] > width[0]
