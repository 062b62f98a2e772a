"""Scan sampling through the core alone: keys with their moments in, records on the disk out."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from tests.recorder.driver import START, continued, drive
from tests.recorder.studies import HABITS, HEAD, LIVING, ZONES


def test_two_keys_an_animal_and_each_is_asked_in_turn(tmp_path: Path) -> None:
    d = drive(tmp_path)
    assert d.ask == "Broad stripe: where?"
    d.keys("cr")
    assert d.ask == "Two dots: where?"
    d.keys("wm-")
    assert d.said("seen", "unseen") == ["a1 moss_end resting @1", "a2 water_dish moving @1", "a3 @1"]


def test_the_time_is_that_of_the_first_key_of_the_answer(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("c").wait(20).keys("r")
    entry = next(e for e in d.session().entries if e.record.kind == "seen")
    assert entry.record.at == START + timedelta(seconds=0.1)
    assert entry.record.mono == pytest.approx(0.1)


def test_same_as_before_repeats_zone_behaviour_and_certainty(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys(",cr wm").keys("-").keys("c6⏎").wait(60)
    d.keys("==")
    assert d.said("seen", "unseen")[4:] == ["a1 moss_end resting ?@2", "a2 water_dish moving @2"]


def test_same_for_all_that_remain_is_one_act(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("crwm-c4w2⏎").wait(60)
    d.keys("br+")
    assert d.said("seen", "unseen")[5:] == [
        "a1 bark resting @2", "a2 water_dish moving @2", "a3 @2", "youngx4 moss_end @2", "youngx2 water_dish @2",
    ]  # fmt: skip
    assert d.ask == "Scan 2 is complete."
    d.keys("⌫")
    assert d.said("seen", "unseen")[5:] == ["a1 bark resting @2"]
    assert len(d.records("took-back")) == 4


def test_same_without_an_earlier_record_records_nothing(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("=+")
    assert d.records("seen", "unseen") == []
    assert "Nothing earlier" in d.core.notice


def test_space_after_a_zone_keeps_what_it_does(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr").wait(60).keys("w ")
    assert d.said("seen")[-1] == "a1 water_dish resting @2"


def test_skip_by_key_and_by_tab(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("3cr")
    assert d.ask.startswith("Unmarked young")
    d.keys("→wm")
    assert d.said("seen") == ["a3 moss_end resting @1", "a1 water_dish moving @1"]


def test_naming_another_first_keeps_where_the_one_before_was(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("c2wm")
    assert d.said("seen") == ["a1 moss_end @1", "a2 water_dish moving @1"]


def test_unanswered_is_missed_at_the_beat_and_can_be_answered_late(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr").wait(61)
    missed = [e.record for e in d.session().entries if e.record.kind == "missed"]
    assert [(r.fields.get("animal") or r.fields.get("group"), r.fields["scan"]) for r in missed] == [
        ("a2", 1), ("a3", 1), ("young", 1),
    ]  # fmt: skip
    assert {r.at for r in missed} == {START + timedelta(seconds=60)}
    d.keys("<")
    assert d.ask == "Scan 1, late: Two dots: where?"
    d.keys("wm>")
    late = [e.record for e in d.session().entries if e.record.kind == "seen"][-1]
    assert (late.fields["scan"], late.fields["animal"]) == (1, "a2")
    assert late.at > START + timedelta(seconds=61)
    assert d.ask == "Broad stripe: where?"


def test_the_beat_waits_for_half_an_answer_but_not_for_ever(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.wait(59).keys("c").wait(3)
    assert d.ask == "Scan 1: Broad stripe in Moss end: doing?"
    d.keys("r")
    assert d.said("seen") == ["a1 moss_end resting @1"]
    assert "a1 @1" not in d.said("missed")
    assert d.ask == "Broad stripe: where?"
    d.wait(56).keys("w").wait(130)
    assert d.said("seen")[1:] == ["a1 water_dish @2"]
    assert {m for m in d.said("missed") if m.startswith("a1")} == {"a1 @3", "a1 @4"}


def test_half_an_answer_dropped_after_the_beat_is_missed(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.wait(59).keys("c").wait(3).keys("⌫").wait(60)
    assert "a1 @1" in d.said("missed")


def test_several_beats_gone_by_at_once_are_all_missed(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.now = d.now.shifted(185)
    d.core.tick(d.now)
    assert sorted({f["scan"] for f in d.records("missed")}) == [1, 2, 3]


def test_undo_again_and_again_with_a_record_each(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("crwm").keys("⌫⌫⌫")
    assert d.records("seen") == []
    assert len(d.records("took-back")) == 2
    assert d.core.notice == "Nothing to take back."
    assert d.ask == "Broad stripe: where?"


def test_undo_of_what_is_half_typed_writes_nothing(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr,w⌫")
    assert d.ask == "Two dots: where?"
    assert d.said("seen") == ["a1 moss_end resting @1"]
    assert d.records("took-back") == []


def test_undo_of_a_past_scan_asks_again_and_leaves_no_gap_unsaid(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("crwm-c6⏎").wait(60).keys("⌫")
    assert "youngx6" not in " ".join(d.said("seen"))
    assert "young @1" in d.said("missed")
    assert d.ask.startswith("Scan 1, late: Unmarked young")


def test_group_counts_are_checked_and_asked_about(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("Yc3 w2⏎")
    assert d.records("seen") == []
    assert "5 of 6 counted, 1 not accounted for" in d.ask
    d.keys(" -1⏎")
    assert d.said("seen", "unseen") == ["youngx3 moss_end @1", "youngx2 water_dish @1", "youngx1 @1"]


def test_a_mismatch_said_twice_is_recorded_as_it_is(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("Yc3 w2⏎⏎")
    assert d.records("seen") == []  # a key that bounced has read nothing
    d.wait(1).keys("⏎")
    assert d.said("seen") == ["youngx3 moss_end @1", "youngx2 water_dish @1"]


def test_counts_that_make_no_sense_record_nothing(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("Yq3⏎")
    assert d.records("seen") == []
    assert "'q' is not a zone's key" in d.core.notice
    d.keys("⌫⌫+")
    assert d.records("seen") == []


def test_digits_name_another_only_where_no_count_is_typed(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("Y2")
    assert d.ask == "Two dots: where?"
    d.keys("Yc2")
    assert d.core.prompt(d.now).typed == "c2"


def test_guess_hidden_and_one_of_them(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys(",;cr").keys("*bm").keys("-")
    assert d.said("seen", "unseen") == ["a1 moss_end resting ~?@1", "?x1 bark moving @1", "a2 @1"]


def test_momentary_events_do_not_disturb_the_scan(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("x").keys("cxr").keys("!2x")
    assert d.said("happened") == ["a1 strike", "a1 moss_end strike", "a2 strike"]
    assert d.said("seen") == ["a1 moss_end resting @1"]
    assert d.ask == "Two dots: where?"


def test_an_event_after_the_scan_asks_who(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("crwm-c6⏎x")
    assert d.ask == "Strike: who?"
    d.wait(3).keys("3")
    event = next(e.record for e in d.session().entries if e.record.kind == "happened")
    assert event.fields["animal"] == "a3"
    assert event.at < START + timedelta(seconds=2)


def test_an_event_key_that_is_also_a_zones_needs_the_sign(tmp_path: Path) -> None:
    d = drive(tmp_path, HEAD + ZONES + LIVING.replace('key = "x"', 'key = "c"') + HABITS)
    d.keys("!c").keys("cr")
    assert d.said("happened", "seen") == ["a1 strike", "a1 moss_end resting @1"]


def test_pause_stops_the_beat(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.wait(30).keys(":").wait(600).keys("c").keys(":").wait(20)
    assert d.records("missed") == []
    assert d.said("seen") == []
    d.wait(15)
    assert {f["scan"] for f in d.records("missed")} == {1}
    assert [e.record.kind for e in d.session().entries if e.record.kind in ("paused", "resumed")] == [
        "paused", "resumed",
    ]  # fmt: skip


def test_settling_comes_first_and_can_be_ended(tmp_path: Path) -> None:
    d = drive(tmp_path, quiet_min=3.0)
    d.keys("cr1").wait(60)
    assert d.records("seen", "missed") == []
    d.keys("⌫>")
    assert d.ask == "Broad stripe: where?"
    d.keys("cr")
    assert d.said("seen") == ["a1 moss_end resting @1"]


def test_a_clock_stepped_both_ways_moves_no_scan(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr").step_clock(3600).wait(60).keys("cr").step_clock(-7200).wait(60).keys("cr")
    assert d.said("seen") == [f"a1 moss_end resting @{n}" for n in (1, 2, 3)]
    monos = [e.record.mono for e in d.session().entries if e.record.kind == "seen"]
    assert monos == sorted(m for m in monos if m is not None)


def test_finished_left_and_what_was_not_begun(tmp_path: Path) -> None:
    d = drive(tmp_path, minutes=2.0)
    d.keys("crwm-c6⏎").wait(60).keys("++")
    assert d.ask == "The last scan is complete. F10 ends it."
    d.core.finish(d.now)
    assert d.session().closed == "finished"
    assert d.records("missed") == []
    d.keys("cr⌫")
    assert d.session().closed == "finished"


def test_ending_early_misses_the_rest_of_a_scan_begun_only(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("crwm")
    d.core.finish(d.now)
    assert d.session().closed == "left"
    assert d.said("missed") == ["a3 @1", "young @1"]
    other = drive(tmp_path / "b")
    other.core.finish(other.now)
    assert other.records("missed") == []


def test_after_the_last_scan_gaps_can_still_be_answered(tmp_path: Path) -> None:
    d = drive(tmp_path, minutes=1.0)
    d.keys("cr").wait(61)
    assert "3 answers are missing; PgUp gives them late." in d.ask
    d.keys("<wm-c6⏎")
    assert d.ask == "The scan is over. F10 ends it."
    assert d.core.all_done(d.now)


def test_correcting_leaves_a_trace(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    wrong = d.core.records[0]
    d.wait(5)
    d.core.correct(wrong, d.now, {**wrong.fields, "zone": "fern"})
    session = d.session()
    right = next(e.record for e in session.entries if e.record.kind == "seen")
    assert (right.fields["zone"], right.fields["scan"]) == ("fern", 1)
    assert right.at == START + timedelta(seconds=0.1)
    assert right.entered is not None and right.entered > START + timedelta(seconds=5)
    assert [e.record.fields["zone"] for e in session.void] == ["moss_end"]
    assert d.core.marks_by_zone() == {"fern": ["1"]}


def test_a_correction_undone_after_a_cut_gives_the_old_record_back(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    wrong = d.core.records[0]
    d.wait(5)
    d.core.correct(wrong, d.now, {**wrong.fields, "zone": "fern"})
    d.core.ledger.close()
    again = continued(d)
    assert again.said("seen") == ["a1 fern resting @1"]
    again.core.undo(again.now)
    assert again.said("seen") == ["a1 moss_end resting @1"]
    assert again.core.marks_by_zone() == {"moss_end": ["1"]}
    again.core.ledger.close()
    # What was undone is not undone twice: the record that counts again is the next to go.
    third = continued(again)
    third.core.undo(third.now)
    assert third.said("seen") == []


def test_whereabouts_show_marks_and_counts(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys(",cr;bm-c3w2-1⏎")
    assert d.core.marks_by_zone() == {"moss_end": ["1?", "Y:3"], "bark": ["2~"], "water_dish": ["Y:2"]}
    assert d.core.not_found() == ["3", "Y:1"]


def test_a_session_cut_off_goes_on_in_a_part_of_its_own(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("crwm-c6⏎").wait(60).keys("br")
    d.core.ledger.close()
    again = continued(d)
    assert again.said("missed") == ["a2 @2", "a3 @2", "young @2"]
    assert again.ask == "Broad stripe: where?"
    again.keys("=")
    assert again.said("seen")[-1] == "a1 bark resting @3"
    again.keys("⌫⌫")
    assert "a1 bark resting @2" not in again.said("seen")
    assert again.session().parts == 2


def test_what_was_taken_back_before_the_cut_stays_so(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr⌫")
    d.core.ledger.close()
    again = continued(d)
    assert again.core.marks_by_zone() == {}
    assert again.said("seen") == []
    again.keys("⌫")
    assert again.core.notice == "Nothing to take back."
