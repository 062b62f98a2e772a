"""The whole path on real lizards: tables and readings in, check, zones and prefer out, from the shell.

Data: Stark et al. 2024, J Therm Biol 121:103841. "Computed" numbers are those worked out from the raw file
in the data's own README; nothing here is printed in the paper unless it says "published".
"""

from __future__ import annotations

import json
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.making import run
from tests.real.lizards import PLACES, Minute, read_raw, spread_repeats, write_season
from tests.real.where import real
from zoneuse import open_study

RAW = ("lizard_arena_stark2024", "raw", "Raw Dataset For Analysis.csv")


@pytest.fixture(scope="module")
def minutes() -> list[Minute]:
    return spread_repeats(read_raw(real(*RAW)))


@pytest.fixture(scope="module")
def seasons(minutes: list[Minute], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Both seasons as a keeper would have them, taken in by the commands a keeper would type."""
    base = tmp_path_factory.mktemp("lizards")
    folders = {}
    for season in ("summer", "winter"):
        folder = folders[season] = write_season(minutes, season, base / season)
        taken = run("sightings", folder / "sightings.csv", "--study", folder, "--yes")
        assert taken.exit_code == 0, taken.stderr
        assert "0 refused" in taken.stdout
        files = sorted(p for p in folder.glob("*_[123].csv"))
        readings = run("readings", *files, "--study", folder, "--yes")
        assert readings.exit_code == 0, readings.stderr
        assert run("check", "--study", folder).exit_code == 0
    return folders


def answer(folder: Path, command: str) -> dict:
    result = run(command, "--study", folder, "--json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def verdicts(found: dict) -> dict[str, str]:
    return {f["about"][0]: f["verdict"] for f in found["findings"]}


@pytest.mark.parametrize(
    ("season", "sessions", "shares"),
    [("summer", 15, (0.501, 0.321, 0.179)), ("winter", 30, (0.117, 0.125, 0.757))],
)
def test_minutes_by_zone_and_season(
    seasons: dict[str, Path], season: str, sessions: int, shares: tuple[float, ...]
) -> None:
    found = answer(seasons[season], "zones")
    minutes = {row["zone"]: row["moments"] for row in found["rows"]}
    assert found["effort"]["sessions"] == sessions
    total = sum(minutes.values())
    assert total == {"summer": 2967, "winter": 3881}[season]
    # Computed: share of all minutes; the answer itself averages over sessions.
    assert [minutes[p] / total for p in PLACES] == pytest.approx(shares, abs=5e-4)


@pytest.mark.parametrize(("season", "used", "offered"), [("summer", 39.52, 42.40), ("winter", 27.79, 25.00)])
def test_temperature_used_against_offered(
    seasons: dict[str, Path], season: str, used: float, offered: float
) -> None:
    found = answer(seasons[season], "prefer")
    (row,) = found["parts"]["used_against_offered"]
    # Computed: means over all minutes, offered as the mean of the three zones. Every minute found its readings.
    assert (row["used_mean"], row["offered_mean"]) == pytest.approx((used, offered), abs=0.005)
    assert found["effort"]["moments_with_conditions"] == found["effort"]["moments"]


def test_a_keeper_reads_that_in_summer_the_open_is_avoided_and_in_winter_sought(
    seasons: dict[str, Path],
) -> None:
    # Published (abstract): shaded zones in summer, mostly the open in winter.
    assert verdicts(answer(seasons["summer"], "zones"))["open"] == "avoided"
    winter = verdicts(answer(seasons["winter"], "zones"))
    assert winter == {"rock": "avoided", "bush": "avoided", "open": "favoured"}


def test_a_keeper_reads_that_cooler_places_are_chosen_in_summer(seasons: dict[str, Path]) -> None:
    summer = answer(seasons["summer"], "prefer")
    assert verdicts(summer) == {"temperature_c": "falling"}
    assert "the cooler the place, the more it is chosen" in summer["findings"][0]["says"]
    # Published (abstract): in winter use did not follow temperature. The open is always the warmest place
    # then, so the two cannot be told apart, and the answer says so.
    winter = answer(seasons["winter"], "prefer")
    assert verdicts(winter) == {"temperature_c": "too early"}
    assert "from the places themselves" in winter["findings"][0]["says"]


def test_no_p_of_pooled_minutes_is_shown(seasons: dict[str, Path]) -> None:
    for folder in seasons.values():
        said = run("zones", "--study", folder).stdout.lower()
        assert "chi" not in said
        assert " p " not in said
        assert "signific" not in said


def test_how_rarely_the_open_is_used_when_hot(minutes: list[Minute], seasons: dict[str, Path]) -> None:
    # Computed: summer, open above 45 °C: the open in 2.7 % of minutes, 42.0 % at 25-35 °C.
    moments = open_study(seasons["summer"]).moments
    hot = {(m.animal, m.at): m.temperature_c["open"] for m in minutes if m.season == "summer"}
    local = moments["at"].dt.tz_convert("Asia/Jerusalem").dt.tz_localize(None)
    warmth = np.array([hot[a, t.to_pydatetime()] for a, t in zip(moments["animal"], local, strict=True)])
    in_open = (moments["place"] == "open").to_numpy()
    assert in_open[warmth > 45].mean() == pytest.approx(0.027, abs=5e-4)
    assert in_open[(warmth > 25) & (warmth <= 35)].mean() == pytest.approx(0.42, abs=5e-3)


@pytest.mark.parametrize(("season", "stays"), [("summer", 0.922), ("winter", 0.978)])
def test_how_strongly_minutes_repeat_each_other(minutes: list[Minute], season: str, stays: float) -> None:
    # Computed: chance of the same zone in the next row of the same animal, in the order of the file.
    rows = [m for m in minutes if m.season == season]
    same = [
        a.place == b.place
        for name in {m.animal for m in rows}
        for a, b in pairwise([m for m in rows if m.animal == name])
    ]
    assert np.mean(same) == pytest.approx(stays, abs=5e-4)


def test_repeated_animal_minutes_as_written_are_skipped_or_refused_by_line(tmp_path: Path) -> None:
    raw = read_raw(real(*RAW))
    folder = write_season(raw, "summer", tmp_path / "summer")
    taken = run("sightings", folder / "sightings.csv", "--study", folder, "--yes")
    assert taken.exit_code == 0
    first: dict[tuple[str, object], str] = {}
    rows = [m for m in raw if m.season == "summer"]
    kept = sum((m.animal, m.at) not in first and not first.update({(m.animal, m.at): m.place}) for m in rows)
    skipped = sum(first[m.animal, m.at] == m.place for m in rows) - kept
    refused = len(rows) - kept - skipped
    assert f"{kept:,} rows taken in" in taken.stdout
    assert f"{skipped:,} already here, {refused:,} refused" in taken.stdout
    assert "one place at a time" in taken.stderr


def test_from_a_real_shell(minutes: list[Minute], tmp_path: Path) -> None:
    folder = write_season(minutes, "winter", tmp_path / "winter")
    for command in (("sightings", "sightings.csv", "--yes"), ("check",), ("zones", "--full")):
        done = subprocess.run(
            [sys.executable, "-m", "zoneuse", *command],
            cwd=folder,
            capture_output=True,
            text=True,
            stdin=subprocess.DEVNULL,
        )
        assert done.returncode == 0, done.stderr
    assert "Open is favoured" in " ".join(done.stdout.split())
