"""Tank 1 and chamber 1: names that mean two things in one table are told apart by the column they stand in."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.making import run, study_folder
from zoneuse import open_study

TANKS = """
format = 1
title = "Tanks"
timezone = "Europe/London"
[enclosure]
measured_in = "floor_cm2"
[zones.cool]
label = "Cool chamber"
amount = 100
[zones.warm]
label = "Warm chamber"
amount = 100
[groups.tank_a]
label = "Tank A"
size = 12
[groups.tank_b]
label = "Tank B"
size = 12
[treatments.plain]
[treatments.warmed]
"""
LONG = "date,time,tank,chamber,count,treatment\n" + "".join(
    f"2026-03-01,10:00,{tank},{chamber},{count},{treatment}\n"
    for tank, chamber, count, treatment in ((1, 1, 4, 1), (1, 2, 8, 1), (2, 1, 9, 2), (2, 2, 3, 2))
)
WIDE = "date,time,tank,treatment,1,2\n2026-03-01,10:00,1,1,4,8\n2026-03-01,10:00,2,2,9,3\n"
BY_COLUMN = ("group:1=tank_a", "group:2=tank_b", "zone:1=cool", "zone:2=warm")
TREATED = ("treatment:1=plain", "treatment:2=warmed")
LAID_OUT = {"long": (LONG, ("--column", "zone=chamber")), "wide": (WIDE, ("--wide", "zone"))}


def taken(folder: Path, how: str, *names: str) -> tuple[int, str, str]:
    text, said = LAID_OUT[how]
    (folder / "counts.csv").write_text(text, encoding="utf-8")
    mapped = [word for name in names for word in ("--map", name)]
    told = run(
        "sightings",
        folder / "counts.csv",
        "--yes",
        *said,
        "--column",
        "group=tank",
        *mapped,
        "--study",
        folder,
    )
    return told.exit_code, told.stdout, told.stderr


@pytest.mark.parametrize("how", LAID_OUT)
def test_a_name_said_of_one_column_holds_there_only(how: str, tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TANKS)
    code, out, err = taken(folder, how, *BY_COLUMN, *TREATED)
    assert code == 0 and "4 rows taken in" in out, err
    rows = open_study(folder).moments
    found = {(r.group, r.zone, r.treatment): r.weight for r in rows.itertuples()}
    assert found == {
        ("tank_a", "cool", "plain"): 4, ("tank_a", "warm", "plain"): 8,
        ("tank_b", "cool", "warmed"): 9, ("tank_b", "warm", "warmed"): 3,
    }  # fmt: skip


def test_what_cannot_be_told_apart_says_how_it_can(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TANKS)
    _, _, err = taken(folder, "long")
    # The remedy is typed as it stands, and works.
    assert "--map 'group:1=GROUP'" in err and "--map 'zone:1=ZONE'" in err
    code, _, err = taken(folder, "long", "1=tank_a", "1=cool")
    assert code == 2 and "--map group:1=… and --map zone:1=…" in err
    _, _, err = taken(folder, "wide", "1=cool", "2=warm")
    assert "'cool' is no group of the study. --map '1=cool' is said of every column" in err
    assert "--map 'group:1=GROUP'" in err
