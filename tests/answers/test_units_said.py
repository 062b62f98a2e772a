"""What counts once is said with its reason, and animals tried in turn never become one session in silence."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.answers.test_shifts_between import CHAMBER, animals
from tests.making import run, study_folder, vienna
from zoneuse import open_study
from zoneuse.stats.space_use.single_step import limits_of_test, single_step
from zoneuse.stats.space_use.stays import home, stays, usual_stay

KEEPS_APART = """
[treatments.mirror]
expects = ["hide:up", "walking:down"]
"""


def in_turn(folder: Path, number: int, *, turns: int = 8, together: bool = False) -> str:
    """A plain table without sessions: animals in a chamber one after the other, every 15 minutes of one morning."""
    random = np.random.default_rng(3)
    lines = ["at,animal,zone,treatment"]
    for k in range(number):
        for i in range(turns):
            at = vienna("2026-03-02T08:00") + timedelta(minutes=i if together else 15 * k + i)
            zone = "hide" if random.random() < (0.9 if k % 2 else 0.1) else "open"
            lines.append(f"{at:%Y-%m-%d %H:%M},a{k},{zone},{'mirror' if k % 2 else 'control'}")
    (folder / "t.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    told = run("sightings", folder / "t.csv", "--yes", "--study", folder)
    assert told.exit_code == 0, told.stderr
    return str(told.stdout + told.stderr)


def test_animals_tried_in_turn_within_one_session_are_units(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, CHAMBER + KEEPS_APART + animals(12))
    in_turn(folder, 12)
    did = json.loads(run("zones", "--json", "--study", folder).stdout)["effort"]
    assert (did["sessions"], did["cluster"], did["units"], did["because"]) == (1, "animal", 12, "tried_alone")
    plain = " ".join(run("zones", "--study", folder).stdout.split())
    assert "Each animal counts once: each was tested on its own." in plain
    between = " ".join(run("shifts", "--between", "control,mirror", "--study", folder).stdout.split())
    assert "6 animals against 6: each was tested on its own" in between
    # What study.toml expects of the treatment is held against .045, and answered.
    found = next(
        f for f in open_study(folder).shifts(between="control,mirror").findings if f.about[-1] == "hide"
    )
    assert found.verdict == "rose" and "that is the way it went" in found.says
    assert found["own_level"] == pytest.approx(0.045)


def test_animals_looked_at_together_are_no_trials(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, CHAMBER + KEEPS_APART + animals(12))
    in_turn(folder, 12, together=True)
    did = json.loads(run("zones", "--json", "--study", folder).stdout)["effort"]
    assert (did["cluster"], did["units"], did["because"]) == ("session", 1, "one_a_day")


def test_what_is_expected_can_be_said_when_asking_and_is_told_as_such(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, CHAMBER + KEEPS_APART + animals(12))
    in_turn(folder, 12)
    answer = open_study(folder).shifts(between="control,mirror", expects=["hide:down"])
    found = next(f for f in answer.findings if f.about[-1] == "hide")
    assert "the other way" in found.says
    assert "expected-when-asking" in {c.code for c in answer.cautions}
    back = open_study(folder).shifts(between="mirror,control")
    assert next(f for f in back.findings if f.about[-1] == "hide").facts["expected"] == "down"
    told = run("shifts", "--between", "control,mirror", "--expects", "hidden:up", "--study", folder)
    assert told.exit_code == 1 and "hidden" in told.stderr
    assert run("shifts", "--expects", "hide:up", "--study", folder).exit_code == 2


@pytest.mark.parametrize(("line", "says"), [("hide", "NAME:up or NAME:down"), ("hidee:up", "hidee")])
def test_a_slip_in_what_a_treatment_should_do_is_found(tmp_path: Path, line: str, says: str) -> None:
    folder = study_folder(tmp_path, CHAMBER + KEEPS_APART.replace("walking:down", line))
    told = run("check", "--study", folder)
    assert told.exit_code == 1 and says in told.stdout + told.stderr


def test_a_hundred_zones_have_limits() -> None:
    """1,999 draws cannot be counted by zone and tail: before, every limit ran from 0 to all there is."""
    random = np.random.default_rng(1)
    offer = np.full(100, 0.01)
    null = random.multinomial(3_000, offer, 1_999) / 3_000
    used = offer.copy()
    used[0], used[1], used[2] = 0.022, 0.0, 0.008
    found = single_step(null, used)
    low, high = limits_of_test(found, used, offer)
    assert (found.p[[0, 1]] <= 0.05).all() and found.p[2] > 0.5
    assert low[0] > 0.01 and high[0] < 0.04 and high[1] < 0.01 and 0.002 < low[2] < 0.008 < high[2] < 0.02
    claims = 0
    for row in random.multinomial(3_000, offer, 40) / 3_000:
        told = single_step(null, row)
        claims += bool((told.p <= 0.05).any())
        assert ((row < told.below) | (row > told.above)).tolist() == (told.p <= 0.05).tolist()
    # 40 of it: up to 6 (5 % with three standard errors).
    assert claims <= 6


def test_a_place_never_left_is_a_home_where_others_show_that_it_is_no_long_stay() -> None:
    still, restless = stays([0] * 11, 8), [stays([1, 2, 3, 4] * 3, 8), stays([5, 6, 5, 7] * 3, 8)]
    sticky = [stays([1] * 6 + [2] * 5, 8), stays([3] * 7 + [4] * 4, 8)]
    assert home(still, days=11, stays_put=usual_stay(restless)).stands
    assert not home(still, days=11, stays_put=usual_stay(sticky)).stands
    assert home(still, days=11).stands


def tubs(folder: Path) -> None:
    """Twelve tubs, six with a mat after the sixth day; in all of them the cork is used more from day to day."""
    lines = ["at,session,animal,zone,treatment"]
    random = np.random.default_rng(7)
    for day in range(12):
        for i in range(12):
            share = 0.1 + 0.03 * day + (0.35 if i < 6 and day >= 6 else 0.0) + random.uniform(-0.05, 0.05)
            inside = random.permutation(20) < round(20 * share)
            lines += [
                f"2026-03-{2 + day:02d} 20:{k:02d},s{day}-{i},a{i},{'cork' if there else 'soil'}{i},"
                f"{'mat' if i < 6 else 'none'}"
                for k, there in enumerate(inside)
            ]
    (folder / "t.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    told = run("sightings", folder / "t.csv", "--yes", "--study", folder)
    assert told.exit_code == 0 and "0 refused" in told.stdout, told.stderr


def test_what_changed_for_those_left_alone_too_is_taken_off(tmp_path: Path) -> None:
    """Before, after, control, impact: the drift all share is no effect of the mat."""
    homes = "".join(
        f'[enclosures.t{i}]\nmeasured_in = "floor_cm2"\n'
        + "".join(
            f'[zones.{z}{i}]\nlabel = "{z}"\nplace = "{z}"\nenclosure = "t{i}"\namount = 1\n'
            for z in ("cork", "soil")
        )
        + f'[animals.a{i}]\nlabel = "a{i}"\nlives = [{{enclosure = "t{i}"}}]\n'
        for i in range(12)
    )
    text = (
        f'format = 1\ntitle = "Tubs"\ntimezone = "Europe/Vienna"\n{homes}[treatments.mat]\n[treatments.none]\n'
        "[phases.first]\nuntil = 2026-03-08\n[phases.then]\nfrom = 2026-03-08\n"
    )
    folder = study_folder(tmp_path, text)
    tubs(folder)
    whole = open_study(folder).shifts(between="first,then")
    alone = open_study(folder).shifts(between="first,then", controls="none")
    (plain,), (apart,) = (
        [r for r in a.table.to_dict("records") if r["zone"] == "cork"] for a in (whole, alone)
    )
    # All tubs: 18 points of drift, and 35 in half of them; against those left alone the 35 remain.
    assert plain["change"] == pytest.approx(0.355, abs=0.03)
    assert (apart["before"], apart["change"]) == (
        pytest.approx(0.18, abs=0.03),
        pytest.approx(0.35, abs=0.04),
    )
    found = next(f for f in alone.findings if f.about[-1] == "cork")
    assert found.verdict == "rose" and found.facts["because"] == "left_alone"
    assert found["smallest_p"] == pytest.approx(2 / 924)
    told = run("shifts", "--between", "first,then", "--controls", "nobody", "--study", folder)
    assert told.exit_code == 1 and "nobody" in told.stderr
    assert run("shifts", "--controls", "none", "--study", folder).exit_code == 2


def test_minutes_of_a_day_are_held_against_each_other(tmp_path: Path) -> None:
    """Time budgets were left out of shifts: nothing was compared."""
    folder = study_folder(tmp_path, CHAMBER + KEEPS_APART + animals(10))
    lines = ["date,animal,zone,minutes,treatment"]
    for i in range(10):
        for day, (treatment, hide) in enumerate((("control", 20 + i), ("mirror", 35 + i))):
            lines += [
                f"2026-03-0{2 + day},a{i},hide,{hide},{treatment}",
                f"2026-03-0{2 + day},a{i},open,{60 - hide},{treatment}",
            ]
    (folder / "t.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    taken = run("sightings", folder / "t.csv", "--of", "1h", "--yes", "--study", folder)
    assert taken.exit_code == 0, taken.stderr
    answer = open_study(folder).shifts(between="control,mirror", cluster="animal")
    (hide,) = answer.table[answer.table["zone"] == "hide"].to_dict("records")
    assert hide["change"] == pytest.approx(0.25) and hide["p"] <= 0.01
    assert "moves" not in set(answer.table["what"])


def test_six_tanks_are_not_said_to_be_enough_where_they_are_not(tmp_path: Path) -> None:
    """One session of each tank under each: sessions would tell no more, and six pairs pass no five rows under Holm."""
    text = CHAMBER.replace('[enclosure]\nmeasured_in = "floor_cm2"\n', "")
    homes, rows = "", ["at,session,group,zone,count,treatment"]
    for t in range(6):
        homes += f'[enclosures.tank_{t}]\nmeasured_in = "floor_cm2"\n'
        for zone in ("hide", "open", "far"):
            homes += f'[zones.{zone}_{t}]\nlabel = "{zone} {t}"\nplace = "{zone}"\n'
            homes += f'enclosure = "tank_{t}"\namount = 100\n'
        homes += f'[groups.g{t}]\nlabel = "g{t}"\nsize = 5\nlives = [{{enclosure = "tank_{t}"}}]\n'
        for k, treatment in enumerate(("control", "spider")):
            zones = (("hide", 1 + k), ("open", 3 - k), ("far", 1))
            rows += [
                f"2026-03-{1 + t + 7 * k:02d} 10:00,s{t}{k},g{t},{z}_{t},{n},{treatment}" for z, n in zones
            ]
    head, _, rest = text.partition("[zones.hide]")
    folder = study_folder(tmp_path, head + homes + rest[rest.index("[behaviours.resting]") :])
    (folder / "t.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert run("sightings", folder / "t.csv", "--yes", "--study", folder).exit_code == 0
    basis = open_study(folder).shifts(between="control,spider").basis
    assert "6 enclosures" in basis and "there are too few enclosures" in basis
