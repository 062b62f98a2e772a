"""A record mended from the review: found by its number or in its session, shown, corrected, taken back, put back."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.making import run, study_folder
from tests.review.showing import correct, dump, opened, press
from tests.review.test_screens import flat
from zoneuse.journal.reader import read_journals
from zoneuse.screens.review.app import ReviewApp
from zoneuse.screens.review.drawing.blocks import OpenRecords
from zoneuse.screens.review.mending import LastRecordsScreen, MendScreen

# Only the sessions are read anew after each change; working out answers is tested elsewhere.
NO_ANSWER = ("none",)


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """Two sightings, a weight and a note; and a session with a record taken back from elsewhere."""
    folder = study_folder(tmp_path / "s")
    correct(folder)
    for words in (
        ("seen", "a1", "moss", "--at", "2026-03-16T20:00"),
        ("note", "weighed", "a2", "12 g", "--at", "2026-03-17T20:00"),
        ("note", "shed whole", "--at", "2026-03-18T20:00"),
    ):
        assert run(*words, "--study", folder).exit_code == 0
    return folder


def counted(folder: Path) -> list[str]:
    found = (e.record for e in read_journals(folder).entries("seen", "context", "noted"))
    return sorted(str(r.get("zone") or r.get("value") or r.get("text")) for r in found)


async def known(app: ReviewApp, pilot: Pilot[str]) -> str:
    """Once the journals are read."""
    for _ in range(300):
        if app.journals is not None:
            break
        await pilot.pause(0.02)
    await pilot.pause()
    return flat(dump(app))


def test_the_list_is_the_one_that_mend_prints_and_a_number_opens_it(study: Path) -> None:
    printed = [line.split("  ", 1)[1] for line in run("mend", "--study", study).stdout.splitlines()]

    async def look() -> None:
        async with opened(study, (40, 20), NO_ANSWER) as (app, pilot):
            await press(pilot, "f2")
            shown = await known(app, pilot)
            assert isinstance(app.screen, LastRecordsScreen)
            words = [line.split(": ", 1)[1].split("  (")[0] for line in printed[:3]]
            assert [shown.index(w) for w in words] == sorted(shown.index(w) for w in words)
            await press(pilot, "2")
            assert isinstance(app.screen, MendScreen) and "weighed Line 12 g" in flat(dump(app))
            before = counted(study)
            await press(pilot, "escape")
            assert counted(study) == before

    asyncio.run(look())


def test_a_weight_and_a_zone_are_corrected_and_a_note_taken_back_and_put_back(study: Path) -> None:
    before = counted(study)

    async def look() -> None:
        async with opened(study, names=NO_ANSWER) as (app, pilot):
            await press(pilot, "f2")
            await known(app, pilot)
            # The weight: its third line is its value.
            await press(pilot, "2", "down", "down", "enter", *"21", "enter")
            said = await known(app, pilot)
            assert "Corrected: was weighed Line 12 g; now weighed Line 21 g." in said
            # The sighting: another zone, by its place in the list.
            await press(pilot, "escape", "3", "enter", "down", "enter")
            assert "now Dot: Bark" in await known(app, pilot)
            # The same again changes nothing and says so.
            await press(pilot, "enter", "down", "enter")
            assert "Nothing was changed: it says that already." in await known(app, pilot)
            # The note never was; and then it was after all.
            await press(pilot, "escape", "1", "end", "up", "down", "enter")
            assert "Taken back: note: shed whole" in await known(app, pilot)
            assert counted(study) == _with(before, {"12.0": "21.0", "moss": "bark", "shed whole": None})
            await press(pilot, "enter")
            assert "Counts again: note: shed whole." in await known(app, pilot)

    asyncio.run(look())
    assert counted(study) == _with(before, {"12.0": "21.0", "moss": "bark"})
    # The trace stays: what was written first is on the disk.
    assert "corrected; was: weighed Line 12 g" in run("mend", "--study", study).stdout


def _with(before: list[str], changed: dict[str, str | None]) -> list[str]:
    after = list(before)
    for old, new in changed.items():
        after.remove(old)
        after += [new] if new is not None else []
    return sorted(after)


def test_a_record_of_a_session_is_mended_where_it_stands(study: Path) -> None:
    async def look() -> None:
        async with opened(study, (40, 20), NO_ANSWER) as (app, pilot):
            session = next(s.id for s in read_journals(study).sessions.values() if s.method == "scan")
            app.open(OpenRecords(session, ()))
            await known(app, pilot)
            # The first record a person made was taken back in the session itself; its correction stands for it.
            await press(pilot, "enter")
            shown = await known(app, pilot)
            assert isinstance(app.screen, MendScreen) and "corrected; was: Dot: Bark" in shown
            await press(pilot, "end", "up", "down", "enter")
            assert "Taken back: Dot: Moss" in await known(app, pilot)
            await press(pilot, "escape")
            assert "Dot: Moss" in await known(app, pilot)

    asyncio.run(look())
    assert all(
        r.get("zone") != "moss" or r.at.day == 16
        for r in (e.record for e in read_journals(study).entries("seen"))
    )
