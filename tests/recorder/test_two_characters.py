"""Keys of two characters, typed one after the other: each key does what was meant, or nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.making import TWO_ZONES, study_folder
from tests.recorder.driver import drive
from tests.recorder.studies import HABITS, HEAD, LIVING, ZONES, two_characters
from zoneuse.recording.modes.asking import Code
from zoneuse.recording.modes.counts import parse_counts
from zoneuse.recording.session.plan import PlanError
from zoneuse.screens.recorder.panels import Chip, Chips, RoomWords, _one_line
from zoneuse.screens.review.drawing.rooms import SharedRooms
from zoneuse.study.toml.file import load_declaration


def test_both_characters_make_one_answer_with_the_time_of_the_first(tmp_path: Path) -> None:
    d = drive(tmp_path, two_characters())
    d.keys("h")
    assert d.core.prompt(d.now).half == "h"
    d.wait(5).keys("1rs").keys("жm")
    assert d.said("seen") == ["a1 moss_end resting @1", "a2 drain_tube moving @1"]
    first = next(e for e in d.session().entries if e.record.kind == "seen")
    assert first.record.mono == pytest.approx(0.1)
    d.keys("A1h2m")
    assert d.said("seen")[-1] == "a1 water_dish moving @1"


def test_backspace_takes_half_a_key_away_and_no_record(tmp_path: Path) -> None:
    d = drive(tmp_path, two_characters())
    d.keys("h1rs").keys("h⌫")
    assert d.core.prompt(d.now).half == "" and len(d.records("seen")) == 1


def test_what_leads_nowhere_records_nothing_and_is_said(tmp_path: Path) -> None:
    d = drive(tmp_path, two_characters())
    d.keys("hb")  # b alone is a zone, but h was begun
    assert d.core.told.code is Code.UNKNOWN_KEY and d.core.draft is not None and d.core.draft.zone is None
    d.keys("hh1rs")  # a key that bounced
    assert d.said("seen") == ["a1 moss_end resting @1"]


def test_half_a_key_waits_for_its_own_animal_and_is_no_other_ones(tmp_path: Path) -> None:
    d = drive(tmp_path, two_characters())
    d.keys("h").wait(61).keys("1rs")
    assert d.said("seen") == ["a1 moss_end resting @1"], "begun in scan 1, for the first animal"
    d.keys("h").wait(125).keys("2")
    assert len(d.records("seen")) == 1, "a whole scan later nobody knows whom it was for"


def test_counts_with_keys_of_two_characters(tmp_path: Path) -> None:
    parts = parse_counts("h13h21b2rs-1", ["h1", "h2", "b"], ["rs", "m"])
    assert [(p.zone, p.count, p.behaviour) for p in parts] == [
        ("h1", 3, None), ("h2", 1, None), ("b", 2, "rs"), (None, 1, None)
    ]  # fmt: skip
    d = drive(tmp_path, two_characters())
    d.keys("Yh13 h22rs -1⏎")
    assert [(r.get("zone"), r["count"], r.get("behaviour")) for r in d.records("seen", "unseen")] == [
        ("moss_end", 3, None), ("water_dish", 2, "resting"), (None, 1, None)
    ]  # fmt: skip


def test_an_event_and_following_take_them_too(tmp_path: Path) -> None:
    d = drive(tmp_path, two_characters(), method="focal", animals=("a1", "a2"))
    d.keys("A1h1rs2bm")
    assert d.said("seen") == ["a1 moss_end", "a1 moss_end resting", "a2 bark", "a2 bark moving"]


def test_whom_a_slowly_typed_key_names_is_meant_from_its_end_on(tmp_path: Path) -> None:
    d = drive(tmp_path, two_characters(), method="focal", animals=("a1", "a2"))
    d.keys("A").wait(6).keys("1").wait(4).keys("l")
    assert d.said("seen") == ["a1 leaf_litter"]


def test_a_round_takes_them_and_counts_digits(tmp_path: Path) -> None:
    d = drive(tmp_path, two_characters(), method="retreat-round")
    d.keys("A1rsY3rs⏎")
    assert d.said("seen") == ["a1 moss_end resting", "youngx3 moss_end resting"]


def test_the_recorder_refuses_what_has_no_key_and_proposes_one(tmp_path: Path) -> None:
    head = HEAD.replace('sketch = ["ccccwwbb", "cccclldd", "oooollff"]', "")
    bare = "".join([head, ZONES.replace('key = "o"\n', ""), LIVING, HABITS])
    with pytest.raises(PlanError, match=r'open_ground has no key .* key = "o", which is free'):
        drive(tmp_path, bare)


def test_in_a_crowded_list_a_key_is_whole_or_not_there() -> None:
    crowded = RoomWords("h1", "Hide number 1", ("A1", "Y:12"))
    assert _one_line(crowded, 3).plain == "h1…"
    assert _one_line(crowded, 8).plain == "h1 A1 Y…"


def test_keys_that_find_no_room_are_told_of() -> None:
    chips = Chips(lambda chip, event: None, 1)
    chips._chips = tuple(Chip(f"A{i}", "Newt", press=f"A{i}") for i in range(9))
    (row,) = chips.rows(20)
    assert [chip.key for _, chip in row] == ["A0", "A1", "A2", "A3", "…"]


def test_places_without_keys_are_rooms_of_their_own(tmp_path: Path) -> None:
    text = TWO_ZONES.replace('key = "m"\n', "").replace('key = "b"\n', "")
    rooms = SharedRooms(load_declaration(study_folder(tmp_path, text)), print)
    assert list(rooms._places.values()) == ["moss", "bark"]
