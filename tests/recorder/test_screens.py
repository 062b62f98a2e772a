"""The recorder's screens, driven by keys and touches, held as plain text at both sizes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.pilot import Pilot
from textual.widgets import OptionList

from tests.recorder.driver import line
from tests.recorder.studies import HABITS, HEAD, LIVING, ROUND, STUDY, ZONES, add_newest, make_study
from zoneuse.journal.reader import read_journals
from zoneuse.recording.session.instant import Instant
from zoneuse.recording.session.past import read_past
from zoneuse.recording.session.plan import make_plan
from zoneuse.screens.recorder.app import RecorderApp
from zoneuse.screens.recorder.watch import WatchScreen
from zoneuse.study.toml.file import load_declaration

DUMPS = Path(__file__).parent / "dumps"
SIZES = [(80, 24), (40, 20)]


class Clocks:
    """Both clocks, moved by hand, so that every picture is the same on every machine."""

    def __init__(self) -> None:
        self.now = Instant(datetime(2026, 3, 4, 20, 0, 0, 500_000, tzinfo=UTC), 1000.0)

    def __call__(self) -> Instant:
        return self.now

    def wait(self, seconds: float) -> None:
        self.now = self.now.shifted(seconds)


@pytest.fixture(autouse=True)
def own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


def make_app(tmp_path: Path, text: str = STUDY, **asked: Any) -> tuple[RecorderApp, Clocks]:
    folder = make_study(tmp_path / "study", text)
    clocks = Clocks()
    add_newest(folder, clocks.now.at)
    declared = load_declaration(folder)
    plan = make_plan(declared, clocks.now.at, **{"quiet_min": 0.0, **asked})
    return RecorderApp(plan, lambda: read_past(declared, folder), clocks=clocks), clocks


def dump(app: RecorderApp) -> str:
    """What is on the screen, as plain lines."""
    width, height = app.size
    rows = app.screen._compositor.render_strips(app.size)
    lines = ["".join(segment.text for segment in row).ljust(width)[:width].rstrip() for row in rows[:height]]
    return "\n".join(lines).rstrip() + "\n"


def holds(name: str, shown: str) -> None:
    """Compare with the picture kept; a missing one is written, to be looked at and committed."""
    path = DUMPS / f"{name}.txt"
    if not path.exists():
        path.parent.mkdir(exist_ok=True)
        path.write_text(shown, "utf-8")
        pytest.fail(f"{path.name} was not there; it is now: look at it and keep it")
    assert shown == path.read_text("utf-8")


async def begin(pilot: Pilot[str]) -> None:
    app = pilot.app
    await app.workers.wait_for_complete()
    await pilot.pause()
    await pilot.press("enter")
    await pilot.pause()
    assert isinstance(app.screen, WatchScreen), dump(app)  # type: ignore[arg-type]


def records(app: RecorderApp, *kinds: str) -> list[str]:
    sessions = read_journals(app.plan.declared.folder).sessions.values()
    return [line(dict(e.record.fields)) for s in sessions for e in s.entries if e.record.kind in kinds]


@pytest.mark.parametrize("size", SIZES)
async def test_a_session_from_start_to_summary(tmp_path: Path, size: tuple[int, int]) -> None:
    app, clocks = make_app(tmp_path, minutes=2.0)
    name = f"{size[0]}x{size[1]}"
    async with app.run_test(size=size) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause()
        holds(f"start-{name}", dump(app))
        await begin(pilot)
        await pilot.press("c", "r", "b")
        await pilot.pause()
        holds(f"doing-{name}", dump(app))
        await pilot.press("m", "minus", *"c3w2", "enter")
        await pilot.pause()
        holds(f"counts-{name}", dump(app))
        await pilot.press("minus", "enter")
        clocks.wait(61)
        app.screen._tick()  # type: ignore[attr-defined]
        await pilot.press("plus", "!", "2", "x")
        await pilot.pause()
        holds(f"complete-{name}", dump(app))
        await pilot.press("full_stop")
        await pilot.pause()
        holds(f"summary-{name}", dump(app))
        await pilot.press("enter")
    assert records(app, "seen", "happened", "closed")[:4] == [
        "a1 moss_end resting @1", "a2 bark moving @1", "youngx3 moss_end @1", "youngx2 water_dish @1",
    ]  # fmt: skip
    assert records(app, "happened") == ["a2 strike"]
    assert next(iter(read_journals(app.plan.declared.folder).sessions.values())).closed == "finished"


async def test_without_readings_or_with_nonsense_it_works_the_same(tmp_path: Path) -> None:
    for number, text in enumerate(
        ("", "{", "[]", '{"moss_end": 3}', '{"moss_end": {"humidity_pct": {"value": "x"}}}')
    ):
        app, _ = make_app(tmp_path / str(number))
        (app.plan.declared.folder / "readings" / "newest.json").write_text(text)
        async with app.run_test(size=(40, 20)) as pilot:
            await begin(pilot)
            await pilot.press("c", "r")
            await pilot.pause()
            assert dump(app).startswith("scan 1 of 10")
        assert records(app, "seen") == ["a1 moss_end resting @1"]


async def test_what_is_heard_meanwhile_is_live_within_seconds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from zoneuse.screens.recorder import watch

    assert watch._READINGS_S <= 5
    monkeypatch.setattr(watch, "_READINGS_S", 0.1)
    app, clocks = make_app(tmp_path)
    place = app.plan.declared.folder / "readings" / "newest.json"
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        at = clocks.now.at.isoformat()
        heard = {"moss_end": {"temperature_c": {"value": 33.3, "at": at, "logger": "L1"}}}
        place.write_text(json.dumps({"format": 1, "zones": heard}), "utf-8")
        for _ in range(50):
            await pilot.pause(0.1)
            app.screen._tick()  # type: ignore[attr-defined]
            if "33.3" in dump(app):
                break
        assert "33.3" in dump(app)


@pytest.mark.parametrize("size", SIZES)
async def test_following_one_animal(tmp_path: Path, size: tuple[int, int]) -> None:
    app, clocks = make_app(tmp_path, method="focal", animals=("a1",))
    async with app.run_test(size=size) as pilot:
        await begin(pilot)
        await pilot.press("c", "r", "x")
        clocks.wait(75)
        app.screen._tick()  # type: ignore[attr-defined]
        await pilot.pause()
        holds(f"focal-{size[0]}x{size[1]}", dump(app))
    assert records(app, "seen", "happened") == ["a1 moss_end", "a1 moss_end resting", "a1 strike"]


@pytest.mark.parametrize("size", SIZES)
async def test_a_round_of_the_retreats(tmp_path: Path, size: tuple[int, int]) -> None:
    app, clocks = make_app(tmp_path, ROUND)
    name = f"{size[0]}x{size[1]}"
    async with app.run_test(size=size) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "look into 4 retreats" in dump(app)
        await begin(pilot)
        await pilot.press("1", "a", "comma", "2", "enter", "Y", "4", "a", "underscore", "enter", "tab")
        await pilot.pause()
        holds(f"round-{name}", dump(app))
        await pilot.press("less_than_sign", "minus")
        clocks.wait(60)
        await pilot.press("enter")
        clocks.wait(60)
        await pilot.press("enter")
        await pilot.pause()
        holds(f"round-over-{name}", dump(app))
        clocks.wait(5)
        await pilot.press("enter", "full_stop")
        await pilot.pause()
        holds(f"round-summary-{name}", dump(app))
        await pilot.press("enter")
    assert records(app, "seen", "unseen") == [
        "a1 moss_end asleep", "a2 moss_end ?", "youngx4 moss_end asleep", "a3", "youngx2",
    ]  # fmt: skip


@pytest.mark.parametrize("size", SIZES)
async def test_a_round_by_touch_alone(tmp_path: Path, size: tuple[int, int]) -> None:
    app, _ = make_app(tmp_path, ROUND)
    async with app.run_test(size=size) as pilot:
        await begin(pilot)
        await touch(pilot, "2", below="to find")
        await touch(pilot, "e Alert")
        await touch(pilot, "Y", below="to find: 1 3 Y")
        await touch(pilot, "5", below="how many")
        await touch(pilot, "a As")
        await touch(pilot, "End which?")
        await touch(pilot, "⏎ done")
        await touch(pilot, "F7 lifted")
        await touch(pilot, "⏎ next")
        await touch(pilot, "Tab left out")
        await touch(pilot, "d Drain" if size[0] > 40 else "d D")
        assert "Drain tube 4/4" in dump(app)
        await touch(pilot, "PgUp back")
        assert "Leaf litter 3/4" in dump(app)
    assert records(app, "seen") == ["a2 moss_end alert", "youngx5 moss_end asleep", "?x1 moss_end"]
    assert records(app, "checked") == ["? moss_end", "? bark"]


async def test_enter_held_down_does_not_run_through_the_retreats(tmp_path: Path) -> None:
    app, clocks = make_app(tmp_path, ROUND)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        clocks.wait(2)
        first = events.Key("enter", "\r").time
        for i in range(20):
            event = events.Key("enter", "\r")
            event.time = first + 0.3 + i * 0.03
            app.post_message(event)
        await pilot.pause()
    assert len(records(app, "checked")) == 1


async def test_no_sketch_gives_a_tidy_grid(tmp_path: Path) -> None:
    head = "\n".join(x for x in HEAD.splitlines() if not x.startswith("sketch"))
    app, _ = make_app(tmp_path, head + ZONES + LIVING + HABITS)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        holds("grid-80x24", dump(app))


async def test_touch_does_what_keys_do(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await touch(pilot, "w Water dish")
        await touch(pilot, "m Walking")
        await touch(pilot, "3 Old one")
        await touch(pilot, "↑ not found")
        assert records(app, "seen", "unseen") == ["a1 water_dish moving @1", "a3 @1"]
        await touch(pilot, "← undo")
        assert records(app, "seen", "unseen") == ["a1 water_dish moving @1"]
        await touch(pilot, "F1 keys")
        assert "The program's keys" in dump(app)


@pytest.mark.parametrize("size", SIZES)
async def test_a_group_is_counted_by_touch_alone(tmp_path: Path, size: tuple[int, int]) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=size) as pilot:
        await begin(pilot)
        await touch(pilot, "Y Unmarked")
        await touch(pilot, "c Moss")
        await touch(pilot, "4", below="how many")
        await touch(pilot, "w Water" if size[0] > 40 else "w W")
        await touch(pilot, "1", below="how many")
        await touch(pilot, "r Resting", below="how many")
        await touch(pilot, "↑ not found")
        await touch(pilot, "⏎ done")
        assert records(app, "seen", "unseen") == [
            "youngx4 moss_end @1", "youngx1 water_dish resting @1", "youngx1 @1",
        ]  # fmt: skip
        await touch(pilot, "w Water" if size[0] > 40 else "w Y:1")
        await touch(pilot, "⏎ done")
        assert records(app, "seen")[2:] == ["a1 water_dish @1"]


async def test_a_session_without_a_record_claims_nothing(tmp_path: Path) -> None:
    app, clocks = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("full_stop")
        clocks.wait(1)
        await pilot.press("full_stop")
        await pilot.pause()
        assert "Nobody was recorded" in dump(app) and "everyone found" not in dump(app)


async def touch(pilot: Pilot[str], text: str, below: str = "") -> None:
    rows = dump(pilot.app).splitlines()  # type: ignore[arg-type]
    first = next((y + 1 for y, row in enumerate(rows) if below in row), 0) if below else 0
    for y, row in enumerate(rows):
        if y >= first and (x := row.find(text)) >= 0:
            await pilot.click(offset=(x, y))
            await pilot.pause()
            return
    pytest.fail(f"{text} is not on the screen:\n{dump(pilot.app)}")  # type: ignore[arg-type]


async def test_a_note_is_written_while_the_beat_goes_on(tmp_path: Path) -> None:
    app, clocks = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("quotation_mark")
        await pilot.pause()
        clocks.wait(61)
        for screen in app.screen_stack:
            if isinstance(screen, WatchScreen):
                screen._tick()
        await pilot.press(*"weighed 1 heavy".replace(" ", "_").replace("_", " "), "enter")
        await pilot.pause()
        assert "not a weight in grams" in dump(app)
        await pilot.press(*["backspace"] * 5, *"23.5", "enter")
        await pilot.pause()
        assert len(records(app, "missed")) == 4
    entry = next(e for e in read_journals(app.plan.declared.folder).entries("context"))
    assert (entry.record.fields["what"], entry.record.fields["value"]) == ("weighed", 23.5)
    assert abs(entry.record.at - datetime(2026, 3, 4, 20, 0, tzinfo=UTC)) < timedelta(seconds=1)


async def test_any_record_is_corrected_from_the_list(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("c", "r", "w", "m", "number_sign")
        await pilot.pause()
        assert "2 records, newest first" in dump(app)
        await pilot.press("down", "enter")
        await pilot.pause()
        assert "Broad stripe: Moss end, resting. What was it?" in dump(app)
        await pilot.press("w", "enter")
        await pilot.pause()
        assert "Corrected: Broad stripe: Water dish, resting" in dump(app)
    assert records(app, "seen") == ["a1 water_dish resting @1", "a2 water_dish moving @1"]


async def test_the_time_is_the_keys_when_the_handler_is_late(tmp_path: Path) -> None:
    app, clocks = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        event = events.Key("c", "c")
        event.time -= 1.5
        app.post_message(event)
        await pilot.pause()
        await pilot.press("r")
    entry = next(e for e in read_journals(app.plan.declared.folder).entries("seen"))
    late = clocks.now.at - entry.record.at
    assert timedelta(seconds=1.4) < late < timedelta(seconds=3)


async def test_a_key_held_down_does_not_run_away(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        first = events.Key("x", "x").time
        for i in range(30):
            event = events.Key("x", "x")
            event.time = first + i * 0.03
            app.post_message(event)
        await pilot.pause()
        assert "held down" in dump(app)
    assert len(records(app, "happened")) == 6


async def test_a_full_disk_is_unmistakable_and_mended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(40, 20)) as pilot:
        await begin(pilot)
        await pilot.press("c", "r")
        real = _fill(monkeypatch)
        await pilot.press("w", "m", "minus")
        await pilot.pause()
        holds("full-40x20", dump(app))
        monkeypatch.setattr("zoneuse.journal.writer.os.write", real)
        screen = app.screen
        assert isinstance(screen, WatchScreen)
        screen._retry()
        await pilot.pause()
        assert "NOT SAVED" not in dump(app)
        assert "Everything is saved now" in dump(app)
    assert records(app, "seen", "unseen") == ["a1 moss_end resting @1", "a2 water_dish moving @1", "a3 @1"]


def _fill(monkeypatch: pytest.MonkeyPatch) -> Callable[..., int]:
    import errno
    import os

    def refuse(handle: int, data: bytes) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    real = os.write
    monkeypatch.setattr("zoneuse.journal.writer.os.write", refuse)
    return real


async def test_leaving_with_unsaved_records_asks_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app, clocks = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        real = _fill(monkeypatch)
        await pilot.press("c", "r", "ctrl+c")
        await pilot.pause()
        assert app.is_running and "would be lost" in dump(app)
        monkeypatch.setattr("zoneuse.journal.writer.os.write", real)
        clocks.wait(1)
        await pilot.press("ctrl+c")
    assert app.return_value is not None and "continue this session" in app.return_value


async def test_a_session_cut_off_is_offered_and_goes_on(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("c", "r", "ctrl+c")
    again = RecorderApp(app.plan, lambda: _past_at(app), clocks=app.clocks)
    async with again.run_test(size=(80, 24)) as pilot:
        await again.workers.wait_for_complete()
        await pilot.pause()
        assert "Continue 21:00 (mk, 1 record)" in dump(again)
        await begin(pilot)
        await pilot.press("equals_sign")
    assert records(again, "seen") == ["a1 moss_end resting @1", "a1 moss_end resting @2"]
    assert len(read_journals(app.plan.declared.folder).sessions) == 1


def _past_at(app: RecorderApp):  # type: ignore[no-untyped-def]
    from zoneuse.recording.session.recall import recall

    return recall(app.plan.declared, read_journals(app.plan.declared.folder), app.clocks().at)


async def test_enter_pressed_twice_opens_one_session(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause()
        rows = app.screen.query_one(OptionList)
        rows.action_select()
        rows.action_select()
        await pilot.pause()
        assert isinstance(app.screen, WatchScreen)
    assert len(read_journals(app.plan.declared.folder).sessions) == 1


@pytest.mark.parametrize("size", SIZES)
async def test_the_menu_does_every_action_by_a_letter(tmp_path: Path, size: tuple[int, int]) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=size) as pilot:
        await begin(pilot)
        await pilot.press("c", "r", "f9", "n", "f9", "u", "f9", "p")
        assert records(app, "seen", "unseen", "paused") == ["a1 moss_end resting @1", "?"]
        await pilot.press("f9", "p", "f9", "Z", "5", "escape", "f9")
        await pilot.pause()
        holds(f"menu-{size[0]}x{size[1]}", dump(app))
        await pilot.press("escape", "ctrl+p", "e", "2", "x")
    assert records(app, "happened") == ["a2 strike"]


async def test_labels_cannot_steer_the_terminal(tmp_path: Path) -> None:
    text = STUDY.replace('label = "Moss end"', 'label = "Moss\\u001b[2J[b]end"')
    app, _ = make_app(tmp_path, text)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("c")
        await pilot.pause()
        shown = dump(app)
    assert "\x1b" not in shown and re.search(r"Moss\\x1b\[2J\[b\]end", shown)


async def test_without_colour_everything_is_still_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await pilot.press("c", "r")
        await pilot.pause()
        assert app.theme == "zoneuse-night"
        styles = [
            s.style for row in app.screen._compositor.render_strips(app.size) for s in row if s.text.strip()
        ]
        assert all(s is None or s.color != s.bgcolor for s in styles)
        assert "saved 21:00:00  Broad stripe: Moss end, resting" in dump(app)
