"""The practice enclosure: a script that can be had again, and how well it was recorded."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from textual.containers import VerticalScroll

from tests.recorder.driver import Driver
from tests.recorder.studies import make_study
from tests.recorder.test_real_terminal import Tmux
from tests.recorder.test_screens import Clocks, begin, dump, holds
from zoneuse.recording.modes.opening import begin as begin_session
from zoneuse.recording.modes.scanning import Scanning
from zoneuse.recording.practice.scored import answers, practised
from zoneuse.recording.practice.scored_focal import changes, ticks
from zoneuse.recording.practice.script import SHAPES, STUDY, Practice, Script, make_script
from zoneuse.recording.session.instant import Instant
from zoneuse.recording.session.plan import Plan, make_plan
from zoneuse.recording.session.recall import Recall
from zoneuse.screens.recorder.app import RecorderApp
from zoneuse.study.sketch import Room, SketchFigure, figure_at
from zoneuse.study.toml.file import load_declaration

AGAIN = "zoneuse watch --practice --seed 7"


def practice_plan(tmp_path: Path, **asked: float) -> Plan:
    folder = make_study(tmp_path / "practice", STUDY)
    now = Clocks().now.at
    return make_plan(
        load_declaration(folder), now, **{"quiet_min": 0.0, "every_s": 15.0, "minutes": 5.0, **asked}
    )


def watching(tmp_path: Path, seed: int = 7, **asked: float) -> tuple[Driver, Practice]:
    plan = practice_plan(tmp_path, **asked)
    now = Instant(Clocks().now.at, 1000.0)
    core = begin_session(plan, now)
    core.tick(now)
    return Driver(core, now), Practice(make_script(seed, plan.every_s, 3600), AGAIN)


KEYS = {
    "hide": "h",
    "open": "o",
    "water": "w",
    "bark": "b",
    "litter": "l",
    "resting": "r",
    "alert": "a",
    "moving": "m",
}


def record(d: Driver, script: Script, scans: int, behind_s: float = 0.0, doing: str = "") -> None:
    """Answer each scan by what is (or was, so many seconds ago) to be seen; ``doing`` instead of what it does."""
    for _ in range(scans):
        for animal in SHAPES:
            seen = script.at(animal, d.now.mono + 0.1 - 1000.0 - behind_s)
            d.keys(KEYS[seen.zone] + (doing or KEYS[seen.behaviour]))
        d.wait(d.core.mode.beat.left_s(d.now.mono) + 0.01)  # type: ignore[attr-defined]


def report(d: Driver, practice: Practice) -> str:
    d.core.finish(d.now)
    return "\n".join(practised(d.core, practice))


@given(st.integers(0, 10**6), st.floats(1, 600), st.floats(0, 900))
@settings(max_examples=60, deadline=None)
def test_a_script_is_the_same_again_and_walks_only_where_there_is_a_way(
    seed: int, every_s: float, t: float
) -> None:
    script = make_script(seed, every_s, 600)
    assert script == make_script(seed, every_s, 600)
    for animal, stays in script.stays.items():
        assert stays[0].start == 0 and stays[-1].until >= 600
        for one, following in pairwise(stays):
            assert one.until == following.start
            assert one.zone == following.zone or one.behaviour == "moving"
            assert (one.visit == following.visit) == (one.zone == following.zone)
        stay = script.at(animal, t)
        assert stay.start <= t and (t < stay.until or stay == stays[-1])
        x, _ = stay.place(t)
        assert 0 <= x <= 1
    assert sum(len(rooms) for rooms in script.figures(t).values()) == len(SHAPES)


def test_what_is_drawn_is_what_is_true_and_never_a_records_mark() -> None:
    script = make_script(3, 15, 600)
    for t in np.arange(0, 600, 0.7):
        for zone, figures in script.figures(float(t)).items():
            for figure in figures:
                animal = next(a for a, shape in SHAPES.items() if shape in figure.text)
                stay = script.at(animal, float(t))
                assert stay.zone == zone
                assert ("^" in figure.text) == (stay.behaviour == "alert")
                assert ("»" in figure.text or "«" in figure.text) == (stay.behaviour == "moving")
                assert not set(figure.text) & {"1", "2"}


@settings(deadline=None)
@given(st.integers(3, 40), st.integers(1, 12), st.floats(0, 1), st.integers(0, 1), st.integers(1, 3))
def test_a_figure_stays_inside_its_room(width: int, height: int, x: float, row: int, words: int) -> None:
    room = Room("h", 5, 7, width, height)
    column, line = figure_at(SketchFigure("◆^", x, row), room, words)
    assert room.left <= column and column + 2 <= room.left + room.width
    assert room.top <= line < room.top + room.height


def test_one_who_sees_all_agrees_with_the_truth(tmp_path: Path) -> None:
    d, practice = watching(tmp_path)
    record(d, practice.script, 20)
    said = report(d, practice)
    assert "40 of 40 answers given, 0 missed." in said
    assert "Zone: right 40 of 40 (100 %), kappa 1.00" in said
    assert "Behaviour: right 40 of 40 (100 %), kappa 1.00" in said
    assert "Nothing was confused." in said and AGAIN in said
    assert "0.1 s after the scan began" not in said and "(median)" in said


def test_one_who_calls_all_resting_is_told_what_was_confused(tmp_path: Path) -> None:
    d, practice = watching(tmp_path)
    record(d, practice.script, 20, doing="r")
    made = answers(d.core.mode, practice)  # type: ignore[arg-type]
    assert isinstance(d.core.mode, Scanning)
    alert = sum(one.true.behaviour == "alert" for one in made)
    resting = sum(one.true.behaviour == "resting" for one in made)
    said = report(d, practice)
    assert f"Behaviour: right {resting} of 40" in said and "kappa 0.00" in said
    assert f"Alert recorded as resting {alert} times" in said
    assert alert >= 10 and f"  Alert: 0 of {alert}, kappa" in said


def test_answers_that_come_too_late_are_told_from_wrong_ones(tmp_path: Path) -> None:
    d, practice = watching(tmp_path)
    record(d, practice.script, 20, behind_s=2.0)
    made = answers(d.core.mode, practice)  # type: ignore[arg-type]
    slips = [o for o in made if (o.zone, o.behaviour) != (o.true.zone, o.true.behaviour)]
    assert slips, "a script in which nothing changes within 2 s shows nothing"
    assert f"{len(slips)} of {len(slips)} mistakes had been true 2 s before" in report(d, practice)


def test_missed_late_and_not_found_are_told(tmp_path: Path) -> None:
    d, practice = watching(tmp_path, minutes=1.0)
    d.keys("-").wait(16).keys("<" + "hr").wait(60)
    said = report(d, practice)
    assert "2 of 8 answers given, 6 missed." in said
    assert "recorded as not found 1 time" in said
    assert "1 of them after the next scan had begun." in said
    assert "Missed: Diamond in scan 2" in said


def test_a_pause_does_not_make_answers_late(tmp_path: Path) -> None:
    d, practice = watching(tmp_path)
    d.wait(2).keys("hrhr:").wait(300).keys(":").wait(14).keys("hrhr")
    made = answers(d.core.mode, practice)  # type: ignore[arg-type]
    assert [round(one.after_s, 1) for one in made] == [
        2.1,
        2.3,
        1.6,
        1.8,
    ]  # the pause began 2.5 s into scan 1, so scan 2 began 12.5 s after it


def test_without_an_answer_there_is_nothing_to_compare(tmp_path: Path) -> None:
    d, practice = watching(tmp_path)
    assert report(d, practice).splitlines()[0] == "0 of 0 answers given, 0 missed."


def following(tmp_path: Path) -> tuple[Driver, Practice]:
    folder = make_study(tmp_path / "practice", STUDY)
    now = Instant(Clocks().now.at, 1000.0)
    plan = make_plan(
        load_declaration(folder),
        now.at,
        method="focal",
        animals=("ring",),
        quiet_min=0.0,
        every_s=5.0,
        minutes=4.0,
    )
    core = begin_session(plan, now)
    core.tick(now)
    return Driver(core, now), Practice(make_script(7, 10, 3600), AGAIN)


def follow(d: Driver, script: Script, seconds: float, behind_s: float) -> None:
    """Record each change so long after it."""
    stays = [s for s in script.stays["ring"] if s.start < seconds]
    for stay in stays:
        due = 1000.0 + max(stay.start + behind_s, 0.1) - 0.1
        d.wait(max(0.0, due - d.now.mono))
        zone = d.core.marks_by_zone().get(stay.zone)
        d.keys(("" if zone else KEYS[stay.zone]) + KEYS[stay.behaviour])
    d.wait(1000.0 + seconds - d.now.mono)


def test_following_is_compared_at_each_tick_and_change_by_change(tmp_path: Path) -> None:
    d, practice = following(tmp_path)
    follow(d, practice.script, 200, 1.0)
    said = report(d, practice)
    assert "one every 5 s from the first record" in said
    delays, not_recorded = changes(d.core.mode, practice)  # type: ignore[arg-type]
    assert not_recorded <= 1 and len(delays) > 15
    # The last key of each change comes 1.0 or 1.1 s after it.
    assert all(0.99 < seconds < 1.11 for seconds in delays)
    made = ticks(d.core.mode, practice)  # type: ignore[arg-type]
    right = sum(one.zone == one.true.zone for one in made)
    assert 35 <= len(made) <= 40 and right / len(made) > 0.9
    assert f"Zone: right {right} of {len(made)}" in said


def test_following_without_a_record_compares_nothing(tmp_path: Path) -> None:
    d, practice = following(tmp_path)
    d.wait(20)
    assert report(d, practice).startswith("0 moments compared")


@pytest.mark.parametrize("size", [(80, 24), (40, 20)])
async def test_the_screens_of_a_practice(
    tmp_path: Path, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    plan, clocks = practice_plan(tmp_path, minutes=0.5), Clocks()
    practice = Practice(make_script(7, 15.0, 600), AGAIN)
    app = RecorderApp(plan, Recall, clocks=clocks, practice=practice)
    name = f"{size[0]}x{size[1]}"
    async with app.run_test(size=size) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "none of this touches a" in dump(app)
        await begin(pilot)
        await pilot.press("h", "r")
        clocks.wait(3)
        app.screen._tick()  # type: ignore[attr-defined]
        await pilot.pause()
        shown = dump(app)
        holds(f"practice-{name}", shown)
        assert shown.startswith("PRACTICE") and "◆" in shown and "○" in shown
        await pilot.press("l", "a", "full_stop")
        clocks.wait(1)
        await pilot.press("full_stop")
        await pilot.pause()
        assert "The practice is finished." in dump(app) and "Zone: right" in dump(app)
        app.screen.query_one(VerticalScroll).scroll_end(animate=False)
        await pilot.press("pagedown", "end")
        await pilot.pause(0.3)
        assert "Enter leaves." in dump(app)
        await pilot.press("enter")
    assert app.return_value is not None and "Nothing from this practice is kept." in app.return_value


async def test_leaving_a_practice_promises_no_continuation(tmp_path: Path) -> None:
    app = RecorderApp(
        practice_plan(tmp_path), Recall, clocks=Clocks(), practice=Practice(make_script(1, 15, 60), "")
    )
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("ctrl+c")
    assert app.return_value == "The practice was left; none of it is kept."


@pytest.mark.parametrize("ending", ["finish", "hang-up"])
def test_nothing_of_a_practice_is_left_behind(tmp_path: Path, ending: str) -> None:
    if shutil.which("tmux") is None:
        pytest.skip("tmux is not installed")
    here, temporary = tmp_path / "here", tmp_path / "temporary"
    here.mkdir()
    temporary.mkdir()
    words = "watch --practice --seed 7 --every 15 --minutes 1 --quiet 0"
    terminal = Tmux(
        tmp_path / "tmux", (80, 24),
        f"cd {here}; TMPDIR={temporary} XDG_STATE_HOME={tmp_path / 'state'} {sys.executable} -m zoneuse {words}; "
        "sleep 60",
    )  # fmt: skip
    try:
        terminal.until("Begin")
        terminal.keys("Enter")
        terminal.until("Diamond: where?")
        assert list(temporary.glob("zoneuse-practice-*"))
        terminal.keys("b", "r", "l", "a")
        terminal.until("2 saved")
        if ending == "finish":
            terminal.keys(".")
            time.sleep(0.7)
            terminal.keys(".")
            terminal.until("The practice is finished")
            terminal.keys("Enter")
            terminal.until("To repeat it: zoneuse watch --practice --seed 7")
        else:
            terminal.run("kill-window")
        for _ in range(100):
            if not list(temporary.iterdir()):
                break
            time.sleep(0.05)
    finally:
        terminal.close()
    assert list(temporary.iterdir()) == [] and list(here.iterdir()) == []
    assert not (tmp_path / "state").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--practice"], "watch needs a terminal"),
        (["--practice", "--enclosure", "x"], "a practice has one made-up"),
        (["--practice", "--method", "ad-libitum"], "a practice has one made-up"),
        (["--plain", "--seed", "3"], "--seed belongs to --practice"),
    ],
)
def test_what_a_practice_is_not(tmp_path: Path, words: list[str], told: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "zoneuse", "watch", *words], cwd=tmp_path, stdin=subprocess.DEVNULL,
        capture_output=True, text=True, timeout=30, check=False, env={**os.environ, "COLUMNS": "200"},
    )  # fmt: skip
    assert done.returncode == 2 and told in done.stderr


def test_a_practice_opens_without_a_heavy_library() -> None:
    code = (
        "import sys, zoneuse.cli.records.practising, zoneuse.screens.recorder.app, zoneuse.screens.recorder.watch\n"
        "import zoneuse.recording.practice.before\n"
        "print([m for m in ('numpy', 'pandas', 'scipy', 'pyarrow') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
