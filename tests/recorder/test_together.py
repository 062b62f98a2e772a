"""Two people watch at once, and looks inside an interrupted session: everybody's records count as their own."""

from __future__ import annotations

import dataclasses
import io
import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.recorder.driver import Driver, continued, drive
from tests.recorder.studies import ROUND, make_study
from tests.recorder.test_screens import Clocks, dump, own_state
from zoneuse.answers.study import Study
from zoneuse.journal.reader import read_journals
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.recording.modes.opening import begin, go_on, joined_plan, plan_of
from zoneuse.recording.session.others import going_on, turn_of, watching_too
from zoneuse.recording.session.plan import make_plan
from zoneuse.recording.session.recall import recall
from zoneuse.recording.telling.plain import open_in_lines
from zoneuse.screens.recorder.app import RecorderApp
from zoneuse.screens.recorder.start_rows import Answers, start_rows
from zoneuse.screens.recorder.watch import WatchScreen
from zoneuse.study.toml.file import load_declaration

__all__ = ["own_state"]


def joined(d: Driver, observer: str) -> Driver:
    """A second person at the same study, in the beat of the first."""
    plan = dataclasses.replace(d.core.plan, observer=observer, quiet_s=0.0)
    plan = joined_plan(plan, d.session(), d.now.at)
    return Driver(begin(plan, d.now), d.now)


def test_who_joins_has_a_session_of_their_own_in_the_same_beat(tmp_path: Path) -> None:
    d = drive(tmp_path, minutes=4.0)
    d.keys("crwm-c6⏎").wait(75)
    other = joined(d, "ab")
    assert other.core.plan.quiet_s < 60
    other.wait(other.core.plan.quiet_s + 0.2)
    d.wait(other.now.mono - d.now.mono)
    for both in (d, other):
        both.keys("crwm-c6⏎")
    assert other.session().observer == "ab" and other.session().id != d.session().id
    answers = Study(d.core.plan.declared.folder)
    pairs = answers.observers().table
    assert set(pairs["pair"]) == {"ab + mk"} and (pairs["agreement"] == 1.0).any()
    d.core.finish(d.now)
    other.core.finish(other.now)
    # What both saw counts once.
    zones = Study(d.core.plan.declared.folder).zones()
    assert zones.effort["left_out"].get("second observer", 0) >= 3


def test_following_is_joined_on_the_same_animals_and_compared(tmp_path: Path) -> None:
    d = drive(tmp_path, method="focal", animals=("a1", "a3"), minutes=5.0)
    d.keys("1c1r3w3m").wait(61)
    # Whoever joins asks for nothing: what is watched, and whom, is the other's.
    plan = make_plan(d.core.plan.declared, d.now.at, observer="ab")
    assert going_on(d.session(), d.now.at)
    other = Driver(begin(joined_plan(plan, d.session(), d.now.at), d.now), d.now)
    assert [who.id for who in other.core.plan.who] == ["a1", "a3"] and other.core.plan.method == "focal"
    other.keys("1c1r3w3m")
    d.wait(100).keys("1b")
    other.wait(d.now.mono - other.now.mono).keys("1b").wait(60)
    d.wait(other.now.mono - d.now.mono)
    for both in (d, other):
        both.core.finish(both.now)
    answers = Study(d.core.plan.declared.folder)
    pairs = answers.observers().table
    zones = pairs[pairs["what"] == "zone"]
    assert (
        set(zones["pair"]) == {"ab + mk"}
        and (zones["moments"] >= 4).all()
        and (zones["agreement"] == 1.0).all()
    )
    # What both saw of one animal counts once.
    assert answers.zones().effort["left_out"].get("second observer", 0) >= 3


def test_a_round_is_joined_and_compared(tmp_path: Path) -> None:
    d = drive(tmp_path, ROUND)
    d.keys("1a⏎2e⏎")
    plan = make_plan(d.core.plan.declared, d.now.at, observer="ab", method="scan")
    other = Driver(begin(joined_plan(plan, d.session(), d.now.at), d.now), d.now)
    other.core.tick(other.now)
    assert other.core.plan.method == "retreat-round" and other.core.plan.retreats
    other.wait(2).keys("1a⏎2e⏎")
    for both in (d, other):
        both.wait(2).keys("⏎").wait(2).keys("⏎").wait(2).keys("⏎")
        both.core.finish(both.now)
    answers = Study(d.core.plan.declared.folder)
    pairs = answers.observers().table
    zones = pairs[pairs["what"] == "zone"]
    assert set(zones["pair"]) == {"ab + mk"} and (zones["agreement"] == 1.0).all()


