"""A move from one enclosure to another is a change: the homes held against each other, places of one name alike."""

from __future__ import annotations

import json
import shutil
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.making import run, study_folder, vienna
from zoneuse import open_study

HEAD = """
format = 1
title = "Rehoused"
timezone = "Europe/Vienna"
[watching]
observer = "mk"
method = "scan"
every_s = 60
"""
MOVED = vienna("2026-03-15T12:00")


def enclosure(name: str, hide: int = 100, pond: bool = False) -> str:
    told = f'[enclosures.{name}]\nmeasured_in = "floor_cm2"\n'
    places = {"hide": ("h", hide), "open": ("o", 300), "moss": ("m", 100)} | (
        {"pond": ("p", 100)} if pond else {}
    )
    for place, (key, amount) in places.items():
        told += (
            f'[zones.{name}_{place}]\nlabel = "{place.title()}"\nkey = "{key}"\nenclosure = "{name}"\n'
            f'place = "{place}"\namount = {amount}\n'
        )
    return told


def animal(name: str, *homes: tuple[str, str]) -> str:
    ends = [f", until = {when}" for _, when in homes[1:]] + [""]
    told = (
        f'{{enclosure = "{e}", from = {since}{end}}}' for (e, since), end in zip(homes, ends, strict=True)
    )
    lives = ", ".join(told)
    # An id of two characters is key enough.
    return f'[animals.{name}]\nlabel = "{name}"\nlives = [{lives}]\n'


