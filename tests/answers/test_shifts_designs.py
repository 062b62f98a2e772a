"""Shifts with more than one side: reversals, enclosures left alone, unequal hours, edits of study.toml."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.making import scans, study_folder, vienna
from zoneuse import open_study
from zoneuse.answers.answer import Answer
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.study.toml.file import load_declaration

CHANGE = vienna("2026-03-20T12:00")
STUDY = """
format = 1
title = "Tubs"
timezone = "Europe/Vienna"
"""


def tubs(number: int, extra: str = "", lights: bool = False) -> str:
    """A study of enclosures of one layout, moss and bark in each, an animal in each."""
    text = STUDY
    lit = 'lights = {on = "08:00", off = "18:00"}\n' if lights else ""
    for k in range(1, number + 1):
        text += f'[enclosures.tub_{k}]\nmeasured_in = "floor_cm2"\n{lit}'
        for zone, key in (("moss", "m"), ("bark", "b")):
            text += f'[zones.{zone}_{k}]\nlabel = "{zone.capitalize()}"\nkey = "{key}"\namount = 100\n'
            text += f'enclosure = "tub_{k}"\nplace = "{zone}"\n{extra if zone == "bark" and k == 1 else ""}'
        text += f'[animals.a{k}]\nlabel = "Animal {k}"\nkey = "{k}"\nlives = [{{enclosure = "tub_{k}"}}]\n'
    return text


def adjusted(folder: Path, name: str, at: datetime, *tub: int, **fields: object) -> None:
    record = {
        "adjustment": name,
        "what": "water",
        "zones": [f"bark_{k}" for k in tub],
        "settle_h": 24.0,
        **fields,
    }
    write_rows(load_declaration(folder), at, [RecordToWrite("adjusted", record, at)])


def watch(folder: Path, start: datetime, counts: dict[int, list[int]], clock: str = "20:00") -> None:
    """A session a day of ten scans: for each tub how many of them its animal spends in the bark."""
    for day in range(len(next(iter(counts.values())))):
        rows = [[f"bark_{k}" if n < c[day] else f"moss_{k}" for k, c in counts.items()] for n in range(10)]
        scans(folder, f"{start + timedelta(days=day):%Y-%m-%d}T{clock}", rows, [f"a{k}" for k in counts])


def shares(mean: float, days: int, seed: int) -> list[int]:
    return [int(n) for n in np.random.default_rng(seed).binomial(10, mean, days)]


def reversed_study(folder: Path, means: tuple[float, ...], **fields: object) -> Answer:
    """Phases of eight days, each begun by a change that takes the one before it back."""
    study_folder(folder, tubs(1))
    watch(folder, CHANGE - timedelta(days=8), {1: shares(means[0], 8, 10)})
    for k, mean in enumerate(means[1:]):
        at = CHANGE + timedelta(days=10 * k)
        undoes = {"undoes": f"water-{k}"} if k else {}
        adjusted(folder, f"water-{k + 1}", at, 1, **undoes, **(fields if not k else {}))
        watch(folder, at + timedelta(days=2), {1: shares(mean, 8, 11 + k)})
    return open_study(folder).shifts()


def test_what_comes_and_goes_with_a_change_is_stronger_than_one_step(tmp_path: Path) -> None:
    answer = reversed_study(tmp_path, (0.2, 0.6, 0.2, 0.6), expects=[{"zone": "bark_1", "direction": "up"}])
    found = {f.about: f for f in answer.findings}["water-1", "water-2", "water-3", "bark"]
    assert found.verdict == "rose"
    assert "all 3 steps the same way" in found.says
    assert "stronger evidence than one step" in found.says
    row = answer.parts["reversals"].set_index("zone").loc["bark"]
    assert row["with"] - row["without"] == pytest.approx(row["change"])
    assert row["change_low"] < 0.4 < row["change_high"]


def test_small_opposite_moves_are_no_reversal(tmp_path: Path) -> None:
    # Five points up and five back, of days that differ by eighty: opposite moves, and nothing in them.
    study_folder(tmp_path, tubs(1))
    watch(tmp_path, CHANGE - timedelta(days=8), {1: [1, 9] * 4})
    for k, counts in enumerate(([2, 9] * 4, [1, 9] * 4), 1):
        at = CHANGE + timedelta(days=10 * k - 10)
        adjusted(tmp_path, f"water-{k}", at, 1, undoes="water-1" if k == 2 else None)
        watch(tmp_path, at + timedelta(days=2), {1: counts})
    answer = open_study(tmp_path).shifts()
    assert len(answer.parts["reversals"]) == 2
    assert not any(
        "stronger" in says for says in [*(n.says for n in answer.notes), *(f.says for f in answer.findings)]
    )


def test_another_change_between_confounds_a_reversal(tmp_path: Path) -> None:
    study_folder(tmp_path, tubs(1))
    watch(tmp_path, CHANGE - timedelta(days=8), {1: shares(0.1, 8, 1)})
    for name, day, mean, undoes in (("w-1", 0, 0.8, None), ("h-1", 10, 0.8, None), ("w-2", 20, 0.1, "w-1")):
        at = CHANGE + timedelta(days=day)
        adjusted(tmp_path, name, at, 1, undoes=undoes)
        watch(tmp_path, at + timedelta(days=2), {1: shares(mean, 8, day + 5)})
    found = {f.about: f for f in open_study(tmp_path).shifts().findings}["w-1", "w-2", "bark"]
    assert found.verdict == "confounded"
    assert "water on 30 Mar 2026 came in between" in found.says


def test_a_change_elsewhere_neither_cuts_phases_nor_dilutes_the_change(tmp_path: Path) -> None:
    study_folder(tmp_path, tubs(2))
    watch(tmp_path, CHANGE - timedelta(days=8), {1: [2] * 8, 2: [5] * 8})
    watch(tmp_path, CHANGE + timedelta(days=2), {1: [7] * 8, 2: [5] * 8})
    adjusted(tmp_path, "water-1", CHANGE, 1)
    adjusted(tmp_path, "heat-1", CHANGE - timedelta(days=3), 2)
    table = open_study(tmp_path).shifts().table.set_index(["adjustment", "zone"])
    row = table.loc[("water-1", "bark")]
    assert (row["before"], row["after"]) == (pytest.approx(0.2), pytest.approx(0.7))
    assert (row["sessions_before"], row["sessions_after"]) == (8, 8)


def eight_tubs(folder: Path, moved: dict[int, float]) -> Answer:
    study_folder(folder, tubs(8))
    before = {k: shares(0.2, 8, 100 + k) for k in range(1, 9)}
    after = {k: shares(0.2 + moved.get(k, 0.0), 8, 200 + k) for k in range(1, 9)}
    watch(folder, CHANGE - timedelta(days=8), before)
    watch(folder, CHANGE + timedelta(days=2), after)
    adjusted(folder, "water-1", CHANGE, 1, 2, 3, 4, expects=[{"zone": "bark_1", "direction": "up"}])
    return open_study(folder).shifts()


def test_with_enough_enclosures_which_were_changed_is_the_test(tmp_path: Path) -> None:
    answer = eight_tubs(tmp_path, dict.fromkeys((1, 2, 3, 4), 0.5))
    row = answer.parts["controls"].set_index("zone").loc["bark"]
    assert (row["p"], row["smallest_p"]) == (pytest.approx(2 / 70), pytest.approx(2 / 70))
    assert {f.about: f.verdict for f in answer.findings}["water-1", "bark"] == "rose"
    assert any("4 enclosures left alone" in note.says and "70 ways" in note.says for note in answer.notes)


def test_what_moved_everywhere_is_not_put_down_to_the_change(tmp_path: Path) -> None:
    answer = eight_tubs(tmp_path, dict.fromkeys(range(1, 9), 0.5))
    assert {f.about: f.verdict for f in answer.findings}["water-1", "bark"] == "too early"


def test_two_enclosures_only_describe(tmp_path: Path) -> None:
    study_folder(tmp_path, tubs(2))
    watch(tmp_path, CHANGE - timedelta(days=8), {1: shares(0.2, 8, 1), 2: shares(0.2, 8, 2)})
    watch(tmp_path, CHANGE + timedelta(days=2), {1: shares(0.7, 8, 3), 2: shares(0.2, 8, 4)})
    adjusted(tmp_path, "water-1", CHANGE, 1, expects=[{"zone": "bark_1", "direction": "up"}])
    answer = open_study(tmp_path).shifts()
    assert any("one enclosure of each kind says nothing of chance" in note.says for note in answer.notes)
    assert answer.parts["controls"]["p"].isna().all()


def test_other_hours_after_than_before_are_named(tmp_path: Path) -> None:
    study_folder(tmp_path, tubs(1, lights=True))
    watch(tmp_path, CHANGE - timedelta(days=8), {1: [3] * 8}, "19:00")
    watch(tmp_path, CHANGE + timedelta(days=2), {1: [3] * 8}, "22:00")
    adjusted(tmp_path, "water-1", CHANGE, 1)
    answer = open_study(tmp_path).shifts()
    assert any(c.code == "hours" and "3.0 h later" in c.says for c in answer.cautions)
    assert set(answer.parts["hours"]["side"]) == {"before", "after"}


def test_nights_before_and_days_after_are_weighted_and_named(tmp_path: Path) -> None:
    study_folder(tmp_path, tubs(1, lights=True))
    for start, nights, days in ((CHANGE - timedelta(days=10), 8, 2), (CHANGE + timedelta(days=2), 2, 8)):
        watch(tmp_path, start, {1: [8] * nights}, "21:00")
        watch(tmp_path, start + timedelta(days=nights), {1: [2] * days}, "11:00")
    adjusted(tmp_path, "water-1", CHANGE, 1)
    answer = open_study(tmp_path).shifts()
    assert answer.table.set_index("zone").loc["bark", "change"] == pytest.approx(0)
    assert any(c.code == "slot-balance" for c in answer.cautions)


def test_an_edit_of_study_toml_belongs_to_the_change_made_with_it(tmp_path: Path) -> None:
    size = "amount = [{until = 2026-03-20, is = 100}, {from = 2026-03-20, is = 200}]"
    study_folder(tmp_path, tubs(1).replace('key = "b"\namount = 100', f'key = "b"\n{size}'))
    watch(tmp_path, CHANGE - timedelta(days=8), {1: shares(0.2, 8, 1)})
    watch(tmp_path, CHANGE + timedelta(days=2), {1: shares(0.9, 8, 2)})
    adjusted(tmp_path, "layout-1", CHANGE, 1, what="layout", expects=[{"zone": "bark_1", "direction": "up"}])
    answer = open_study(tmp_path).shifts()
    assert any(
        "Layout on 20 Mar 2026 12:00 goes with: Bark, altered in study.toml on 20 Mar 2026" in n.says
        for n in answer.notes
    )
    assert {f.about: f.verdict for f in answer.findings}["layout-1", "bark"] == "rose"


def test_an_edit_of_study_toml_on_no_record_confounds(tmp_path: Path) -> None:
    size = "amount = [{until = 2026-03-16, is = 100}, {from = 2026-03-16, is = 200}]"
    study_folder(tmp_path, tubs(1).replace('key = "b"\namount = 100', f'key = "b"\n{size}'))
    watch(tmp_path, CHANGE - timedelta(days=8), {1: shares(0.2, 8, 1)})
    watch(tmp_path, CHANGE + timedelta(days=2), {1: shares(0.9, 8, 2)})
    adjusted(tmp_path, "water-1", CHANGE, 1, expects=[{"zone": "bark_1", "direction": "up"}])
    found = {f.about: f for f in open_study(tmp_path).shifts().findings}["water-1", "bark"]
    assert found.verdict == "confounded"
    assert "Bark was altered in study.toml on 16 Mar 2026" in found.says


def test_a_change_made_on_another_day_than_drawn_is_not_tested_by_lot(tmp_path: Path) -> None:
    study_folder(tmp_path, tubs(1))
    watch(tmp_path, CHANGE - timedelta(days=24), {1: [1] * 24})
    watch(tmp_path, CHANGE + timedelta(days=2), {1: [9] * 20})
    days = [f"{CHANGE - timedelta(days=k):%Y-%m-%d}" for k in range(20)]
    sealed = {"adjustment": "water-1", "days": days, "day": days[3], "seed": 1}
    write_rows(load_declaration(tmp_path), CHANGE - timedelta(days=30), [RecordToWrite("drawn", sealed)])
    adjusted(tmp_path, "water-1", CHANGE, 1, expects=[{"zone": "bark_1", "direction": "up"}])
    answer = open_study(tmp_path).shifts()
    assert any(c.code == "not-as-drawn" for c in answer.cautions)
    assert not any("Its day was drawn by lot" in f.says for f in answer.findings)
    assert answer.table.set_index("zone").loc["bark", "p"] < 1 / 20


@pytest.mark.parametrize(
    ("feeds", "verdict"),
    [((-16, -9, -2), "confounded"), ((-16, -9, -2, 5, 12, 19), "rose"), ((-22,), "rose")],
)
def test_feeds_that_stop_with_the_change_confound_and_feeds_that_go_on_do_not(
    tmp_path: Path, feeds: tuple[int, ...], verdict: str
) -> None:
    study_folder(tmp_path, tubs(1))
    watch(tmp_path, CHANGE - timedelta(days=18), {1: shares(0.1, 18, 1)})
    watch(tmp_path, CHANGE + timedelta(days=2), {1: shares(0.9, 18, 2)})
    adjusted(tmp_path, "water-1", CHANGE, 1, expects=[{"zone": "bark_1", "direction": "up"}])
    for day in feeds:
        write_rows(
            load_declaration(tmp_path),
            CHANGE + timedelta(days=day),
            [RecordToWrite("context", {"what": "fed"})],
        )
    found = {f.about: f for f in open_study(tmp_path).shifts().findings}["water-1", "bark"]
    assert found.verdict == verdict
    assert ("a feed" in found.says) == (verdict == "confounded")
