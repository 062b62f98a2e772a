"""A zone that turns up in mid-session: in study.toml, in a new part of the session, and named until it is measured."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from tests.recorder.driver import START, continued, drive
from tests.recorder.studies import STUDY, TWO_TUBS
from zoneuse.answers.study import Study
from zoneuse.journal.reader import read_journals
from zoneuse.recording.modes.added_zone import Added, free_zone_key, put_into_session, read_key
from zoneuse.recording.session.recall import Recall
from zoneuse.recording.telling.plain import PlainSession
from zoneuse.study.toml.file import read_declaration
from zoneuse.tables.watched import moments_of


def test_it_is_written_with_the_keepers_comments_and_recorded_from_now_on(tmp_path: Path) -> None:
    d = drive(tmp_path, "# mine\n" + STUDY.replace('key = "f"', 'key = "f"  # the fern'))
    d.keys("cr").wait(5)
    assert put_into_session(d.core, Added("Under the new bark", "u"), d.now)
    d.keys("um")
    text = (d.core.plan.declared.folder / "study.toml").read_text()
    assert text.startswith("# mine\n") and 'key = "f"  # the fern' in text
    declared, problems = read_declaration(d.core.plan.declared.folder)
    assert declared is not None and "no-amount" in {p.code for p in problems}
    zone = declared.zones["under_the_new_bark"]
    assert (zone.label, zone.key, zone.amount) == ("Under the new bark", "u", ())
    assert zone.present[0].span.start == (START + timedelta(seconds=5)).replace(microsecond=0)
    assert d.said("seen") == ["a1 moss_end resting @1", "a2 under_the_new_bark moving @1"]
    opened = [e.record for e in d.session().entries if e.record.kind == "opened"]
    assert [("under_the_new_bark" in r.fields["zones"], r.fields["part"]) for r in opened] == [
        (False, 1), (True, 2),
    ]  # fmt: skip


def test_answers_name_it_as_left_out_until_it_is_measured(tmp_path: Path) -> None:
    d = drive(tmp_path)
    put_into_session(d.core, Added("New bark", "u"), d.now)
    d.keys("urcrcrc6⏎")
    d.core.finish(d.now)
    folder = d.core.plan.declared.folder
    said = [c.says for c in Study(folder).zones().cautions if c.code == "left-out"]
    assert said and "1 record of 1 session is left out: no amount given yet: zone new_bark (1)" in said[0]
    assert Study(folder).zones().effort["moments"] == 8
    text = (
        (folder / "study.toml").read_text().replace('label = "New bark"', 'label = "New bark"\namount = 200')
    )
    (folder / "study.toml").write_text(text)
    found = Study(folder).zones()
    assert not [c for c in found.cautions if c.code == "left-out"] and found.effort["moments"] == 9
    assert found.table.set_index("zone").loc["new_bark", "used"] > 0


def test_undo_pause_and_a_cut_go_on_over_the_parts(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("crwm:")
    put_into_session(d.core, Added("New bark", "u"), d.now)
    d.keys(":").keys("⌫")
    assert d.said("seen") == ["a1 moss_end resting @1"]
    d.core.ledger.close()
    again = continued(d)
    again.keys("u")
    assert again.ask == "Broad stripe in New bark: doing?"
    assert again.session().parts == 3


def test_a_focal_session_loses_no_moment_at_the_seam(tmp_path: Path) -> None:
    d = drive(tmp_path, method="focal", animals=("a1",), every_s=1.0)
    d.keys("cr").wait(10)
    put_into_session(d.core, Added("New bark", "u"), d.now)
    d.wait(10).keys("u").wait(5).keys("c")
    moments = list(moments_of(d.session()))
    assert [m.zone for m in moments].count("moss_end") >= 19
    assert [m.zone for m in moments].count("new_bark") >= 4
    gaps = [b.at - a.at for a, b in pairwise(moments)]
    assert max(gaps) < timedelta(seconds=2)


def test_a_key_that_is_taken_is_refused_and_another_proposed(tmp_path: Path) -> None:
    d = drive(tmp_path)
    with pytest.raises(ValueError, match="c is the key of Moss end; n is free"):
        read_key(d.core, "New bark", "c")
    with pytest.raises(ValueError, match="a key is a letter"):
        read_key(d.core, "New bark", "?")
    with pytest.raises(ValueError, match="animal's key"):
        read_key(d.core, "New bark", "Y")
    assert free_zone_key(d.core, "New bark") == "n"


def test_several_enclosures_get_it_where_one_is_looking(tmp_path: Path) -> None:
    d = drive(tmp_path, TWO_TUBS)
    assert put_into_session(d.core, Added("New bark", "n"), d.now)
    declared, _ = read_declaration(d.core.plan.declared.folder)
    assert declared is not None and declared.zones["new_bark"].enclosure == "tub_1"


def test_a_study_that_became_unsound_meanwhile_is_left_alone(tmp_path: Path) -> None:
    d = drive(tmp_path)
    path = d.core.plan.declared.folder / "study.toml"
    path.write_text(path.read_text().replace('key = "w"', 'key = "c"'))
    before = path.read_bytes()
    assert not put_into_session(d.core, Added("New bark", "u"), d.now)
    assert path.read_bytes() == before and "not changed" in d.core.notice
    assert d.session().parts == 1


def test_by_a_line(tmp_path: Path) -> None:
    d = drive(tmp_path)
    said: list[str] = []
    session = PlainSession(d.core, Recall(), said.append)
    session.answer("zone u under the new bark", d.now)
    session.answer("u r", d.now.shifted(1))
    assert d.said("seen") == ["a1 under_the_new_bark resting @1"]
    assert len(read_journals(d.core.plan.declared.folder).sessions) == 1
