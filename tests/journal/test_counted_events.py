"""Tables of how often things happened while somebody watched: rates over the time watched, zeros among them."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.making import TWO_ZONES, run, study_folder
from zoneuse import open_study

EVENTS = (
    TWO_ZONES
    + """
[behaviours.fight]
label = "Fight"
key = "X"
lasts = false
[behaviours.chase]
label = "Chase"
key = "Y"
lasts = false
[phases.first]
until = 2026-02-15
[phases.second]
from = 2026-02-15
"""
)
Watched = list[tuple[date, int, dict[str, int | None]]]


def watched(seed: int, days: int = 28) -> Watched:
    """Days with how many minutes were watched and how often each was seen; None: not watched for."""
    random = np.random.default_rng(seed)
    told: Watched = []
    for k in range(days):
        minutes = int(random.integers(10, 50))
        fights = int(random.poisson((6.0 if k < days // 2 else 1.0) * minutes / 60))
        chases = None if random.random() < 0.2 else int(random.poisson(3.0 * minutes / 60))
        told.append((date(2026, 2, 1) + timedelta(days=k), minutes, {"fight": fights, "chase": chases}))
    return told


def wide(told: Watched, path: Path) -> Path:
    lines = ["date,time,until,group,fight,chase"]
    for day, minutes, counts in told:
        cells = ",".join("" if n is None else str(n) for n in counts.values())
        lines.append(f"{day},20:00,20:{minutes:02d},young,{cells}")
    path.write_text("\n".join(lines))
    return path


def by_hand(told: Watched, name: str) -> tuple[float, float]:
    """How often in all, and in how many hours it was watched for."""
    known = [(counts[name], minutes / 60) for _, minutes, counts in told if counts[name] is not None]
    return sum(n or 0 for n, _ in known), sum(h for _, h in known)


@pytest.mark.parametrize("seed", range(6))
def test_rates_are_those_of_a_plain_reader(tmp_path: Path, seed: int) -> None:
    folder, told = study_folder(tmp_path / "s", EVENTS), watched(seed)
    done = run("sightings", wide(told, tmp_path / "t.csv"), "--wide", "behaviour", "--yes", "--study", folder)
    assert done.exit_code == 0 and "0 refused" in done.stdout, done.stderr
    table = open_study(folder).activity().table.set_index("behaviour")
    for name in ("fight", "chase"):
        number, hours = by_hand(told, name)
        assert table["per_hour"][name] == pytest.approx(number / hours)
    happened = sum(e.record.get("count") or 1 for e in open_study(folder).journals.entries("happened"))
    assert happened == sum(by_hand(told, name)[0] for name in ("fight", "chase"))


def test_fewer_fights_are_found_and_no_record_is_left_out(tmp_path: Path) -> None:
    folder, told = study_folder(tmp_path / "s", EVENTS), watched(1)
    run("sightings", wide(told, tmp_path / "t.csv"), "--wide", "behaviour", "--yes", "--study", folder)
    answer = open_study(folder).shifts(between="first,second")
    row = answer.table[answer.table["name"] == "fight"].iloc[0]
    halves = [
        [c["fight"] / (m / 60) for d, m, c in told if (d < date(2026, 2, 15)) == early]
        for early in (True, False)
    ]
    assert (row["before"], row["after"]) == pytest.approx([float(np.mean(half)) for half in halves])
    assert next(f for f in answer.findings if f.about[-1] == "fight").verdict == "fell"
    left = json.loads(run("activity", "--json", "--study", folder).stdout)["effort"]["left_out"]
    assert left == {}
    assert "what happened, not where" in run("zones", "--study", folder).stdout
    assert "left out" not in run("check", "--study", folder).stdout


def test_minutes_beside_counts_and_a_long_table_say_the_same(tmp_path: Path) -> None:
    """A long table that said 0 fights gave one, and sessions of events alone were on no answer's record."""
    told = watched(3)
    lines = ["at,group,behaviour,count,minutes"]
    lines += [
        f"{day} 20:00,young,{name},{n},{minutes}"
        for day, minutes, counts in told for name, n in counts.items() if n is not None
    ]  # fmt: skip
    (tmp_path / "long.csv").write_text("\n".join(lines))
    one, other = study_folder(tmp_path / "a", EVENTS), study_folder(tmp_path / "b", EVENTS)
    run("sightings", wide(told, tmp_path / "t.csv"), "--wide", "behaviour", "--yes", "--study", one)
    done = run("sightings", tmp_path / "long.csv", "--column", "minutes=minutes", "--yes", "--study", other)
    assert done.exit_code == 0, done.stderr
    tables = [open_study(folder).activity().table for folder in (one, other)]
    assert tables[0].equals(tables[1])
    assert tables[0].set_index("behaviour")["per_hour"]["fight"] > 0


def test_never_needs_to_be_said_how_long(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s", EVENTS)
    (tmp_path / "t.csv").write_text("at,group,zone,behaviour,count\n2026-02-01 20:00,young,,fight,0\n")
    done = run("sightings", tmp_path / "t.csv", "--yes", "--study", folder)
    assert done.exit_code == 1 and "how long was watched" in done.stderr
    assert not list((folder / "journal").glob("*")) if (folder / "journal").is_dir() else True


@pytest.mark.parametrize(("cell", "events"), [("0,0", 0), (".0", 0), ("3,0", 3), ("3.00", 3)])
def test_a_spreadsheets_numbers_are_whole(tmp_path: Path, cell: str, events: int) -> None:
    """``.0`` was taken for an empty cell, and so for one event."""
    folder = study_folder(tmp_path / "s", EVENTS)
    (tmp_path / "t.csv").write_text(f"at;until;group;fight\n2026-02-01 20:00;20:30;young;{cell}\n")
    done = run("sightings", tmp_path / "t.csv", "--wide", "behaviour", "--yes", "--study", folder)
    assert done.exit_code == 0, done.stderr
    assert sum(e.record.get("count") or 1 for e in open_study(folder).journals.entries("happened")) == events