def test_seeing_in_passing_is_joined_and_counts_nowhere(tmp_path: Path) -> None:
    d = drive(tmp_path, method="ad-libitum")
    d.keys("1cr2wm").wait(600)
    # Nothing seen for ten minutes is no sign that nobody watches.
    assert going_on(d.session(), d.now.at)
    plan = make_plan(d.core.plan.declared, d.now.at, observer="ab")
    other = Driver(begin(joined_plan(plan, d.session(), d.now.at), d.now), d.now)
    assert other.core.plan.method == "ad-libitum" and other.core.plan.quiet_s == 0
    other.keys("3bs1wr")
    d.keys("3bs")
    for both in (d, other):
        both.core.finish(both.now)
    assert (d.session().observer, other.session().observer) == ("mk", "ab")
    assert d.session().id != other.session().id
    assert (len(d.records("seen")), len(other.records("seen"))) == (3, 2)
    study = Study(d.core.plan.declared.folder)
    assert len(study.moments) == 5 and set(study.moments["out"]) == {"ad libitum"}
    assert study.observers().table.empty


def test_an_animal_asleep_is_followed_until_its_time_is_up(tmp_path: Path) -> None:
    d = drive(tmp_path, method="focal", animals=("a1",), minutes=30.0)
    d.keys("cr").wait(1200)
    assert going_on(d.session(), d.now.at)
    assert not going_on(d.session(), d.now.at + timedelta(minutes=12))


