"""Tables of time spent: minutes of so many, shares and mean counts become time budgets, and no scans."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, study_folder
from zoneuse import open_study
from zoneuse.journal.records import RecordError, check_fields


def _took(tmp_path: Path, table: str, *flags: str) -> tuple[Path, str]:
    folder = study_folder(tmp_path / "study", TWO_ZONES)
    (tmp_path / "t.csv").write_text(table, "utf-8")
    done = run("sightings", tmp_path / "t.csv", "--yes", "--study", folder, *flags)
    return folder, done.stdout + done.stderr


def _spent(folder: Path) -> list[tuple[str | None, str | None, float, float]]:
    found = [e.record for e in open_study(folder).journals.entries("spent")]
    return [(r.get("animal") or r.get("group"), r.get("zone") or r.get("behaviour"), r.get("seconds"),
             r.get("of_seconds")) for r in found]  # fmt: skip


def test_minutes_an_hour_in_zones(tmp_path: Path) -> None:
    rows = [
        f"s{d},2026-03-{d:02d} 20:00,a1,{z},{m},60" for d in (1, 2, 3) for z, m in (("moss", 45), ("bark", 6))
    ]
    table = "session,at,animal,zone,minutes,of\n" + "\n".join(rows) + "\n"
    folder, said = _took(tmp_path, table)
    assert "6 rows taken in as 3 sessions" in said
    assert _spent(folder)[:2] == [("a1", "moss", 2700, 3600), ("a1", "bark", 360, 3600)]
    answer = json.loads(run("zones", "--json", "--study", folder).stdout)
    used = {row["zone"]: (round(row["used"], 6), row["moments"]) for row in answer["rows"]}
    assert used == {"moss": (round(45 / 51, 6), 0), "bark": (round(6 / 51, 6), 0)}
    assert answer["rows"][0]["unseen_low"] == pytest.approx(0.75), "9 of 60 minutes are nobody's"
    assert answer["effort"]["counted"] == 6 and "time-budgets" in {c["code"] for c in answer["cautions"]}
    other = json.loads(run("retreats", "--json", "--study", folder).stdout)
    assert other["effort"]["left_out"] == {"a time budget": 6}
    assert "6 already here" in run("sightings", tmp_path / "t.csv", "--yes", "--study", folder).stdout
    assert run("check", "--study", folder).exit_code == 0


def test_hours_of_behaviours_count_in_activity_and_not_in_zones(tmp_path: Path) -> None:
    table = "session,at,animal,behaviour,hours\n" + "".join(
        f"s{d},2026-03-{d:02d} 12:00,a1,resting,{18 + d}\n" for d in (1, 2, 3)
    )
    folder, _ = _took(tmp_path, table, "--of", "24h")
    answer = json.loads(run("activity", "--json", "--study", folder).stdout)
    # 19, 20 and 21 hours of 24 were rest, and what was done in the others was anything else.
    assert {row["behaviour"]: row["share"] for row in answer["rows"]} == pytest.approx(
        {"resting": 20 / 24, "(else)": 4 / 24}
    )
    printed = run("activity", "--study", folder).stdout
    assert "Anything else" in printed and "Resting: 50 min an hour" in printed
    assert answer["effort"]["counted"] == 3
    zones = json.loads(run("zones", "--json", "--study", folder).stdout)
    assert zones["effort"]["left_out"] == {"a time budget": 3}


def test_mean_counts_of_a_group_are_shares_of_its_time(tmp_path: Path) -> None:
    table = "session,at,group,moss,bark\ns1,2026-03-01 20:00,young,2.5,1.5\n"
    folder, said = _took(tmp_path, table, "--wide", "zone", "--cells", "mean", "--of", "1h")
    size = next(iter(open_study(folder).declared.groups.values())).size[0].value
    assert _spent(folder) == [("young", "moss", 9000, 3600 * size), ("young", "bark", 5400, 3600 * size)], (
        said
    )
    _, said = _took(tmp_path / "b", table, "--wide", "zone")
    assert "--cells mean" in said and "none of its 2 rows" in said


def test_a_column_of_hours_is_no_time_budget_unless_it_says_of_how_many(tmp_path: Path) -> None:
    folder, said = _took(tmp_path, "session,at,animal,zone,hours\ns1,2026-03-01 20:00,a1,moss,20\n")
    assert _spent(folder) == [] and "Columns not read: hours" in said


@pytest.mark.parametrize("wrong", [
    {"seconds": 70, "of_seconds": 60}, {"seconds": -1, "of_seconds": 60}, {"seconds": 1, "of_seconds": 0}
])  # fmt: skip
def test_a_budget_that_cannot_be_is_no_record(wrong: dict[str, float]) -> None:
    with pytest.raises(RecordError):
        check_fields("spent", {"animal": "a1", "zone": "moss", **wrong})
    check_fields("spent", {"animal": "a1", "zone": "moss", "seconds": 1, "of_seconds": 60})


def test_a_followed_animal_from_a_table_keeps_the_interval_declared(tmp_path: Path) -> None:
    text = TWO_ZONES + "\n[watching]\nevery_s = 30\n"
    folder = study_folder(tmp_path / "study", text)
    table = (
        "session,at,animal,zone,method\ns,2026-03-01 20:00,a1,moss,focal\ns,2026-03-01 20:10,a1,bark,focal\n"
    )
    (tmp_path / "t.csv").write_text(table)
    assert run("sightings", tmp_path / "t.csv", "--yes", "--study", folder).exit_code == 0
    moments = open_study(folder).moments
    assert len(moments[moments["zone"] == "moss"]) == 20


@pytest.mark.parametrize("told", [("resting",), ("resting", "walking")])
def test_time_budgets_of_behaviours_answer_a_change_on_record(tmp_path: Path, told: tuple[str, ...]) -> None:
    """Twelve days before a change and twelve after: of 60 minutes 40 and then 25 are rest, give or take two."""
    folder = study_folder(tmp_path / "study", TWO_ZONES)
    change = (
        "adjust",
        "heat",
        "bark",
        "--at",
        "2026-03-13T00:30",
        "--why",
        "lamp",
        "--expects",
        "resting:down",
    )
    assert run(*change, "--study", folder).exit_code == 0
    rows, minutes = ["date,time,animal,behaviour,minutes,of"], []
    for day in range(24):
        rest = (40 if day < 12 else 25) + (day * 7) % 5 - 2
        minutes.append(rest)
        for doing in told:
            rows.append(
                f"2026-03-{day + 1:02d},10:00,a1,{doing},{rest if doing == 'resting' else 60 - rest},60"
            )
    (tmp_path / "t.csv").write_text("\n".join(rows) + "\n", "utf-8")
    assert run("sightings", tmp_path / "t.csv", "--yes", "--study", folder).exit_code == 0
    answer = open_study(folder).shifts()
    (finding,) = [f for f in answer.findings if f.about[-1] == "resting"]
    assert (finding.verdict, finding.facts["expected"]) == ("fell", "down")
    # Heat settles for two days; what comes after that is held against all before.
    row = answer.table[answer.table["name"] == "resting"].iloc[0]
    after = minutes[24 - row["sessions_after"] :]
    assert row["sessions_before"] == 12 and 8 <= len(after) <= 12
    assert row["before"] == pytest.approx(sum(minutes[:12]) / 720)
    assert row["after"] == pytest.approx(sum(after) / 60 / len(after))
    assert "(else)" not in set(answer.table["name"])
    # Nobody was looked for in vain where only behaviours were timed.
    assert not {c.code for c in answer.cautions} & {"seen-differs", "left-out"}
