"""Draw the recorder's screens as SVG, from an invented study. Run: python docs/pictures/recorder.py"""

from __future__ import annotations

import asyncio
import os
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.recorder.studies import ROUND, add_newest, make_study
from zoneuse.recording.practice.script import STUDY as PRACTICE
from zoneuse.recording.practice.script import Practice, make_script
from zoneuse.recording.session.instant import Instant
from zoneuse.recording.session.past import read_past
from zoneuse.recording.session.plan import make_plan
from zoneuse.recording.session.recall import Recall
from zoneuse.screens.recorder.app import RecorderApp
from zoneuse.study.toml.file import load_declaration

HERE = Path(__file__).parent
START = Instant(datetime(2026, 3, 4, 20, 0, 0, 500_000, tzinfo=UTC), 1000.0)


async def draw(size: tuple[int, int], name: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_STATE_HOME"] = folder
        study = make_study(Path(folder) / "study")
        add_newest(study, START.at)
        declared = load_declaration(study)
        now = [START]
        plan = make_plan(declared, START.at, quiet_min=0.0)
        app = RecorderApp(plan, lambda: read_past(declared, study), clocks=lambda: now[0])
        async with app.run_test(size=size) as pilot:
            await app.workers.wait_for_complete()
            await pilot.pause()
            keep(app, f"recorder-start-{name}")
            await pilot.press("enter")
            await pilot.pause()
            await pilot.press("c", "r", "b", "m", "minus", *"c3w2-1", "enter")
            now[0] = START.shifted(83)
            app.screen._tick()  # type: ignore[attr-defined]
            await pilot.press("equals_sign", "comma", "w")
            await pilot.pause()
            keep(app, f"recorder-scan-{name}")
            await pilot.press("s", "question_mark")
            await pilot.pause()
            keep(app, f"recorder-keys-{name}")
            await pilot.press("escape", "number_sign")
            await pilot.pause()
            keep(app, f"recorder-records-{name}")


async def draw_round(size: tuple[int, int], name: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_STATE_HOME"] = folder
        study = make_study(Path(folder) / "study", ROUND)
        add_newest(study, START.at)
        declared = load_declaration(study)
        app = RecorderApp(
            make_plan(declared, START.at), lambda: read_past(declared, study), clocks=lambda: START
        )
        async with app.run_test(size=size) as pilot:
            await app.workers.wait_for_complete()
            await pilot.pause()
            await pilot.press("enter")
            await pilot.pause()
            await pilot.press("1", "a", "comma", "2", "enter", *"Y4a", "underscore", "enter", "tab", "3", "e")
            await pilot.pause()
            keep(app, f"recorder-round-{name}")


async def draw_practice(size: tuple[int, int], name: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        declared = load_declaration(make_study(Path(folder) / "practice", PRACTICE))
        plan = make_plan(declared, START.at, every_s=15.0, minutes=4.0, quiet_min=0.0)
        now = [START]
        practice = Practice(make_script(7, 15.0, 600), "zoneuse watch --practice --seed 7")
        app = RecorderApp(plan, Recall, clocks=lambda: now[0], practice=practice)
        async with app.run_test(size=size) as pilot:
            await app.workers.wait_for_complete()
            await pilot.pause()
            await pilot.press("enter")
            await pilot.pause()
            await pilot.press("b", "r", "l")
            now[0] = START.shifted(4)
            app.screen._tick()  # type: ignore[attr-defined]
            await pilot.pause()
            keep(app, f"recorder-practice-{name}")


def keep(app: RecorderApp, name: str) -> None:
    (HERE / f"{name}.svg").write_text(app.export_screenshot(title="zoneuse watch"), "utf-8")


if __name__ == "__main__":
    for picture in (draw, draw_round, draw_practice):
        asyncio.run(picture((80, 24), "80x24"))
        asyncio.run(picture((40, 20), "40x20"))
