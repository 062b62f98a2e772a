"""Rounds of the retreats over months: what was looked into, who was alive, groups, dry spells."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.making import run, session, study_folder, vienna
from tests.tables.test_conditions import put_readings
from zoneuse import Answer, open_study

COLONY = """
format = 1
title = "Colony"
timezone = "Europe/Vienna"
[enclosure]
measured_in = "places"
[zones.moss]
label = "Moss"
key = "m"
amount = 2
role = "retreat"
[zones.bark]
label = "Bark"
key = "b"
amount = 2
role = "retreat"
[zones.slate]
label = "Slate"
key = "s"
amount = 2
role = "retreat"
present = [{from = 2025-04-01}]
[zones.open]
label = "Open"
key = "o"
amount = 10
[animals.a1]
label = "Dot"
key = "1"
[animals.a2]
label = "Line"
key = "2"
[animals.a3]
label = "Late"
key = "3"
present = [{from = 2025-04-01}]
[groups.young]
label = "Young"
key = "Y"
size = [{from = 2025-03-01, until = 2025-04-01, is = 4}, {from = 2025-04-01, is = 6}]
[loggers.L1]
placed = [{zone = "moss"}]
[loggers.L2]
placed = [{zone = "bark"}]
[loggers.L3]
placed = [{zone = "slate"}]
"""
Found = tuple[str | None, str | None, int]


def a_round(
    folder: Path, at: str, found: Sequence[Found], looks: Mapping[str, Mapping[str, bool]] | None = None
) -> None:
    """A closed retreat round: (animal, group or None for "one of them", zone or None for not found, how many)."""
    start = vienna(at)
    journal = session(folder, start, method="retreat-round")
    for looked, how in (looks or {}).items():
        fields: dict[str, Any] = {"zone": looked, **how}
        journal.append("checked", start, **fields)
    for k, (who, zone, count) in enumerate(found):
        when = start + timedelta(seconds=20 * k)
        about: dict[str, Any] = {"count": count}
        if who == "young":
            about["group"] = who
        elif who is not None:
            about = {"animal": who}
        if zone is None:
            journal.append("unseen", when, **about)
        else:
            journal.append("seen", when, zone=zone, **about)
    journal.append("closed", start + timedelta(minutes=20), reason="finished")
    journal.close()


def retreats(folder: Path, **asked: Any) -> Answer:
    return open_study(folder).retreats(**asked)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return study_folder(tmp_path / "study", COLONY)


def test_a_retreat_skipped_is_not_an_empty_one(folder: Path) -> None:
    """Bark is looked into at half the rounds and then always holds one of the two animals."""
    for day in range(1, 21):
        looked = day % 2 == 0
        found: list[Found] = [("a1", "moss", 1), ("a2", "bark" if looked else None, 1)]
        a_round(folder, f"2025-03-{day:02d}T12:00", found, {"moss": {}, "bark": {"skipped": not looked}})
    answer = retreats(folder, animals="a1,a2")
    months: Any = answer.parts["months"].set_index(["month", "zone"])
    assert months.loc[("2025-03", "bark"), "checks"] == 10
    assert months.loc[("2025-03", "moss"), "checks"] == 20
    # One of two animals known alive in each, whenever it was looked into: half and half.
    assert months.loc[("all", "bark"), "of_alive"] == 0.5
    assert months.loc[("all", "bark"), "share"] == pytest.approx(0.5)
    assert answer.effort["not_looked_into"] == 10
    assert any("Not made: 10 of 40 looks into a retreat" in note.says for note in answer.notes)
    table: Any = answer.table.set_index(["animal", "zone"])
    assert table.loc[("a2", "bark"), "share"] == 1
    assert table.loc[("a2", "bark"), "visits"] == 10


def test_a_retreat_that_was_not_there_is_not_an_empty_one(folder: Path) -> None:
    for month, zone in ((3, "moss"), (4, "slate")):
        for day in range(1, 11):
            a_round(folder, f"2025-{month:02d}-{day:02d}T12:00", [("a1", zone, 1)])
    answer = retreats(folder, animals="a1")
    months: Any = answer.parts["months"].set_index(["month", "zone"])
    assert months.loc[("2025-03", "slate"), "checks"] == 0
    assert (
        months.loc[("2025-03", "slate"), "share_low"],
        months.loc[("2025-03", "slate"), "share_high"],
    ) == (0, 1)
    evenness: Any = answer.parts["evenness"].set_index("month")
    assert evenness.loc["2025-03", "retreats"] == 2
    # Slate held it at 10 of 10 checks it was there for, moss at 10 of 20.
    assert months.loc[("all", "slate"), "share"] == pytest.approx(2 / 3)


def test_evenness_is_pielous_over_all_retreats_that_are_there(folder: Path) -> None:
    for day in range(1, 21):
        a_round(folder, f"2025-04-{day:02d}T12:00", [("a1", "moss" if day > 3 else "bark", 1)])
    evenness: Any = retreats(folder, animals="a1").parts["evenness"].set_index("month")
    p = np.array([17, 3]) / 20
    assert evenness.loc["2025-04", "evenness"] == pytest.approx(-(p * np.log(p)).sum() / np.log(3))


def test_births_and_arrivals_change_the_denominator(folder: Path) -> None:
    a_round(folder, "2025-03-10T12:00", [("a1", "moss", 1), ("a2", "moss", 1), ("young", "bark", 3)])
    a_round(folder, "2025-04-10T12:00", [("a1", "moss", 1), ("a3", "bark", 1), ("young", "bark", 6)])
    answer = retreats(folder)
    evenness: Any = answer.parts["evenness"].set_index("month")
    assert evenness["known_alive"].to_dict() == {"2025-03": 6, "2025-04": 9, "all": 15}
    assert evenness["unfound"].to_dict() == {"2025-03": 1, "2025-04": 1, "all": 2}
    assert (answer.effort["known_alive"], answer.effort["found"], answer.effort["unfound"]) == (15, 13, 2)
    assert "6.5 of 7.5 animals present" in answer.basis


def test_more_found_than_known_alive_is_said(folder: Path) -> None:
    a_round(folder, "2025-03-10T12:00", [("young", "bark", 5)])
    answer = retreats(folder, animals="young")
    assert any("more animals were found than study.toml says are there" in note.says for note in answer.notes)


def test_one_of_them_not_known_which_counts_for_the_retreat_and_for_nobody(folder: Path) -> None:
    for day in range(1, 11):
        a_round(folder, f"2025-03-{day:02d}T12:00", [("a1", "moss", 1), (None, "bark", 1)])
    answer = retreats(folder)
    months: Any = answer.parts["months"].set_index(["month", "zone"])
    assert months.loc[("all", "bark"), "found_there"] == 10
    assert answer.effort["found"] == 20
    assert set(answer.table["animal"].dropna()) == {"a1"}
    assert not [f for f in answer.findings if f.about == ("bark",)]


def test_an_animal_met_twice_in_one_round_counts_where_it_was_met_last(folder: Path) -> None:
    a_round(folder, "2025-03-10T12:00", [("a1", "moss", 1), ("a1", "bark", 1)])
    answer = retreats(folder)
    assert answer.effort["found"] == 1
    table: Any = answer.table.set_index(["animal", "zone"])
    assert table.loc[("a1", "bark"), "share"] == 1


def test_a_round_at_which_nobody_was_found_is_a_check(folder: Path) -> None:
    a_round(folder, "2025-03-10T12:00", [("a1", "moss", 1)])
    a_round(folder, "2025-03-12T12:00", [], {"moss": {}, "bark": {"lifted": True}})
    answer = retreats(folder)
    assert answer.effort["checks"] == 2
    assert answer.effort["known_alive"] == 12
    assert retreats(folder, until="2025-03-11").effort["checks"] == 1


def test_a_round_that_did_not_find_the_one_asked_for_is_a_check(folder: Path) -> None:
    for day in range(1, 5):
        found: list[Found] = [("a1", "moss", 1), *([("a2", "bark", 1)] if day > 2 else [])]
        a_round(folder, f"2025-03-{day:02d}T12:00", found, {"moss": {}, "bark": {}})
    assert retreats(folder, animals="a2").effort["checks"] == 4
    assert retreats(folder, animals="a2").effort["unfound"] == 2


def test_the_round_of_a_second_observer_is_no_check(folder: Path) -> None:
    for observer, minute in (("mk", 0), ("jo", 5)):
        start = vienna("2025-03-10T12:00") + timedelta(minutes=minute)
        journal = session(folder, start, method="retreat-round", observer=observer)
        journal.append("checked", start, zone="moss")
        journal.append("seen", start + timedelta(minutes=6), animal="a1", zone="moss")
        journal.append("closed", start + timedelta(minutes=20), reason="finished")
        journal.close()
    assert retreats(folder).effort["checks"] == 1


def test_a_round_broken_off_leaves_the_rest_unlooked(folder: Path) -> None:
    for day in range(1, 5):
        a_round(folder, f"2025-03-{day:02d}T12:00", [("a1", "moss", 1)], {"moss": {}})
    answer = retreats(folder)
    months: Any = answer.parts["months"].set_index(["month", "zone"])
    assert months.loc[("all", "bark"), "checks"] == 0
    assert not [f for f in answer.findings if "bark" in f.about]


def test_what_lifting_a_cover_does(folder: Path) -> None:
    """Dot leaves the retreat whenever its cover was lifted, else stays."""
    here, other = "moss", "bark"
    for day in range(1, 21):
        lift = day % 4 == 0
        a_round(folder, f"2025-03-{day:02d}T12:00", [("a1", here, 1)], {here: {"lifted": lift}, other: {}})
        here, other = (other, here) if lift else (here, other)
    answer = retreats(folder)
    lifting: Any = answer.parts["lifting"].set_index("cover")
    assert lifting["left"].to_dict() == {"lifted": 1.0, "left in place": 0.0}
    assert lifting["steps"].to_dict() == {"lifted": 4, "left in place": 15}
    assert any(
        note.says.startswith("After its cover was lifted an animal was elsewhere") for note in answer.notes
    )


def test_a_table_with_a_whole_season_as_one_session_is_many_checks(folder: Path, tmp_path: Path) -> None:
    rows = ["at,session,animal,zone,method"]
    for day in range(1, 16):
        for minute, (who, zone) in enumerate([("a1", "moss"), ("a2", "bark" if day % 2 else "moss")]):
            rows.append(f"2025-03-{day:02d} 12:{minute:02d},spring,{who},{zone},retreat-round")
    table = tmp_path / "old.csv"
    table.write_text("\n".join(rows) + "\n")
    assert run("sightings", table, "--study", folder, "--yes", "--long-session", "spring").exit_code == 0
    answer = retreats(folder)
    assert answer.effort["checks"] == 15
    keeping: Any = answer.parts["keeping"].set_index(["animal", "interval"])
    assert keeping.loc[("a1", "next day"), "same"] == 1
    assert keeping.loc[("a2", "next day"), "same"] == 0
    assert keeping.loc[("a2", "any"), "checks"] == 14


def test_keeping_by_interval(folder: Path) -> None:
    for at in ("01T08:00", "01T20:00", "02T12:00", "05T12:00", "20T12:00"):
        a_round(folder, f"2025-03-{at}", [("a1", "moss", 1), ("a2", "bark", 1)])
    keeping: Any = retreats(folder).parts["keeping"]
    mine = keeping[keeping["animal"] == "a1"].set_index("interval")["checks"].to_dict()
    assert mine == {"any": 4, "same day": 1, "next day": 1, "2 to 7 days": 1, "longer": 1}


def test_homes_have_a_standing(folder: Path) -> None:
    rng = np.random.default_rng(3)
    for day in range(60):
        at = (vienna("2025-03-01T12:00") + timedelta(days=day)).strftime("%Y-%m-%dT%H:%M")
        line = ["moss", "bark"][rng.integers(2)]
        dot = "moss" if rng.random() < 0.85 else "bark"
        a_round(folder, at, [("a1", dot, 1), ("a2", line, 1), ("a3", "bark", 1)])
    animals: Any = retreats(folder).parts["animals"].set_index("animal")
    assert animals.loc["a1", "home"] == "moss"
    assert animals.loc["a1", "home_standing"] == "fairly sure here"
    assert animals.loc["a1", "retreats_used"] == 2
    assert animals.loc["a1", "checks"] == 60
    assert animals.loc["a2", "home_standing"] == ""  # half and half
    assert (
        animals.loc["a3", "home_standing"] == "looks like"
    )  # never elsewhere: chosen each day, or only stayed


def test_one_found_in_one_retreat_on_eleven_of_eleven_days_has_a_home(folder: Path) -> None:
    for day in range(11):
        at = (vienna("2025-03-01T12:00") + timedelta(days=day)).strftime("%Y-%m-%dT%H:%M")
        a_round(folder, at, [("a1", "moss", 1), ("a2", ["moss", "bark"][day % 2], 1), ("a3", "bark", 1)])
    animals: Any = retreats(folder).parts["animals"].set_index("animal")
    assert animals.loc["a1", ["home", "home_standing"]].tolist() == ["moss", "looks like"]
    assert animals.loc["a2", "home_standing"] == ""


def colony(folder: Path, joins: float, checks: int = 60) -> None:
    """Four animals told apart over three retreats; the second goes where the first is with chance `joins`."""
    text = COLONY.replace("present = [{from = 2025-04-01}]\n", "")
    for k in (4, 5):
        text += f'[animals.a{k}]\nlabel = "More {k}"\nkey = "{k}"\n'
    (folder / "study.toml").write_text(text)
    rng = np.random.default_rng(12)
    zones = ["moss", "bark", "slate"]
    for day in range(checks):
        at = (vienna("2025-03-01T12:00") + timedelta(days=day)).strftime("%Y-%m-%dT%H:%M")
        where = rng.integers(0, 3, 5)
        where[1] = where[0] if rng.random() < joins else where[1]
        a_round(folder, at, [(f"a{i + 1}", zones[w], 1) for i, w in enumerate(where)])


def test_company_is_said_of_the_colony_and_of_the_pair(folder: Path) -> None:
    colony(folder, joins=0.7)
    answer = retreats(folder)
    together = [f for f in answer.findings if f.verdict == "together"]
    assert [len(f.about) for f in together] == [5, 2]
    assert together[1].about == ("a1", "a2")
    assert together[1].standing == "fairly sure here"
    assert "of 1,000 swaps of their moves" in together[0].says
    company = answer.parts["company"].iloc[0]
    assert company["verdict"] == "together" and company["beyond"] > company["beyond_high"]
    pairs: Any = answer.parts["pairs"].set_index(["animal", "other"])
    assert pairs.loc[("a1", "a2"), "verdict"] == "together"
    matrix = answer.parts["matrix"]
    order = list(matrix.drop_duplicates("position")["animal"])
    assert abs(order.index("a1") - order.index("a2")) == 1
    assert len(matrix) == 25


def test_without_company_it_says_what_would_show(folder: Path) -> None:
    colony(folder, joins=0.0)
    answer = retreats(folder)
    assert not [f for f in answer.findings if f.verdict in ("together", "apart")]
    assert any("takes about 60 checks to show; at 3 in 10, about 120." in f.says for f in answer.findings)


def test_the_matrix_is_drawn_and_fits_a_phone(folder: Path) -> None:
    colony(folder, joins=0.7, checks=20)
    result = run("retreats", "--study", folder, "--together")
    assert result.exit_code == 0
    drawing = result.stdout.split("Found together")[1].splitlines()
    assert max(len(line) for line in drawing) <= 80
    assert "Dot" in "\n".join(drawing)
    shown = run("retreats", "--study", folder, "--all").stdout
    assert len(shown.splitlines()) > len(run("retreats", "--study", folder).stdout.splitlines())


def test_months_are_drawn(folder: Path) -> None:
    for month, zone in ((3, "moss"), (4, "slate")):
        for day in range(1, 5):
            a_round(folder, f"2025-{month:02d}-{day:02d}T12:00", [("a1", zone, 1), ("a2", "bark", 1)])
    lines = (
        run("retreats", "--study", folder, "--months", "--animal", "a1,a2")
        .stdout.split("per cent:\n")[1]
        .splitlines()
    )
    assert [line.split() for line in lines] == [
        ["25-03", "25-04", "all"],
        ["Moss", "50", ".", "20"],
        ["Bark", "50", "50", "40"],
        ["Slate", "-", "50", "40"],
        ["checks", "4", "4", "8"],
    ]


def young(folder: Path, counts: Sequence[tuple[int, int]], every: int = 1) -> Answer:
    for k, (moss, bark) in enumerate(counts):
        at = (vienna("2025-03-01T12:00") + timedelta(days=k * every)).strftime("%Y-%m-%dT%H:%M")
        a_round(folder, at, [("young", "moss", moss), ("young", "bark", bark)])
    return retreats(folder)


def test_a_group_that_crowds_anew_each_time_is_together(folder: Path) -> None:
    rng = np.random.default_rng(1)
    answer = young(folder, [[(4, 0), (0, 4)][rng.integers(2)] for _ in range(31)])
    found = [f for f in answer.findings if f.about == ("young",)]
    assert [f.verdict for f in found] == ["together"]
    days = answer.parts["crowding"].iloc[0]
    assert days["shared"] == 1 and days["expected"] == pytest.approx(0.5)
    assert len(answer.parts["crowding_checks"]) == 31


def test_a_group_that_never_moves_is_too_early(folder: Path) -> None:
    answer = young(folder, [(4, 0)] * 31)
    found = [f for f in answer.findings if f.about == ("young",)]
    assert [f.verdict for f in found] == ["too early"]
    assert "moved too rarely" in found[0].says


def dry(folder: Path, seek: bool, hot: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Answer:
    """Moss, bark and slate dry out in three spells, slate hardly; animals then go to slate, or where they like.

    ``hot``: how many °C each is warmer in a spell.
    """
    colony(folder, joins=0.0, checks=0)
    rng = np.random.default_rng(21)
    spells = [range(10, 16), range(28, 34), range(46, 52)]
    zones = ["moss", "bark", "slate"]
    for day in range(60):
        drought = any(day in spell for spell in spells)
        where = rng.integers(0, 3, 5)
        if seek and drought:
            where = np.where(rng.random(5) < 0.8, 2, where)
        at = (vienna("2025-03-01T12:00") + timedelta(days=day)).strftime("%Y-%m-%dT%H:%M")
        a_round(folder, at, [(f"a{i + 1}", zones[w], 1) for i, w in enumerate(where)])
    minutes = [60.0 * k for k in range(24 * 62)]
    start = (vienna("2025-03-01T00:00") - vienna("2026-03-01T00:00")).total_seconds() / 60
    for logger, falls, warmer in zip(("L1", "L2", "L3"), (20.0, 15.0, 3.0), hot, strict=True):
        spell = [any(int(m // 1440) in spell for spell in spells) for m in minutes]
        humid = [85.0 - falls * s + (m % 7) / 10 for s, m in zip(spell, minutes, strict=True)]
        put_readings(
            folder,
            logger,
            [m + start for m in minutes],
            {
                "humidity_pct": humid,
                "temperature_c": [
                    20.0 + warmer * s + (m % 7) / 20 for s, m in zip(spell, minutes, strict=True)
                ],
            },
        )
    return retreats(folder)


def test_they_move_to_the_moister_ones_when_it_is_dry(folder: Path) -> None:
    answer = dry(folder, seek=True)
    spells = answer.parts["dry_spells"].iloc[0]
    assert spells["spells"] == 3
    assert spells["than_usual_low"] > 0
    moves = [f for f in answer.findings if f.verdict == "moves when dry"]
    assert len(moves) == 1
    assert moves[0].says.startswith("In the 3 dry spells, animals that moved went to retreats")
    assert "points moister" in moves[0].says
    odds: Any = answer.parts["conditions"].set_index(["quantity", "fit"])
    assert odds.loc[("humidity_pct", "by changes within retreats"), "odds_low"] > 1


def test_dry_and_hot_are_not_taken_for_one_another(folder: Path) -> None:
    """The same moves where what is moister in a spell is 7 to 9 °C cooler too: no verdict, and it says why."""
    answer = dry(folder, seek=True, hot=(10.0, 8.0, 1.0))
    spells = answer.parts["dry_spells"].iloc[0]
    assert spells["than_usual_low"] > 0 and spells["heat"] == "not parted"
    assert not [f for f in answer.findings if f.verdict == "moves when dry"]
    (told,) = [f for f in answer.findings if f.reason == "dry_or_hot"]
    assert "moisture or from the heat cannot be told apart" in told.says


def test_they_do_not_where_they_go_where_they_like(folder: Path) -> None:
    answer = dry(folder, seek=False)
    assert not [f for f in answer.findings if f.verdict == "moves when dry"]
    assert any("could be chance" in f.says for f in answer.findings if "dry spells" in f.says)


def test_what_must_be_known_before_believing_it(folder: Path) -> None:
    colony(folder, joins=0.0, checks=10)
    says = {c.code: c.says for c in retreats(folder).cautions}
    assert says["one-enclosure"].startswith("9 animals in one enclosure are one enclosure")
    assert "cannot be told apart within one year" in says["season"]
    assert "no evidence that they were apart" in says["unseen"]


def test_an_animal_found_less_often_is_named(folder: Path) -> None:
    for day in range(1, 21):
        found: list[Found] = [("a1", "moss", 1), ("a2", "bark" if day % 4 == 0 else None, 1)]
        a_round(folder, f"2025-03-{day:02d}T12:00", found)
    says = {c.code: c.says for c in retreats(folder, animals="a1,a2").cautions}
    assert says["unevenly-found"] == "Not all were found alike: Dot at 20 of 20 checks, Line at 5."


def test_guesses_count_and_it_says_what_changes_without_them(folder: Path) -> None:
    for day in range(1, 11):
        start = vienna(f"2025-03-{day:02d}T12:00")
        journal = session(folder, start, method="retreat-round")
        journal.append("seen", start, animal="a1", zone="moss" if day > 2 else "bark")
        journal.append("seen", start, animal="a2", zone="bark", sure=False if day < 6 else None)
        journal.append("closed", start + timedelta(minutes=20), reason="finished")
        journal.close()
    notes = retreats(folder).notes
    assert any(note.says.startswith("5 of the records are guesses and count") for note in notes)


def test_months_that_differ_are_named(folder: Path) -> None:
    text = COLONY.replace("present = [{from = 2025-04-01}]\n", "")
    (folder / "study.toml").write_text(text)
    for day in range(60):
        at = vienna("2025-03-01T12:00") + timedelta(days=day)
        zone = "moss" if at.month == 3 else "slate"
        found: list[Found] = [(a, zone if day % 5 else "bark", 1) for a in ("a1", "a2", "a3")]
        a_round(folder, at.strftime("%Y-%m-%dT%H:%M"), found)
    answer = retreats(folder)
    seasons: Any = answer.parts["seasons"].set_index("zone")
    assert seasons.loc["moss", "animals"] == 3
    assert seasons.loc["moss", "chi_square"] == pytest.approx(3.0)
    assert set(answer.parts["months"]["month"]) == {"2025-03", "2025-04", "all"}


def test_json_holds_every_part(folder: Path) -> None:
    dry(folder, seek=True)
    told = json.loads(run("retreats", "--study", folder, "--json").stdout)
    assert set(told["parts"]) == {
        "pairs", "company", "matrix", "keeping", "lifting", "animals", "months", "evenness", "seasons", "crowding",
        "crowding_checks", "conditions", "dry_spells", "moving",
    }  # fmt: skip
    assert told["parts"]["moving"][1]["followed"] == 5


def test_of_two_animals_company_cannot_be_told(folder: Path) -> None:
    for day in range(1, 21):
        zone = "moss" if day % 3 else "bark"
        a_round(folder, f"2025-03-{day:02d}T12:00", [("a1", zone, 1), ("a2", zone, 1)])
    says = [f.says for f in retreats(folder, animals="a1,a2").findings if f.about == ("a1", "a2")]
    assert says[0].startswith("Found together at 20 of the 20 checks that found both.")


TUBS = """
format = 1
title = "Tubs"
timezone = "Europe/Vienna"
[enclosures.north]
measured_in = "places"
[enclosures.south]
measured_in = "places"
"""


def test_two_enclosures_are_two_colonies(tmp_path: Path) -> None:
    text = TUBS
    for tub, start in (("north", 1), ("south", 5)):
        for place, key in (("moss", "m"), ("bark", "b"), ("slate", "s")):
            text += f'[zones.{tub}_{place}]\nlabel = "{place.title()}"\nkey = "{key}"\namount = 1\nrole = "retreat"\n'
            text += f'enclosure = "{tub}"\nplace = "{place}"\n'
        for k in range(start, start + 4):
            text += f'[animals.a{k}]\nlabel = "A{k}"\nkey = "{k}"\nlives = [{{enclosure = "{tub}"}}]\n'
    folder = study_folder(tmp_path / "tubs", text)
    rng = np.random.default_rng(4)
    for day in range(60):
        at = (vienna("2025-03-01T12:00") + timedelta(days=day)).strftime("%Y-%m-%dT%H:%M")
        where = rng.integers(0, 3, 8)
        where[1] = where[0] if rng.random() < 0.9 else where[1]
        found: list[Found] = [
            (f"a{i + 1}", f"{'north' if i < 4 else 'south'}_{('moss', 'bark', 'slate')[w]}", 1)
            for i, w in enumerate(where)
        ]
        a_round(folder, at, found)
    answer = retreats(folder)
    company: Any = answer.parts["company"].set_index("enclosure")
    assert company["verdict"].to_dict() == {"north": "together", "south": "too early"}
    assert answer.effort["checks"] == 120
    assert {c.code: c.says for c in answer.cautions}["one-enclosure"].startswith("2 enclosures are 2 cases")
    assert set(answer.parts["months"]["zone"]) == {"moss", "bark", "slate"}
    drawn = run("retreats", "--study", folder, "--together").stdout
    assert "Found together, north" in drawn and "Found together, south" in drawn


def test_checks_of_different_times_of_day_are_named(folder: Path) -> None:
    text = COLONY.replace(
        'measured_in = "places"\n', 'measured_in = "places"\nlights = {on = "08:00", off = "20:00"}\n'
    )
    (folder / "study.toml").write_text(text)
    for day in range(1, 11):
        a_round(folder, f"2025-03-{day:02d}T{'12' if day < 7 else '23'}:00", [("a1", "moss", 1)])
    says = {c.code: c.says for c in retreats(folder).cautions}
    assert says["times-of-day"].endswith("(6 by day, 4 at night); --slot day keeps to one.")
    assert "times-of-day" not in {c.code for c in retreats(folder, slot="day").cautions}


def test_a_single_check_is_too_few_for_company(folder: Path) -> None:
    a_round(folder, "2025-04-10T12:00", [("a1", "moss", 1), ("a2", "moss", 1), ("a3", "bark", 1)])
    says = [f.says for f in retreats(folder).findings if len(f.about) == 3]
    assert says[0].startswith("Company cannot be judged from 1 check.")


def test_an_animal_in_a_retreat_that_was_not_there_yet_is_believed(folder: Path) -> None:
    a_round(folder, "2025-03-10T12:00", [("a1", "slate", 1), ("a2", "moss", 1)])
    months: Any = retreats(folder, animals="a1,a2").parts["months"].set_index(["month", "zone"])
    assert months.loc[("2025-03", "slate"), "checks"] == 1
    assert months.loc[("2025-03", "slate"), "share"] == 0.5


def test_where_nothing_can_be_swapped_company_cannot_be_tested(folder: Path) -> None:
    """All move together each time: no two ever came to different retreats, and every permutation is the same."""
    for day in range(1, 25):
        zone = ("moss", "bark", "slate")[day % 3]
        a_round(folder, f"2025-03-{day:02d}T12:00", [(a, zone, 1) for a in ("a1", "a2", "a3")])
    answer = retreats(folder)
    company = [f for f in answer.findings if f.facts.get("kind") == "company"]
    assert [f.reason for f in company] == ["cannot_be_tested"]
    assert "cannot be tested" in company[0].says and "chance" not in company[0].says
    kept = [f for f in answer.findings if f.facts.get("kind") == "keeping"]
    assert {f.reason for f in kept} == {"cannot_be_tested"}
    assert answer.to_dict()["parts"]["company"][0]["p_together"] is None
