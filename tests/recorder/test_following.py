"""Focal sampling and seeing in passing, through the core alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.recorder.driver import START, continued, drive
from tests.recorder.studies import HABITS, HEAD, LIVING, ZONES, make_study
from zoneuse.recording.session.plan import PlanError, make_plan
from zoneuse.study.toml.file import load_declaration


def focal(tmp_path: Path, **asked: object):  # type: ignore[no-untyped-def]
    return drive(tmp_path, method="focal", animals=("a1",), **asked)


def test_a_key_when_it_moves_and_a_key_when_it_does_something_else(tmp_path: Path) -> None:
    d = focal(tmp_path)
    d.keys("c").wait(5).keys("r").wait(5).keys("w").wait(5).keys("m")
    assert d.said("seen") == [
        "a1 moss_end", "a1 moss_end resting", "a1 water_dish resting", "a1 water_dish moving",
    ]  # fmt: skip


def test_repeating_the_present_state_is_harmless(tmp_path: Path) -> None:
    d = focal(tmp_path)
    d.keys("crrrrccccrr")
    assert d.said("seen") == ["a1 moss_end", "a1 moss_end resting"]


def test_what_it_does_before_where_it_is_waits_for_the_zone(tmp_path: Path) -> None:
    d = focal(tmp_path)
    d.keys("r")
    assert d.records("seen") == []
    d.wait(2).keys("c")
    assert d.said("seen") == ["a1 moss_end resting"]


def test_momentary_hidden_guess_and_out_of_sight(tmp_path: Path) -> None:
    d = focal(tmp_path)
    d.keys("crx;,w--o")
    assert d.said("seen", "happened", "unseen") == [
        "a1 moss_end", "a1 moss_end resting", "a1 strike", "a1 moss_end resting ~", "a1 water_dish resting ?",
        "a1", "a1 open_ground",
    ]  # fmt: skip


def test_undo_brings_the_state_before_back(tmp_path: Path) -> None:
    d = focal(tmp_path)
    d.keys("crw⌫m")
    assert d.said("seen") == ["a1 moss_end", "a1 moss_end resting", "a1 moss_end moving"]


def test_settling_refuses_states_and_takes_events(tmp_path: Path) -> None:
    d = focal(tmp_path, quiet_min=1.0)
    d.keys("cx")
    assert (d.said("seen"), d.said("happened")) == ([], ["a1 strike"])
    d.wait(61).keys("c")
    assert d.said("seen") == ["a1 moss_end"]


def test_colliding_keys_are_refused_with_the_remedy(tmp_path: Path) -> None:
    text = HEAD + ZONES + LIVING.replace('key = "r"', 'key = "c"') + HABITS
    declared = load_declaration(make_study(tmp_path, text))
    with pytest.raises(PlanError, match=r'resting has the key of zone moss_end; write key = "r"'):
        make_plan(declared, START, method="focal", animals=("a1",))
    assert make_plan(declared, START, method="scan").method == "scan"


def test_following_needs_one_animal(tmp_path: Path) -> None:
    declared = load_declaration(make_study(tmp_path))
    with pytest.raises(PlanError, match="--animal with one of: a1, a2, a3"):
        make_plan(declared, START, method="focal")


def test_after_a_cut_it_is_asked_for_again_or_kept(tmp_path: Path) -> None:
    d = focal(tmp_path)
    d.keys("cr")
    d.core.ledger.close()
    again = continued(d)
    again.keys("m")
    assert again.said("seen")[-1] == "a1 moss_end moving"


def test_time_is_up(tmp_path: Path) -> None:
    d = focal(tmp_path, minutes=2.0)
    d.keys("c").wait(121)
    assert "Time is up" in d.ask
    d.core.finish(d.now)
    assert d.session().closed == "finished"


def test_in_passing_anybody_any_time_without_scans(tmp_path: Path) -> None:
    d = drive(tmp_path, method="ad-libitum")
    assert d.ask == "Who is seen?"
    d.keys("1cr").wait(70).keys("2;b⏎").keys("*om").keys("3x").keys("Yc2 w1⏎").wait(1).keys("⏎").keys("3-")
    assert d.said("seen", "happened", "unseen", "missed") == [
        "a1 moss_end resting", "a2 bark ~", "?x1 open_ground moving", "a3 strike",
        "youngx2 moss_end", "youngx1 water_dish", "a3",
    ]  # fmt: skip
    assert "every_s" not in d.core.ledger.header


def test_one_animal_alone_is_always_the_one_meant(tmp_path: Path) -> None:
    living = LIVING[LIVING.index("[behaviours") :]
    d = drive(
        tmp_path,
        HEAD + ZONES + '[animals.a1]\nlabel = "It"\nkey = "1"\n' + living + HABITS,
        method="ad-libitum",
    )
    d.keys("crx")
    assert d.said("seen", "happened") == ["a1 moss_end resting", "a1 strike"]