def test_a_session_gone_on_with_and_finished_is_no_company(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr").wait(20)
    d.core.ledger.close()
    again = continued(d)
    folder = d.core.plan.declared.folder
    assert watching_too(folder, "another", "ab") == ["mk"]
    # Nobody is in company with themselves.
    assert watching_too(folder, "another", "mk") == []
    again.core.finish(again.now)
    assert watching_too(folder, "another", "ab") == []


def test_in_lines_somebody_elses_session_is_joined_and_not_taken_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    d = drive(tmp_path)
    d.keys("cr").wait(20)
    known = recall(d.core.plan.declared, read_journals(d.core.plan.declared.folder), d.now.at)

    class Typed(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("sys.stdin", Typed("y\n"))
    monkeypatch.setattr("zoneuse.recording.telling.plain.read_clocks", lambda: d.now)
    said: list[str] = []
    plan = dataclasses.replace(d.core.plan, observer="ab")
    core = open_in_lines(plan, known, said.append)
    assert "mk is watching now. Join" in said[0]
    core.ledger.close()
    sessions = read_journals(d.core.plan.declared.folder).sessions.values()
    assert sorted((s.observer, s.parts) for s in sessions) == [("ab", 1), ("mk", 1)]


def test_the_first_screen_offers_to_join_and_never_to_take_over_by_enter(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr").wait(20)
    plan = dataclasses.replace(d.core.plan, observer="ab")
    known = recall(plan.declared, read_journals(plan.declared.folder), d.now.at)
    rows = [row.does for row in start_rows(plan, known, Answers(), d.now.at)]
    assert rows[:2] == ["join", "begin"] and "continue" in rows[2:]
    mine = [row.does for row in start_rows(d.core.plan, known, Answers(), d.now.at)]
    assert mine[:2] == ["continue", "begin"] and "join" in mine
    later = d.now.at + timedelta(minutes=20)
    assert not going_on(d.session(), later)
    rows = [row.does for row in start_rows(plan, known, Answers(), later)]
    assert rows[0] == "begin" and "join" not in rows


async def test_joining_on_the_screen_asks_for_a_name_of_ones_own(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr").wait(20)
    clocks = Clocks()
    clocks.now = d.now
    folder = d.core.plan.declared.folder
    app = RecorderApp(
        dataclasses.replace(d.core.plan, quiet_s=0.0),
        lambda: recall(d.core.plan.declared, read_journals(folder), d.now.at),
        clocks=clocks,
    )
    async with app.run_test(size=(40, 20)) as pilot:
        await _ready(pilot)
        assert "Join mk, since 19:00, in your own name" in dump(app)
        await pilot.press("down", "down", "enter")
        await pilot.pause()
        assert "Who joins?" in dump(app)
        await pilot.press(*["backspace"] * 9, *"mk", "enter")
        assert not isinstance(app.screen, WatchScreen)
        await pilot.press(*["backspace"] * 9, *"ab", "enter")
        await pilot.pause()
        assert isinstance(app.screen, WatchScreen), dump(app)
    sessions = read_journals(folder).sessions.values()
    assert sorted(s.observer for s in sessions) == ["ab", "mk"] and all(s.parts == 1 for s in sessions)


async def _ready(pilot: Pilot[str]) -> None:
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


def test_who_else_watches_now_is_known_by_their_files(tmp_path: Path) -> None:
    d = drive(tmp_path)
    other = joined(d, "ab")
    folder = d.core.plan.declared.folder
    assert watching_too(folder, d.core.ledger.journal.session, "mk") == ["ab"]
    other.core.finish(other.now)
    assert watching_too(folder, d.core.ledger.journal.session, "mk") == []


def test_the_beat_of_another_is_told_from_what_they_missed(tmp_path: Path) -> None:
    d = drive(tmp_path, quiet_min=0.4)
    d.wait(100)
    turn = turn_of(d.session(), 60.0)
    left = d.core.mode.beat.left_s(d.now.mono)  # type: ignore[attr-defined]
    assert abs(turn.wait_s(d.now.at) - left) < 0.01


def test_a_look_inside_an_interrupted_session_stays_in_all_shares(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("crwm-c6⏎").wait(61)
    d.core.ledger.close()
    folder, declared = d.core.plan.declared.folder, d.core.plan.declared
    at = d.now.at + timedelta(minutes=20)
    rows = [RecordToWrite("seen", {"animal": a, "zone": "fern", "scan": 1}, at) for a in ("a1", "a2")]
    write_rows(declared, at, rows, method="scan", observer="mk")
    before = Study(folder).zones()
    again = continued(d, away_s=3600)
    again.keys("crwm")
    again.core.finish(again.now)
    after = Study(folder).zones()
    fern = [a.table.set_index("zone").loc["fern", "moments"] for a in (before, after)]
    assert fern == [2, 2]
    assert not after.effort["left_out"], after.effort


def test_plans_keep_their_people(tmp_path: Path) -> None:
    folder = make_study(tmp_path / "study")
    plan = make_plan(load_declaration(folder), Clocks().now.at, method="focal", animals=("a3", "a1"))
    assert [who.id for who in plan.who] == ["a1", "a3"] and plan.header["animals"] == ["a1", "a3"]


def test_two_devices_that_continue_one_session_never_mix(tmp_path: Path) -> None:
    d = drive(tmp_path / "a")
    d.keys("cr")
    d.core.ledger.close()
    here = d.core.plan.declared.folder
    there = tmp_path / "b" / "study"
    shutil.copytree(here, there)
    one = continued(d)
    copied = dataclasses.replace(d.core.plan, declared=load_declaration(there), quiet_s=0.0)
    session = next(iter(read_journals(there).sessions.values()))
    two = Driver(go_on(plan_of(copied, session), session, one.now), one.now)
    two.core.tick(two.now)
    one.keys("wm⌫br")
    two.keys("ls")
    for path in (there / "journal").glob("*.part2*"):
        shutil.copy(path, here / "journal")
    journals = read_journals(here)
    assert not [p for p in journals.problems if not p.hint]
    (both,) = journals.sessions.values()
    seen = [e.record.fields["zone"] for e in both.entries if e.record.kind == "seen"]
    assert sorted(seen) == ["bark", "leaf_litter", "moss_end"]
    assert [e.record.fields["zone"] for e in both.void] == ["water_dish"]
    # Once they know of each other, one of them alone goes on.
    for path in (here / "journal").glob("*.part2*"):
        shutil.copy(path, there / "journal")
    assert [one.core.ledger.continued_elsewhere(), two.core.ledger.continued_elsewhere()].count(True) == 1
