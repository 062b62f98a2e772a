"""A retreat round through the core alone: who is found, what is left out, what may be said of the rest."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.recorder.driver import START, Driver, continued, drive
from tests.recorder.studies import HABITS, HEAD, LIVING, ROUND, STUDY, TWO_TUBS, ZONES, make_study
from zoneuse import open_study
from zoneuse.answers.retreats.checks import check_rows
from zoneuse.recording.modes.corrections import corrections
from zoneuse.recording.session.plan import PlanError, make_plan
from zoneuse.recording.session.recall import Recall
from zoneuse.recording.telling.summary import summary
from zoneuse.study.toml.file import load_declaration


def round_of(tmp_path: Path, text: str = ROUND, **asked: Any) -> Driver:
    return drive(tmp_path, text, **asked)


def checked(d: Driver) -> list[tuple[str, str]]:
    """Zone and what was done there, of the records that count, in the order of the disk."""
    return [
        (f["zone"], "skipped" if f.get("skipped") else "lifted" if f["lifted"] else "looked")
        for f in d.records("checked")
    ]


def test_the_retreats_come_in_the_files_order_and_one_key_finds_an_animal(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    assert [z.id for z in d.core.plan.retreats] == ["moss_end", "bark", "leaf_litter", "drain_tube"]
    assert d.ask == "Moss end 1/4: who? Cover not lifted.\nhere: nobody yet\nto find: 1 2 3 Y:6"
    d.keys("1")
    assert d.ask == "Broad stripe in Moss end: doing?"
    d.keys("a,2e")
    assert d.said("seen") == ["a1 moss_end asleep", "a2 moss_end alert ?"]
    assert d.ask.endswith("here: 1 2?\nto find: 3 Y:6")
    d.keys("⏎-")
    assert checked(d) == [("moss_end", "looked"), ("bark", "looked")]
    assert d.ask.startswith("Leaf litter 3/4")


def test_the_next_animals_key_or_enter_does_without_a_behaviour(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("12⏎3 ")
    assert d.said("seen") == ["a1 moss_end", "a2 moss_end", "a3 moss_end"]


def test_the_time_of_a_sighting_is_that_of_the_animals_key(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1").wait(20).keys("a")
    entry = next(e for e in d.session().entries if e.record.kind == "seen")
    assert entry.record.at == START + timedelta(seconds=0.1)


def test_without_lasting_behaviours_one_key_is_the_record(tmp_path: Path) -> None:
    living = LIVING[: LIVING.index("[behaviours")]
    d = round_of(tmp_path, HEAD + ZONES + living + HABITS, method="retreat-round")
    d.keys("1,2")
    assert d.said("seen") == ["a1 moss_end", "a2 moss_end ?"]


def test_groups_and_some_not_told_apart_are_counted(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("Y")
    assert d.ask == "Unmarked young in Moss end: how many of 6? Enter: 1"
    d.keys("3aY1e")
    d.keys("*2⏎")
    d.keys("*⏎")
    assert d.said("seen") == [
        "youngx3 moss_end asleep", "youngx1 moss_end alert", "?x2 moss_end", "?x1 moss_end",
    ]  # fmt: skip
    assert d.core.marks_by_zone() == {"moss_end": ["Y:4", "*:3"]}
    d.keys("⏎Y2⏎")
    assert d.core.marks_by_zone()["bark"] == ["Y:2"]
    assert "Y" not in d.ask.split("to find:")[1]


def test_more_than_the_group_is_asked_about_and_recorded_when_said_twice(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("Y7a")
    assert d.records("seen") == []
    assert "7 in all, but the group is 6" in d.ask
    d.keys("⌫6a")
    assert d.said("seen") == ["youngx6 moss_end asleep"]
    d.keys("Y1⏎").wait(1).keys("⏎")
    assert d.said("seen")[1:] == ["youngx1 moss_end"]


def test_more_without_a_name_than_live_there_is_asked_about(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("*9⏎*1⏎")
    assert "10 in all, but 9 are known to live here" in d.ask
    d.keys("⌫⌫")
    assert d.said("seen") == ["?x9 moss_end"]


def test_a_cover_lifted_holds_until_it_is_said_otherwise(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("_⏎").keys("⏎").keys("_⏎")
    assert checked(d) == [("moss_end", "lifted"), ("bark", "lifted"), ("leaf_litter", "looked")]


def test_left_out_is_written_but_not_where_somebody_was_found(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a→")
    assert checked(d) == [] and "it was looked into" in d.core.notice
    d.keys("-")
    assert checked(d) == [] and "Somebody is recorded here" in d.core.notice
    d.keys("⏎→")
    assert checked(d) == [("moss_end", "looked"), ("bark", "skipped")]


def test_not_found_is_recorded_only_when_all_was_looked_into_and_the_keeper_says_so(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a⏎").keys("Y4a⏎").keys("⏎⏎")
    assert d.records("unseen") == []
    assert d.ask.startswith("Found 5 of 9 known to live here.\nNot found: 2 3 Y:2\nLooked")
    assert not d.core.all_done(d.now)
    d.keys("⏎")
    assert d.records("unseen") == [], "one Enter too many is no answer"
    d.wait(2).keys("⏎")
    assert d.said("unseen") == ["a2", "a3", "youngx2"]
    assert d.core.all_done(d.now) and d.core.not_found() == ["2", "3", "Y:2"]
    d.keys("⌫")
    assert d.records("unseen") == [] and "Not found: 2 3 Y:2" in d.ask


def test_with_a_retreat_left_out_nobody_counts_as_not_found(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a⏎→⏎⏎")
    assert "Left out: Bark stack" in d.ask
    d.wait(2).keys("⏎")
    assert d.records("unseen") == []
    d.core.finish(d.now)
    assert d.session().closed == "finished"
    said = summary(d.core, Recall(), d.now)
    assert said[:4] == [
        "3 of 4 retreats looked into.", "Not looked into: Bark stack.", "Found 1 of 9 known to live here.",
        "Neither found nor looked for everywhere, so without a record: Two dots, Old one, 6 of Unmarked young.",
    ]  # fmt: skip


def test_with_some_not_told_apart_nobody_in_particular_is_missing(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a*⏎⏎⏎⏎⏎")
    assert "who is missing is not known" in d.ask
    d.wait(2).keys("⏎")
    assert d.records("unseen") == []


def test_all_found_needs_nothing_more(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a2a3aY6a⏎⏎⏎⏎")
    assert d.ask == "Found 9 of 9 known to live here.\nF10 ends it."
    d.core.finish(d.now)
    assert d.session().closed == "finished"


def test_more_than_are_known_is_told_at_the_end(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a2a3aY7a").wait(1).keys("⏎⏎⏎⏎⏎")
    assert d.ask.startswith("Found 10 of 9 known to live here.\nMore than study.toml knows of.")
    d.wait(2).keys("⏎")
    assert d.records("unseen") == []


def test_who_was_recorded_elsewhere_is_moved_only_when_that_is_said(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a⏎1")
    assert "recorded in Moss end already" in d.ask
    d.keys("⌫1e")
    assert d.said("seen") == ["a1 moss_end asleep"]
    d.keys("2")
    assert "Answer this" in d.core.notice and d.said("seen") == ["a1 moss_end asleep"]
    d.wait(1).keys("⏎")
    assert d.said("seen") == ["a1 bark alert"]
    assert d.core.marks_by_zone() == {"bark": ["1"]}
    d.keys("⌫")
    assert d.said("seen") == ["a1 moss_end asleep"]
    assert d.core.marks_by_zone() == {"moss_end": ["1"]}


def test_undo_again_and_again_goes_back_through_the_round(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a_⏎→2e")
    d.keys("⌫⌫⌫")
    assert d.said("seen") == ["a1 moss_end asleep"] and checked(d) == []
    assert d.ask.startswith("Moss end 1/4") and "LIFTED" in d.ask
    d.keys("⌫⌫")
    assert d.records("seen") == [] and d.core.notice == "Nothing to take back."
    assert len(d.records("took-back")) == 4


def test_back_a_retreat_to_add_and_to_say_otherwise(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("⏎").keys("→").keys("<")
    assert d.ask.startswith("Bark stack 2/4")
    d.keys("2a⏎")
    assert checked(d) == [("moss_end", "looked"), ("bark", "looked")]
    assert d.ask.startswith("Leaf litter 3/4")
    d.keys("<<<").keys("⏎")
    assert len(d.records("checked")) == 2, "the same said again is no further record"
    d.keys("c_⏎")
    assert ("moss_end", "lifted") in checked(d)
    d.keys("⌫")
    assert ("moss_end", "looked") in checked(d)


def test_somebody_in_the_open_is_found_too(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("o")
    assert d.ask.startswith("Open ground, no retreat: who?")
    d.keys("3e⏎")
    assert d.said("seen") == ["a3 open_ground alert"] and d.records("checked") == []
    assert d.ask.startswith("Moss end 1/4") and "3" not in d.ask.split("to find:")[1]


def test_a_find_after_not_found_takes_that_back(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a2aY6a⏎⏎⏎⏎").wait(2).keys("⏎")
    assert d.said("unseen") == ["a3"]
    d.keys("b3a")
    assert d.records("unseen") == [] and d.said("seen")[-1] == "a3 bark asleep"
    d.keys("⌫")
    assert d.said("unseen") == ["a3"]


def test_leaving_out_a_retreat_afterwards_withdraws_what_was_said_of_the_missing(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("⏎⏎⏎⏎").wait(2).keys("⏎")
    assert len(d.records("unseen")) == 4
    line = next(x for x in d.core.records if x.kind == "checked")
    texts = [one.says for one in corrections(d.core, line)]
    assert texts == ["Take it back", "Looked into, its cover was lifted", "It was not looked into"]
    d.core.correct(line, d.now, corrections(d.core, line)[2].fields)
    assert ("moss_end", "skipped") in checked(d) and d.records("unseen") == []
    d.keys("⌫")
    assert ("moss_end", "looked") in checked(d) and len(d.records("unseen")) == 4


def test_undo_of_a_correction_brings_the_first_record_back(tmp_path: Path) -> None:
    d = drive(tmp_path, STUDY)
    d.keys("cr")
    wrong = d.core.records[0]
    d.core.correct(wrong, d.now, {**wrong.fields, "zone": "fern"})
    assert d.said("seen") == ["a1 fern resting @1"]
    d.keys("⌫")
    assert d.said("seen") == ["a1 moss_end resting @1"]


def test_events_notes_and_pauses_work_in_a_round(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("!2x").keys("1xa").keys(":1:")
    assert d.said("happened") == ["a2 strike", "a1 moss_end strike"]
    assert d.said("seen") == ["a1 moss_end asleep"]


def test_ending_early_keeps_what_was_half_typed(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a⏎2")
    d.core.finish(d.now)
    assert d.said("seen") == ["a1 moss_end asleep", "a2 bark"]
    assert d.session().closed == "left"
    said = " ".join(summary(d.core, Recall(), d.now))
    assert "Not reached: Bark stack, Leaf litter, Drain tube." in said


def test_ending_keeps_a_count_that_does_not_add_up_and_moves_nobody(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a⏎Y7")
    d.core.finish(d.now)
    assert d.said("seen") == ["a1 moss_end asleep", "youngx7 bark"]
    other = round_of(tmp_path / "other")
    other.keys("1a⏎1")
    other.core.finish(other.now)
    assert other.said("seen") == ["a1 moss_end asleep"]


def test_a_find_where_it_was_left_out_opens_that_retreat_again(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("→<1a")
    assert checked(d) == [] and d.ask.startswith("Moss end 1/4")
    d.keys("⏎⏎⏎⏎→")
    assert len(checked(d)) == 4 and d.records("unseen") == [], "skip says nothing of who is missing"


def test_one_without_a_name_can_be_told_apart_afterwards(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("*⏎2a")
    line = d.core.records[0]
    options = {one.says: one.fields for one in corrections(d.core, line)}
    d.core.correct(line, d.now, options["it was Broad stripe"])
    assert d.said("seen") == ["a1 moss_end", "a2 moss_end asleep"]
    line = d.core.records[-1]
    d.core.correct(line, d.now, {one.key: one.fields for one in corrections(d.core, line)}["2"])
    assert "recorded twice" in d.core.notice


def test_a_round_cut_off_goes_on_where_it_was(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1a_⏎").keys("2eY2")
    d.core.ledger.close()
    again = continued(d)
    assert again.ask == "Bark stack 2/4: who? Cover LIFTED.\nhere: 2\nto find: 3 Y:6"
    assert [z.id for z in again.core.plan.retreats] == [z.id for z in d.core.plan.retreats]
    again.keys("Y4a⏎→⏎")
    assert again.said("seen") == ["a1 moss_end asleep", "a2 bark alert", "youngx4 bark asleep"]
    assert checked(again)[1:] == [("bark", "lifted"), ("leaf_litter", "skipped"), ("drain_tube", "lifted")]
    again.keys("⌫⌫⌫⌫⌫⌫⌫")
    assert again.records("seen", "checked") == []
    assert again.session().parts == 2


def test_a_round_is_continued_whatever_method_is_asked_for_now(tmp_path: Path) -> None:
    from zoneuse.recording.modes.opening import go_on, plan_of

    d = round_of(tmp_path)
    d.keys("1a⏎")
    d.core.ledger.close()
    other = make_plan(
        load_declaration(d.core.plan.declared.folder), d.now.at, method="focal", animals=("a2",)
    )
    core = go_on(plan_of(other, d.session()), d.session(), d.now)
    assert core.prompt(d.now).ask.startswith("Bark stack 2/4") and len(core.plan.who) == 4


def test_a_focal_session_is_continued_on_its_own_animal(tmp_path: Path) -> None:
    from zoneuse.recording.modes.opening import plan_of

    d = drive(tmp_path, STUDY, method="focal", animals=("a2",))
    d.keys("c")
    d.core.ledger.close()
    other = make_plan(load_declaration(d.core.plan.declared.folder), d.now.at, method="scan")
    assert [who.id for who in plan_of(other, d.session()).who] == ["a2"]


def test_several_enclosures_one_after_the_other_with_their_own_animals(tmp_path: Path) -> None:
    d = round_of(tmp_path, TWO_TUBS, method="retreat-round")
    assert [z.id for z in d.core.plan.retreats] == ["hide_1", "bark_1", "hide_2", "bark_2"]
    d.keys("1⏎⏎").keys("1")
    assert d.said("seen") == ["a1 hide_1", "a2 hide_2"]
    assert d.ask.startswith("Hide 2 3/4") and "to find: 2" in d.ask
    d.keys("⏎→")
    assert "Not found: 2" in d.ask
    d.wait(2).keys("⏎")
    assert d.said("unseen") == ["b1"], "the other tub was not looked into wholly"


def test_an_enclosure_nobody_lives_in_is_passed_over(tmp_path: Path) -> None:
    text = TWO_TUBS.replace('lives = [{enclosure = "tub_1"}]', 'lives = [{enclosure = "tub_2"}]')
    text = text.replace('label = "Number 1"\nkey = "1"', 'label = "Number 1"\nkey = "3"')
    text = text.replace('label = "Other 1"\nkey = "2"', 'label = "Other 1"\nkey = "4"')
    d = round_of(tmp_path, text, method="retreat-round")
    assert [z.id for z in d.core.plan.retreats] == ["hide_2", "bark_2"]


def test_who_is_known_to_live_there_follows_the_dates(tmp_path: Path) -> None:
    text = ROUND.replace('key = "3"', 'key = "3"\npresent = [{until = 2026-03-01}]')
    d = round_of(tmp_path, text)
    assert "to find: 1 2 Y:6" in d.ask
    d.keys("⏎⏎⏎⏎")
    assert d.ask.startswith("Found 0 of 8")


def test_without_a_retreat_every_zone_is_looked_into_and_gone_ones_are_not(tmp_path: Path) -> None:
    text = STUDY.replace('role = "retreat"\n', "").replace(
        'key = "f"', 'key = "f"\npresent = [{until = 2026-01-01}]'
    )
    d = round_of(tmp_path, text, method="retreat-round")
    assert len(d.core.plan.retreats) == 6
    gone = ROUND.replace('role = "retreat"', 'role = "retreat"\npresent = [{until = 2026-01-01}]')
    with pytest.raises(PlanError, match='role = "retreat"'):
        make_plan(load_declaration(make_study(tmp_path / "gone", gone)), START)


def test_a_whole_round_is_one_check_with_one_row_an_animal(tmp_path: Path) -> None:
    d = round_of(tmp_path)
    d.keys("1aY2aY1e*⏎_⏎").wait(200).keys("2,eY1a⏎").keys("⏎⏎")
    d.core.finish(d.now)
    d.core.ledger.close()
    study = open_study(d.core.plan.declared.folder)
    rows = study.moments
    assert set(rows["method"]) == {"retreat-round"} and set(rows["scan"]) == {1}
    assert set(rows["out"]) == {""} and len(rows) == 7
    # Two of the group of six stand in no record: they were not found.
    missing = rows[rows["record"].isna()]
    assert missing["zone"].isna().all() and missing["count"].tolist() == [2]
    rows = rows[rows["record"].notna()]
    assert rows.loc[rows["group"] == "young", "count"].sum() == 4
    kept = check_rows(study.moments)
    assert len(kept) == 7 and set(kept["session"]) == {d.core.ledger.journal.session}


def test_the_header_names_no_beat(tmp_path: Path) -> None:
    d = round_of(tmp_path, quiet_min=3.0)
    assert not {"every_s", "minutes"} & d.core.ledger.header.keys()
    assert d.core.plan.quiet_s == 0
