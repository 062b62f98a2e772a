"""Which moments are looked at: chosen by key and touch, held for every answer."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tests.review.showing import SKETCHED, answer_all, dump, opened, press, small_study
from zoneuse.screens.review.background.asked import ReviewFilters
from zoneuse.screens.review.filters import FilterScreen, read_period

ZONES = ("sessions", "zones")
NOW = datetime(2026, 4, 20, 12, tzinfo=UTC)
VIENNA = ZoneInfo("Europe/Vienna")


def test_an_animal_is_chosen_and_every_answer_asked_anew(small: Path) -> None:
    answer_all(small, ZONES, ReviewFilters(animals=("a1",)))

    async def look() -> None:
        async with opened(small, names=ZONES) as (app, pilot):
            whole = app.given["zones"].headline
            shown = await press(pilot, "slash", "down", "enter")
            assert "[x] 1 Dot" in shown and "( ) all animals" in shown
            assert app.asked == ReviewFilters()  # nothing is asked before it is all chosen
            shown = await press(pilot, "escape")
            assert shown.splitlines()[1] == "Dot · all hours · all time"
            assert app.given["zones"].headline != whole
            # Back to everyone: known already.
            await press(pilot, "slash", "delete", "escape")
            assert app.given["zones"].headline == whole

    asyncio.run(look())


def test_looking_at_the_filters_changes_nothing(small: Path) -> None:
    async def look() -> None:
        async with opened(small, names=ZONES) as (app, pilot):
            before = app.given["zones"]
            await press(pilot, "slash", "down", "enter", "enter", "escape")
            assert app.given["zones"] is before

    asyncio.run(look())


def test_a_phase_is_chosen_where_the_study_has_phases(tmp_path: Path) -> None:
    phases = (
        "[phases.early]\nspans = [{until = 2026-03-07}]\n\n[phases.late]\nspans = [{from = 2026-03-07}]\n"
    )
    folder = small_study(tmp_path / "study", f"{SKETCHED}\n{phases}")
    late = ReviewFilters(phases=("late",))
    answer_all(folder, ZONES)
    answer_all(folder, ZONES, late)

    async def look() -> None:
        async with opened(folder, names=ZONES) as (app, pilot):
            whole = app.given["sessions"].series["sessions"]
            shown = await press(pilot, "slash", *["down"] * 5, "enter")
            assert "Phases" in shown and "[x] Late" in shown and "Treatments" not in shown
            shown = await press(pilot, "escape")
            assert app.asked == late and shown.splitlines()[1] == "all animals · all hours · all time · Late"
            kept = app.given["sessions"].series["sessions"]
            assert [s["id"] for s in kept] == [s["id"] for s in whole if s["at"] >= "2026-03-07"]

    asyncio.run(look())


@pytest.mark.parametrize("size", [(80, 24), (40, 20)])
def test_a_period_can_be_typed_and_a_mistake_is_said(small: Path, size: tuple[int, int]) -> None:
    since = datetime(2026, 3, 10, tzinfo=VIENNA).astimezone(UTC).isoformat()
    answer_all(small, ZONES, ReviewFilters(since=since))

    async def look() -> None:
        async with opened(small, size, names=ZONES) as (app, pilot):
            shown = await press(pilot, "slash", "end", "enter")
            assert "From, to" in shown
            shown = await press(pilot, *"2026-03-10,2026-03-01", "enter")
            assert "the first time must come before the second" in " ".join(shown.replace("│", " ").split())
            await press(pilot, *["backspace"] * 11, "enter")
            assert isinstance(app.screen, FilterScreen)
            shown = await press(pilot, "escape")
            assert "from 2026-03-10" in shown
            assert app.asked.since == since
            assert "4 sessions" in shown

    asyncio.run(look())


def test_periods_are_offered_from_what_is_on_record(cellar: Path) -> None:
    async def look() -> None:
        async with opened(cellar, names=ZONES) as (app, pilot):
            await press(pilot, "slash")
            assert isinstance(app.screen, FilterScreen)
            periods = {p.words: p for p in app.screen.periods()}
            assert list(periods)[:4] == ["all time", *(f"last {d} days on record" for d in (7, 30, 90))]
            # The newest session opened on 18 April: seven days are the 12th to the 18th.
            assert (periods["last 7 days on record"].since or "").startswith("2026-04-19T00:00:00+02:00")
            before, after = periods["before water-1"], periods["after water-1, settled"]
            assert before.until == "2026-03-15T20:30:04+01:00" and after.since == "2026-03-17T20:30:04+01:00"
            assert "( ) before water-1" in dump(app) or "before water-1" in await press(pilot, "end")

    asyncio.run(look())


def test_what_is_typed_is_read_in_the_studys_zone() -> None:
    period = read_period("2026-03-01, 2026-04-01", NOW, VIENNA)
    assert (period.since, period.until) == ("2026-02-28T23:00:00+00:00", "2026-03-31T22:00:00+00:00")
    assert read_period(", 2026-04-01", NOW, VIENNA).since is None
    assert read_period("2026-03-01", NOW, VIENNA).until is None
    for wrong in ("a, b, c", "someday", "2026-04-01, 2026-03-01"):
        with pytest.raises(ValueError):
            read_period(wrong, NOW, VIENNA)
