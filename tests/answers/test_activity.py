"""What is done: shares, rates, hours and the animals' own past."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, session, study_folder, vienna
from zoneuse import open_study
from zoneuse.pictures import Chart
from zoneuse.pictures.plot import Bars

LIT = TWO_ZONES.replace(
    'measured_in = "floor_cm2"', 'measured_in = "floor_cm2"\nlights = {on = "08:00", off = "20:00"}'
)


def watch(
    folder: Path, day: int, behaviours: Sequence[str | None], strikes: int = 0, clock: str = "21:00"
) -> None:
    """One session of scans of one animal, a behaviour a scan."""
    start = vienna(f"2026-03-01T{clock}") + timedelta(days=day)
    journal = session(folder, start)
    for scan, behaviour in enumerate(behaviours, 1):
        at = start + timedelta(minutes=scan - 1)
        journal.append("seen", at, animal="a1", zone="moss", behaviour=behaviour, scan=scan)
    for number in range(strikes):
        journal.append(
            "happened", start + timedelta(minutes=number), animal="a1", behaviour="strike", zone="moss"
        )
    journal.append("closed", start + timedelta(minutes=len(behaviours)), reason="finished")
    journal.close()


def verdicts(folder: Path) -> dict[str, str]:
    return {f.about[0]: f.verdict for f in open_study(folder).activity().findings}


def test_shares_are_means_over_sessions_and_events_are_rates(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, 0, ["resting"] * 6, strikes=2)
    watch(folder, 1, ["walking"] * 12)
    table = open_study(folder).activity().table.set_index("behaviour")
    assert table.loc["resting", "share"] == table.loc["walking", "share"] == 0.5
    assert table.loc["strike", "per_hour"] == pytest.approx(2 / (18 / 60))
    assert table["share"].isna().tolist() == [False, False, True]
    assert table["df"].iloc[:2].tolist() == [1.0, 1.0] and table.loc["strike", "se"] > 0
    assert list(table.reset_index().columns) == [
        "behaviour", "behaviour_label", "share", "per_hour", "low", "high", "n_eff", "df", "se", "sessions",
    ]  # fmt: skip


def test_more_and_usual_need_a_past_to_be_more_than(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    for day in range(9):
        watch(folder, day, ["resting"] * 9 + ["walking"])
    assert set(verdicts(folder).values()) == {"too early"}
    for day in range(9, 20):
        watch(folder, day, ["resting"] * 9 + ["walking"])
    for day in range(30, 42):
        watch(folder, day, ["resting"] * 3 + ["walking"] * 7)
    assert verdicts(folder) == {"resting": "less", "walking": "more"}


def test_the_same_as_before_is_usual(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    for day in [*range(20), *range(40, 55)]:
        watch(folder, day, ["resting"] * (18 + day % 2) + ["walking"] * (2 - day % 2))
    answer = open_study(folder).activity()
    assert {f.verdict for f in answer.findings} == {"usual"}
    assert all(f.standing for f in answer.findings)


def test_a_rare_behaviour_that_may_have_doubled_is_not_as_usual(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    for day in [*range(20), *range(40, 48)]:
        rare = 2 if day % 3 == 0 else 0
        watch(folder, day, ["resting"] * (20 - rare) + ["walking"] * rare)
    answer = open_study(folder).activity()
    told = {f.about[0]: f for f in answer.findings}
    walking = told["walking"]
    assert max(-walking["change_low"], walking["change_high"]) < 0.1  # within the bound in points
    assert walking["change_high"] > 0.5 * max(walking["before"], walking["after"])
    assert (walking.verdict, told["resting"].verdict) == ("too early", "usual")


def test_hours_never_watched_stay_empty(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, 0, ["resting", "walking"], clock="09:10")
    hours = open_study(folder).activity().parts["by_hour"].set_index("hour_since_lights_on")
    assert hours["active"].dropna().to_dict() == {1: 0.5}
    assert hours["sessions"].sum() == 1


def test_the_first_and_last_third_of_sessions_are_compared(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    for day in range(6):
        watch(folder, day, ["resting"] * 5 + ["walking"] * 5)
    (row,) = open_study(folder).activity().parts["first_and_last_third"].to_dict("records")
    assert (row["first_third"], row["last_third"], row["sessions"]) == (0.0, 1.0, 6)


def test_what_is_done_where_and_without_a_known_behaviour(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    watch(folder, 0, ["resting", "resting", None])
    answer = json.loads(run("activity", "--study", folder, "--json").stdout)
    assert answer["parts"]["by_zone"] == [{"place": "moss", "resting": 2.0}]
    assert any(c["code"] == "no-behaviour" and c["says"].startswith("1 moment ") for c in answer["cautions"])


def test_nothing_recorded_is_too_early(tmp_path: Path) -> None:
    answer = open_study(study_folder(tmp_path, LIT)).activity()
    assert [f.verdict for f in answer.findings] == ["too early"]


def test_a_break_of_hours_is_no_watching(tmp_path: Path) -> None:
    """One session of a table at 08:00 and at 21:00 is two short sittings, not thirteen hours."""
    folder = study_folder(tmp_path / "s")
    rows = ["at,session,animal,zone,behaviour"]
    for day in range(1, 9):
        for hour in ("08", "21"):
            rows += [f"2026-03-{day:02d}T{hour}:{m:02d},d{day},a1,moss,resting" for m in range(10)]
        rows.append(f"2026-03-{day:02d}T21:05:30,d{day},a1,moss,strike")
    table = tmp_path / "t.csv"
    table.write_text("\n".join(rows) + "\n")
    assert run("sightings", table, "--yes", "--study", folder).exit_code == 0
    (strike,) = [
        r
        for r in json.loads(run("activity", "--json", "--study", folder).stdout)["rows"]
        if r["behaviour"] == "strike"
    ]
    assert 2.0 < strike["per_hour"] < 4.0


def test_an_hour_has_limits_once_five_sessions_watched_it(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, LIT)
    for day in range(6):
        watch(
            folder,
            day,
            ["resting", "walking"] if day % 2 else ["resting", "resting", "walking"],
            clock="09:10",
        )
    watch(folder, 7, ["walking"], clock="12:10")
    hours = open_study(folder).activity().parts["by_hour"].set_index("hour_since_lights_on")
    # Each session counts once, however many moments it has.
    assert hours["active"][1] == pytest.approx((1 / 2 + 1 / 3) / 2)
    assert 0 < hours["low"][1] < hours["active"][1] < hours["high"][1] < 1
    assert hours["active"][4] == 1.0 and hours[["low", "high"]].loc[4].isna().all()
    (chart,) = [p for p in open_study(folder).activity().figure().panels if isinstance(p, Chart)]
    (bars,) = [m for m in chart.marks if isinstance(m, Bars)]
    assert bars.low[0] == pytest.approx(hours["low"][1])
