"""No key does what was not meant: keys that come in bundles, bounce, or arrive torn; both sizes, every box."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from textual import events
from textual.pilot import Pilot

from tests.recorder.driver import continued, drive
from tests.recorder.studies import ROUND, STUDY
from tests.recorder.test_screens import SIZES, begin, dump, make_app, own_state, records
from zoneuse.answers.study import Study
from zoneuse.journal.reader import read_journals
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.recording.session.actions import ACTIONS
from zoneuse.recording.session.recall import Recall, recall
from zoneuse.recording.telling.summary import summary
from zoneuse.screens.recorder.boxes import Box
from zoneuse.screens.recorder.summary import SummaryScreen
from zoneuse.screens.recorder.watch import WatchScreen

__all__ = ["own_state"]
SIGNS = {
    "?": "question_mark", "⏎": "enter", "␛": "escape", " ": "space", '"': "quotation_mark", "#": "number_sign",
    "%": "percent_sign", ".": "full_stop", "/": "slash", "[": "left_square_bracket", "=": "equals_sign",
}  # fmt: skip


async def bundle(pilot: Pilot[str], text: str, late: float = 0.0) -> None:
    """Keys that arrive at once, as from a link that lags."""
    for sign in text:
        event = events.Key(SIGNS.get(sign, sign), sign if sign.isprintable() and sign not in "⏎␛⌫" else None)
        event.time -= late
        pilot.app.post_message(event)
    await pilot.pause()


@pytest.mark.parametrize("opens", ["?", '"', "#", "%", "/"])
@pytest.mark.parametrize("closes", ["␛␛", "␛␛␛", "⏎⏎", "⏎⏎⏎", "??", "qq", "  "])
async def test_any_box_can_be_closed_twice_or_thrice(tmp_path: Path, opens: str, closes: str) -> None:
    app, clocks = make_app(tmp_path)
    async with app.run_test(size=(40, 20)) as pilot:
        await begin(pilot)
        clocks.wait(2)
        await bundle(pilot, "crw" + opens + closes)
        await bundle(pilot, "␛")
        await pilot.press("escape", "escape")
        assert app.is_running and isinstance(app.screen, WatchScreen), dump(app)
        # What was half typed is still half typed: nothing completed it, nothing dropped it.
        assert records(app, "seen") == ["a1 moss_end resting @1"]
        await pilot.press("m")
    assert records(app, "seen")[:2] == ["a1 moss_end resting @1", "a2 water_dish moving @1"]


async def test_keys_behind_the_one_that_opens_a_box_belong_to_the_box(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await bundle(pilot, '"crumbs 12 cm⏎cr')
    assert records(app, "seen") == ["a1 moss_end resting @1"]
    noted = next(e for e in read_journals(app.plan.declared.folder).entries("noted"))
    assert noted.record.fields["text"] == "crumbs 12 cm"


async def test_a_key_that_bounces_finishes_nothing(tmp_path: Path) -> None:
    app, clocks = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await bundle(pilot, "...")
        assert isinstance(app.screen, WatchScreen) and "again ends it" in dump(app)
        clocks.wait(1)
        await bundle(pilot, "...")
        assert isinstance(app.screen, SummaryScreen)


@pytest.mark.parametrize("key", ["f1", "f2", "f3", "f9", "f12"])
async def test_what_reaches_a_box_that_is_gone_does_no_harm(tmp_path: Path, key: str) -> None:
    """A new size that was on its way when the box was closed: its widgets are gone, and it is still told."""
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("c", "r", key)
        await pilot.pause()
        box, watch = app.screen, app.screen_stack[-2]
        assert isinstance(box, Box)
        await pilot.press("escape")
        await pilot.pause()
        assert app.screen is watch and not box.query("#text, #lines")
        box.draw()
        box.take_key(events.Key("down", None))


async def test_a_tick_that_reaches_the_watch_after_its_end_does_no_harm(tmp_path: Path) -> None:
    app, clocks = make_app(tmp_path, minutes=1.0)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        watch = app.screen
        assert isinstance(watch, WatchScreen)
        clocks.wait(70)
        await bundle(pilot, ".")
        clocks.wait(1)
        await bundle(pilot, ".")
        assert isinstance(app.screen, SummaryScreen) and not watch.query("#ask")
        watch._shown.clear()
        watch.show()


async def test_begin_and_leave_pressed_thrice(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path, ROUND)
    async with app.run_test(size=(80, 24)) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause()
        await bundle(pilot, "⏎⏎⏎")
        assert isinstance(app.screen, WatchScreen) and records(app, "checked") == []
        for _ in range(3):
            app.post_message(events.Key("ctrl+c", None))
        await bundle(pilot, "c1a")
    assert records(app, "seen") == [] and len(read_journals(app.plan.declared.folder).sessions) == 1


@pytest.mark.parametrize("torn", ["␛[C", "␛[17~", "␛OP", "␛[1;5C"])
async def test_the_pieces_of_a_torn_sequence_are_no_keys(tmp_path: Path, torn: str) -> None:
    text = STUDY.replace('key = "3"', 'key = "C"').replace('key = "Y"', 'key = "P"')
    app, _ = make_app(tmp_path, text)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await bundle(pilot, torn)
        assert "Broad stripe: where?" in dump(app)
        await bundle(pilot, "cr")
    assert records(app, "seen") == ["a1 moss_end resting @1"]


async def test_pasted_text_records_nothing(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        app.post_message(events.Paste("cr" * 5000))
        await pilot.pause()
        assert "Pasted text is ignored" in dump(app)
        await pilot.press("f2")
        app.post_message(events.Paste("a\nb" * 5000))
        await pilot.press("enter")
        await pilot.pause()
    assert records(app, "seen") == [] and len(records(app, "noted")) == 1


async def test_a_touch_that_closes_a_page_touches_nothing_beneath(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("f1")
        await pilot.pause()
        await pilot.click(offset=(5, 6), times=2)
        await pilot.pause()
        assert isinstance(app.screen, WatchScreen) and "Broad stripe: where?" in dump(app)


async def test_in_the_list_of_corrections_its_keys_go_to_a_line(tmp_path: Path) -> None:
    app, clocks = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await bundle(pilot, "cr#⏎⏎⏎")
        clocks.wait(1)
        await bundle(pilot, "⏎")
        assert "Go to a line first" in dump(app) and records(app, "seen") == ["a1 moss_end resting @1"]
        clocks.wait(1)
        await bundle(pilot, "m⏎")
    assert records(app, "seen") == ["a1 moss_end moving @1"]


def test_as_before_goes_by_the_order_of_scans(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("crwm-c6⏎").wait(60).keys("").wait(60).keys("br")
    d.keys("<lr>").wait(60)
    assert "a1 leaf_litter resting @2" in d.said("seen")
    assert d.core.marks_by_zone()["bark"] == ["1"]
    assert d.core.prompt(d.now).before == "Bark stack, resting"
    d.keys("=")
    assert d.said("seen")[-1] == "a1 bark resting @4"
    d.keys("<")
    assert d.ask.startswith("Scan 3, late: Two dots") and d.core.prompt(d.now).before == "Water dish, walking"
    d.keys("=")
    assert d.said("seen")[-1] == "a2 water_dish moving @3"


def test_what_it_does_may_come_before_where_it_is(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("r")
    assert d.ask == "Broad stripe, resting: where?"
    d.wait(2).keys("c")
    assert d.said("seen") == ["a1 moss_end resting @1"]


def test_a_session_cut_and_continued_is_one_session(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    d.core.ledger.close()
    again = continued(d)
    again.keys("cr")
    folder = d.core.plan.declared.folder
    known = recall(d.core.plan.declared, read_journals(folder), again.now.at)
    again.core.finish(again.now)
    assert any("it is session 1 " in text for text in summary(again.core, known, again.now))


def test_the_summary_and_zones_count_the_same_missed_answers(tmp_path: Path) -> None:
    d = drive(tmp_path, minutes=2.0)
    d.keys("cr").wait(60).keys("<wm>crwm-").wait(61)
    d.core.finish(d.now)
    said = summary(d.core, Recall(), d.now)
    assert "3 answers missed; looked for and not found: 1." in said
    assert Study(d.core.plan.declared.folder).zones().effort["missed"] == 3


def test_a_period_counts_from_when_it_began(tmp_path: Path) -> None:
    from zoneuse.screens.recorder.start_rows import Answers, start_rows

    d = drive(tmp_path)
    plan, now = d.core.plan, d.now.at
    yesterday = (now - timedelta(days=1)).isoformat()
    row = RecordToWrite("context", {"what": "shedding", "animal": "a1", "from": yesterday}, now)
    write_rows(plan.declared, now, [row], observer="mk")
    known = recall(plan.declared, read_journals(plan.declared.folder), now)
    said = [r.says for r in start_rows(plan, known, Answers(), now)]
    assert "Shedding: Broad stripe since 1 d  (Enter: over)" in said


def test_every_action_has_a_key_without_shift(tmp_path: Path) -> None:
    # On all three layouts: keys that send a name, and the two signs that need Shift on none.
    free = {"space", "enter", "tab", "backspace", "minus", "comma", "up", "down", "left", "right", "insert", "end",
            "pageup", "pagedown", *(f"f{n}" for n in range(1, 13)), "ctrl+c", "ctrl+p"}  # fmt: skip
    for action in ACTIONS:
        assert free & set(action.keys), action.name
        assert action.letter.isalpha() and action.letter.islower()
    assert len({a.letter for a in ACTIONS}) == len(ACTIONS)
    keys = [key for a in ACTIONS for key in a.keys]
    assert len(set(keys)) == len(keys) and not any(len(key) == 1 for key in keys)


@pytest.mark.parametrize("size", SIZES)
async def test_the_first_line_never_cuts_a_value_or_a_warning(tmp_path: Path, size: tuple[int, int]) -> None:
    long = STUDY.replace('label = "Moss end"', 'label = "Moss end behind the big root"') + (
        "[limits.open_ground]\ntemperature_c = {high = 15}\n"
    )
    app, _ = make_app(tmp_path, long)
    async with app.run_test(size=size) as pilot:
        await begin(pilot)
        await pilot.pause()
        shown = " ".join(dump(app).split())
        assert "Moss end behind the big root 71%, below 75% (4 min ago)" in shown
        if size[0] > 40:
            assert "Open ground 16.8°C, above 15.0°C (12 min ago)" in shown
        else:
            assert "and 1 more: F5" in shown


def test_following_several_each_has_a_state_of_its_own(tmp_path: Path) -> None:
    d = drive(tmp_path, method="focal", animals=("a1", "a2"), every_s=1.0)
    d.keys("c")
    assert d.records("seen") == [] and "whose?" in d.core.notice
    d.keys("1cr2w").wait(3)
    lines = d.ask.splitlines()
    assert lines[0].split() == ["1", "Moss", "end,", "resting", "3", "s"] and lines[1].startswith(
        "▸2 Water dish"
    )
    d.wait(4).keys("m")
    assert "whose?" in d.core.notice
    d.keys("2m").wait(5)
    assert d.said("seen") == [
        "a1 moss_end", "a1 moss_end resting", "a2 water_dish", "a2 water_dish moving",
    ]  # fmt: skip
    d.core.ledger.close()
    again = continued(d)
    assert [w.id for w in again.core.plan.who] == ["a1", "a2"]
    assert again.core.marks_by_zone() == {"moss_end": ["1"], "water_dish": ["2"]}


def test_what_another_window_took_up_is_written_no_more_here(tmp_path: Path) -> None:
    d = drive(tmp_path)
    d.keys("cr")
    again = continued(d)
    before = len(d.core.ledger.lines)
    d.keys("wm-⌫:").wait(130)
    d.core.note("too late", d.now)
    d.core.finish(d.now)
    assert len(d.core.ledger.lines) == before and "continued elsewhere" in d.core.notice
    again.keys("br")
    assert again.said("seen") == ["a1 moss_end resting @1", "a1 bark resting @2"]
    assert {e.part for e in again.session().entries} == {1, 2}


def test_a_session_of_yesterday_is_not_continued(tmp_path: Path) -> None:
    from zoneuse.recording.session.plan import PlanError

    d = drive(tmp_path)
    d.keys("cr")
    d.core.ledger.close()
    with pytest.raises(PlanError, match="13 h old"):
        continued(d, away_s=13 * 3600)
    known = recall(
        d.core.plan.declared, read_journals(d.core.plan.declared.folder), d.now.shifted(13 * 3600).at
    )
    assert known.unfinished == () and Recall().unfinished == ()


def test_two_answers_of_a_group_in_one_bundle_of_keys_count_once(tmp_path: Path) -> None:
    """A storm found it: they shared their time, so that six animals were counted as twelve."""
    driver = drive(tmp_path)
    still = driver.now
    for _ in range(2):
        for key in ("Y", "c", "2", "w", "4"):
            driver.core.press(key, still)
        driver.core.act("accept", still)
    driver.keys("1cr⌫")
    session = driver.session()
    counts = [e.record for e in session.entries if e.record.get("group")]
    assert len(counts) == 4 and len({r.at for r in counts[:2]}) == len({r.at for r in counts[2:]}) == 1
    assert counts[0].at < counts[2].at
    driver.wait(61).keys("Y=")
    moments = Study(driver.core.plan.declared.folder).moments
    groups = moments[moments["group"].notna()]
    assert groups.groupby("scan")["count"].sum().tolist() == [6, 6]


@pytest.mark.parametrize(("typed", "key"), [("⏎", "u"), ("u⏎", "u"), ("v⏎", "v"), ("⌫v⏎", "v")])
async def test_a_key_that_is_proposed_gives_way_to_the_one_that_is_typed(
    tmp_path: Path, typed: str, key: str
) -> None:
    app, clocks = make_app(tmp_path)
    async with app.run_test(size=(40, 20)) as pilot:
        await begin(pilot)
        await pilot.press("f12")
        await bundle(pilot, "under the new bark⏎")
        clocks.wait(2)
        for sign in typed:
            await pilot.press({"⏎": "enter", "⌫": "backspace"}.get(sign, sign))
        await pilot.pause()
        assert app.core is not None
        added = app.core.plan.declared.zones["under_the_new_bark"]
        assert added.key == key