def watched(
    folder: Path, homes: dict[str, list[tuple[str, str]]], hide: dict[str, float], *, days: int = 40, seed: int = 4,
    every_d: int = 1,
) -> None:  # fmt: skip
    """One session a day and animal's home, ten scans: each animal is in the hide with its home's own chance."""
    random = np.random.default_rng(seed)
    lines = ["at,session,animal,zone"]
    for day in range(0, days, every_d):
        at = vienna("2026-03-01T19:00") + timedelta(days=day)
        for name, stays in homes.items():
            home = [e for e, since in stays if since <= f"{at:%Y-%m-%d}"][-1]
            for k in range(10):
                place = "hide" if random.random() < hide[home] else ("open", "moss")[random.integers(2)]
                lines.append(
                    f"{at + timedelta(minutes=k):%Y-%m-%d %H:%M},d{day}_{home},{name},{home}_{place}"
                )
    (folder / "past.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    told = run("sightings", folder / "past.csv", "--yes", "--study", folder)
    assert told.exit_code == 0 and " 0 refused" in told.stdout, (told.stdout, told.stderr[:800])


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two animals that moved together; the new hide is used more. The pond is only in the new home."""
    homes = {
        "a1": [("tub", "2026-01-01"), ("viv", "2026-03-15")],
        "a2": [("tub", "2026-01-01"), ("viv", "2026-03-15")],
    }
    text = HEAD + enclosure("tub") + enclosure("viv", hide=300, pond=True)
    folder = study_folder(
        tmp_path_factory.mktemp("one"), text + "".join(animal(n, *h) for n, h in homes.items())
    )
    watched(folder, homes, {"tub": 0.2, "viv": 0.6})
    return folder


def test_a_move_is_a_change_without_being_asked(one: Path) -> None:
    answer = open_study(one).shifts()
    table = answer.table
    assert set(table["compared"]) == {"tub → viv"} and table["adjustment"].isna().all()
    hide = table[table["zone"] == "hide"].iloc[0]
    moments = open_study(one).moments
    first = moments[moments["at"] < "2026-03-15"]
    # The first week in the new home is left out: from 22 March on.
    then = moments[moments["at"] >= "2026-03-22"]
    assert hide["sessions_before"] == 14 and hide["sessions_after"] == then["session"].nunique() == 19
    assert hide["before"] == pytest.approx((first["place"] == "hide").mean())
    assert hide["after"] == pytest.approx((then["place"] == "hide").mean())
    finding = next(f for f in answer.findings if f.about[-1] == "hide")
    assert (finding.verdict, finding.unit) == ("rose", "session")
    codes = {c.code: c.says for c in answer.cautions}
    assert "15 Mar 2026" in codes["moved"] and "first 7 days" in codes["moved"]
    # 100 of 500 cm2 is a fifth, 300 of 800 are 38 %.
    assert "Hide is 20 % of tub and 38 % of viv" in codes["room-differs"]
    # What a move cannot tell apart is said once.
    assert "order" not in codes
    # The pond was only in the new home: no change of use, but said.
    assert not (table["zone"] == "pond").any()


def test_the_same_is_asked_for_by_the_names_of_the_homes(one: Path) -> None:
    told = run("shifts", "--between", "tub,viv", "--study", one, "--json")
    asked, own = json.loads(told.stdout), json.loads(run("shifts", "--study", one, "--json").stdout)
    assert asked["rows"] == own["rows"]
    back = json.loads(run("shifts", "--between", "viv,tub", "--study", one, "--json").stdout)["rows"]
    for mine, other in zip(asked["rows"], back, strict=True):
        assert mine["change"] == pytest.approx(-other["change"]) and mine["p"] == other["p"]
    plain = run("shifts", "--study", one)
    assert "viv against tub: use of Hide rose; that of Open and Moss fell." in " ".join(plain.stdout.split())


def test_a_change_in_the_new_home_on_the_day_of_the_move_confounds_it(one: Path, tmp_path: Path) -> None:
    folder = tmp_path / "study"
    shutil.copytree(one, folder)
    added = run("adjust", "water", "viv_moss", "--at", "2026-03-16 10:00", "--study", folder)
    assert added.exit_code == 0, added.stderr
    finding = next(f for f in open_study(folder).shifts().findings if f.about[:1] == ("tub → viv",))
    assert finding.verdict in ("confounded", "too early") and (
        finding.confounders[0].code,
        finding.confounders[0].what,
    ) == ("another_change", "water")
    # One in the old home after they had left bears on nothing.
    other = tmp_path / "other"
    shutil.copytree(one, other)
    assert run("adjust", "water", "tub_moss", "--at", "2026-03-16 10:00", "--study", other).exit_code == 0
    finding = next(f for f in open_study(other).shifts().findings if f.about == ("tub → viv", "hide"))
    assert finding.verdict == "rose"
    # One in the new home ends what counts as after.
    third = tmp_path / "third"
    shutil.copytree(one, third)
    assert run("adjust", "water", "viv_moss", "--at", "2026-04-01 10:00", "--study", third).exit_code == 0
    table = open_study(third).shifts().table
    row = table[(table["compared"] == "tub → viv") & (table["zone"] == "hide")].iloc[0]
    assert row["sessions_after"] == 10


def test_many_homes_left_for_others_are_one_comparison_by_animal(tmp_path: Path) -> None:
    homes = {f"a{i}": [(f"tub{i}", "2026-01-01"), (f"viv{i}", "2026-03-15")] for i in range(8)}
    text = HEAD + "".join(enclosure(f"tub{i}") + enclosure(f"viv{i}") for i in range(8))
    folder = study_folder(tmp_path, text + "".join(animal(n, *h) for n, h in homes.items()))
    chances = {f"tub{i}": 0.1 + 0.05 * i for i in range(8)} | {f"viv{i}": 0.35 + 0.05 * i for i in range(8)}
    watched(folder, homes, chances, every_d=4)
    answer = open_study(folder).shifts()
    finding = next(f for f in answer.findings if f.about[-1] == "hide")
    assert (finding.verdict, finding.unit, finding["of"]) == ("rose", "animal", 8)
    assert set(answer.table["compared"]) == {"old home → new home"}
    by_unit = answer.parts["by_unit"]
    assert len(by_unit[by_unit["zone"] == "hide"]) == 8


def test_homes_swapped_stand_beside_their_order(tmp_path: Path) -> None:
    """Half lived in the tub first, half in the vivarium: each against itself, and the order is no excuse."""
    homes = {f"a{i}": [("tub", "2026-01-01"), ("viv", "2026-03-15")][:: 1 if i % 2 else -1] for i in range(8)}
    homes = {n: [(first, "2026-01-01"), (then, "2026-03-15")] for n, ((first, _), (then, _)) in homes.items()}
    folder = study_folder(
        tmp_path,
        HEAD + enclosure("tub") + enclosure("viv") + "".join(animal(n, *h) for n, h in homes.items()),
    )
    watched(folder, homes, {"tub": 0.2, "viv": 0.5})
    answer = open_study(folder).shifts(between="tub,viv", cluster="animal")
    finding = next(f for f in answer.findings if f.about[-1] == "hide")
    assert finding.verdict == "rose" and finding["of"] == 8
    assert "order" not in {c.code for c in answer.cautions}
    # Named by nobody, the two ways of moving stand each for itself.
    assert set(open_study(folder).shifts().table["compared"]) == {"tub → viv", "viv → tub"}


def test_homes_that_nobody_shared_cannot_be_held_against_each_other(tmp_path: Path) -> None:
    homes = {"a1": [("tub", "2026-01-01")], "a2": [("viv", "2026-01-01")]}
    folder = study_folder(
        tmp_path,
        HEAD + enclosure("tub") + enclosure("viv") + "".join(animal(n, *h) for n, h in homes.items()),
    )
    watched(folder, homes, {"tub": 0.2, "viv": 0.5}, days=6)
    told = run("shifts", "--between", "tub,viv", "--study", folder)
    assert told.exit_code == 0 and "No animal is on record as having lived in tub and in viv" in " ".join(
        told.stdout.split()
    )


def test_phases_of_an_animal_may_lie_in_two_enclosures(one: Path, tmp_path: Path) -> None:
    folder = tmp_path / "study"
    shutil.copytree(one, folder)
    with (folder / "study.toml").open("a", encoding="utf-8") as stream:
        stream.write(
            '\n[phases.tame]\nspans = [{animal = "a1", until = 2026-03-15}]\n'
            '[phases.wild]\nspans = [{animal = "a1", from = 2026-03-16}]\n'
        )
    finding = open_study(folder).shifts(between="tame,wild").findings[0]
    assert finding.verdict == "rose" and (finding["units_before"], finding["units_after"]) == (14, 25)
