"""The review's screens, driven by keys and touches, at both sizes."""

from __future__ import annotations

import asyncio
import re
from pathlib import Path

import pytest
from rich.cells import cell_len
from textual import events

from tests.making import scans, study_folder
from tests.review.conftest import DEMO_ANSWERS
from tests.review.showing import SIZES, SKETCHED, all_pages, answer_all, dump, opened, press, small_study
from zoneuse.screens.review.answer_screen import AnswerScreen
from zoneuse.screens.review.app import ReviewApp
from zoneuse.screens.review.home import HomeScreen
from zoneuse.screens.review.leaf import Leaf
from zoneuse.screens.review.records import RecordsScreen
from zoneuse.screens.review.sessions import SessionsScreen

ASKED = DEMO_ANSWERS[1:]
IN_WORDS = re.compile(r"\s+")


def flat(text: str) -> str:
    return IN_WORDS.sub(" ", text.replace("┃", " "))


@pytest.mark.parametrize("size", SIZES)
def test_the_enclosure_holds_shares_and_the_list_every_answer(cellar: Path, size: tuple[int, int]) -> None:
    async def look() -> None:
        async with opened(cellar, size, ASKED) as (app, _):
            shown = dump(app)
            assert "Cellar salamanders · 48 sessions" in shown
            for key, label in (("c", "Moss end"), ("b", "Cork bark"), ("l", "")):
                assert re.search(rf"{key} .*{re.escape(label)}", shown), shown
            assert re.search(r"\d\.\d ×", shown) and re.search(r"\d\.\d ×.*\?", shown)
            for number, name in enumerate(
                ("Zones", "Activity", "Conditions", "Changes", "Retreats", "Climate"), 1
            ):
                assert f"{number} {name}" in shown
            assert "1 favoured, 1 avoided" in shown, shown
            # Worked out before: no process is needed, and the line says that nothing is under way.
            assert not app.doing

    asyncio.run(look())


@pytest.mark.parametrize("size", SIZES)
def test_every_answer_says_all_it_has_to_say_at_both_sizes(cellar: Path, size: tuple[int, int]) -> None:
    async def look() -> None:
        async with opened(cellar, size, ASKED) as (app, pilot):
            for number, name in enumerate(ASKED, 1):
                if size[0] < 60 and name not in ("zones", "prefer", "shifts"):
                    continue  # a phone's pages are many; these hold every kind of line
                await press(pilot, str(number))
                pages = await all_pages(pilot)
                lines = [line for page in pages for line in page.splitlines()]
                assert max(map(len, lines)) <= size[0]
                whole = flat(" ".join(body(page) for page in pages))
                given = app.given[name]
                for says in [given.headline, *given.cautions]:
                    assert all(word in whole for word in flat(says).split()), (name, says)
                # The sentence stands before the table, the table before the cautions.
                first = flat(given.findings[0].says)[:20]
                assert whole.index(first) < whole.index(given.headings[0].text, whole.index(first))
                assert whole.index("Careful") > whole.index(first)
                assert not [x for x in lines if "…" in x[:-1] and "…" not in given.headline], name

    asyncio.run(look())


def body(page: str) -> str:
    """A page without the lines above and below its list."""
    return "\n".join(page.splitlines()[3:-1])


def test_from_a_finding_to_its_sessions_to_their_records_and_back(small: Path) -> None:
    async def look() -> None:
        async with opened(small) as (app, pilot):
            await press(pilot, "1")
            assert isinstance(app.screen, AnswerScreen)
            await press(pilot, "down")
            shown = await press(pilot, "enter")
            assert isinstance(app.screen, SessionsScreen) and "Sessions · Moss" in shown
            # Newest first; the share of each is counted from its own moments.
            assert re.search(r"14 Mar 2026 20:00 .*1 of 1\n", shown.replace("┃", ""))
            assert shown.index("14 Mar") < shown.index("12 Mar")
            assert re.search(r"11 Mar 2026 .*6 of 9", shown)
            shown = await press(pilot, "enter")
            assert isinstance(app.screen, RecordsScreen)
            assert "* 20:00:09   1 Dot: Moss" in shown
            await press(pilot, "escape", "escape", "escape")
            assert isinstance(app.screen, HomeScreen)

    asyncio.run(look())


def test_records_taken_back_stay_and_say_by_whom_and_what_counts_instead(small: Path) -> None:
    async def look() -> None:
        async with opened(small) as (_, pilot):
            shown = flat(await press(pilot, "m", "enter"))
            assert "Dot: Bark [taken back 20:00 by mk; now Dot: Moss]" in shown
            assert "Line: Bark [taken back 15 Mar 2026 by ann]" in shown
            assert "Line: Strike! (Bark)" in shown
            assert "2 of its records were taken back" in shown
            # What is typed is shown as it is: neither markup nor a terminal's commands.
            assert "[red]not[/red] markup \\x1b[2J" in shown

    asyncio.run(look())


def test_a_momentary_behaviour_leads_to_the_session_it_happened_in(small: Path) -> None:
    async def look() -> None:
        async with opened(small) as (app, pilot):
            await press(pilot, "2")
            leaf = app.screen.query_one(Leaf)
            opening = [b for b in leaf._blocks if b.opens is not None]
            strike = next(b.opens for b in opening if "Strike" in "".join(x.plain for x in b.lines))
            assert strike is not None
            app.open(strike)
            shown = await press(pilot)
            assert "1 time" in shown and "14 Mar" in shown and "12 Mar" not in shown

    asyncio.run(look())


def test_the_mouse_does_what_the_keys_do(small: Path) -> None:
    async def look() -> None:
        async with opened(small) as (app, pilot):
            await pilot.click(offset=(10, 6))
            assert "Sessions · Moss" in await press(pilot)
            row = next(i for i, line in enumerate(dump(app).splitlines()) if "12 Mar" in line)
            await pilot.click(offset=(10, row))
            assert "Records · 2026-03-12" in await press(pilot)
            last = dump(app).splitlines()
            await pilot.click(offset=(last[-1].index("esc"), len(last) - 1))
            assert "Sessions · Moss" in await press(pilot)

    asyncio.run(look())


def test_the_wheel_scrolls(cellar: Path) -> None:
    async def look() -> None:
        async with opened(cellar, (80, 24), ASKED, "zones") as (app, pilot):
            before = dump(app).splitlines()
            app.screen.query_one(Leaf).post_message(wheel(app))
            after = (await press(pilot)).splitlines()
            assert [x.strip("┃› ") for x in after[3:10]] == [x.strip("┃› ") for x in before[6:13]]

    asyncio.run(look())


def wheel(app: ReviewApp) -> events.MouseScrollDown:
    leaf = app.screen.query_one(Leaf)
    return events.MouseScrollDown(leaf, 5, 5, 0, 1, 0, False, False, False)


def test_digits_and_arrows_go_from_answer_to_answer(small: Path) -> None:
    async def look() -> None:
        async with opened(small) as (app, pilot):
            assert (await press(pilot, "3")).startswith("3 Conditions")
            assert (await press(pilot, "right")).startswith("4 Changes")
            assert (await press(pilot, "left", "left")).startswith("2 Activity")
            # Answers lie side by side, not on top of one another.
            await press(pilot, "escape")
            assert isinstance(app.screen, HomeScreen)

    asyncio.run(look())


def test_the_list_goes_down_to_its_last_line_and_up_again(cellar: Path) -> None:
    async def look() -> None:
        async with opened(cellar, (80, 24), ASKED) as (app, pilot):
            await press(pilot, "1")
            top = dump(app)
            seen = set()
            leaf = app.screen.query_one(Leaf)
            await press(pilot, "down")
            for _ in range(80):
                leaf.action_step(1)
                seen |= set(str(leaf.render()).splitlines())
            assert any("All the sessions behind this" in line for line in seen)
            for caution in app.given["zones"].cautions:
                assert any(caution[:30] in line for line in seen)
            for _ in range(80):
                leaf.action_step(-1)
            assert await press(pilot) == top

    asyncio.run(look())


def test_long_tables_show_their_first_rows_and_the_rest_when_asked(cellar: Path) -> None:
    async def look() -> None:
        async with opened(cellar, (80, 24), ASKED) as (app, pilot):
            await press(pilot, "4")
            assert re.search(r"\d+ more rows: Enter shows them", "".join(await all_pages(pilot)))
            from zoneuse.screens.review.drawing.blocks import Pressed

            assert isinstance(app.screen, AnswerScreen)
            app.screen.leaf.go_to(Pressed("more"))
            await press(pilot, "enter")
            whole = "".join(await all_pages(pilot))
            assert "more rows" not in whole and "Leaf box" in whole

    asyncio.run(look())


def test_the_climate_leads_to_loggers_files_and_waters(cellar: Path) -> None:
    async def look() -> None:
        async with opened(cellar, (80, 24), ASKED, "climate") as (app, pilot):
            assert dump(app).startswith("6 Climate")
            shown = await press(pilot, "enter")
            assert "Readings · Moss end" in shown
            assert f"L1_export.csv: {56 * 48:,} readings, 1 Mar 2026 to 26 Apr 2026" in shown
            whole = "".join(await all_pages(pilot))
            # The moss was at 75 % when water made it 97 %; the logger under it means over what came before and after.
            assert re.search(r"15 Mar 2026 20:30 \(water-1\): 7[4-7] to 9[4-8] %", whole)
            assert "Sessions · Moss end" in await press(pilot, "end", "enter")

    asyncio.run(look())


def test_a_window_too_small_says_so_and_comes_back(small: Path) -> None:
    async def look() -> None:
        async with opened(small, (30, 8)) as (app, pilot):
            assert "This window is 30 x 8; the answers" in flat(dump(app))
            await pilot.resize_terminal(80, 24)
            shown = await press(pilot)
            assert "window" not in shown and "Moss" in shown

    asyncio.run(look())


def test_a_narrow_window_without_room_for_rooms_lists_every_zone(tmp_path: Path) -> None:
    async def look() -> None:
        more = "".join(
            f'[zones.z{k}]\nlabel = "Place {k}"\nkey = "{k_}"\namount = 10\n'
            for k, k_ in enumerate("acdefghij")
        )
        folder = study_folder(tmp_path / "many", SKETCHED.replace("[animals.a1]", f"{more}[animals.a1]"))
        async with opened(folder, (40, 20)) as (app, _):
            shown = dump(app)
            assert all(re.search(rf"\b{key} ", shown) for key in "mbacdefghij"), shown

    asyncio.run(look())


def test_labels_of_any_letters_keep_the_walls_straight_and_are_no_markup(tmp_path: Path) -> None:
    async def look() -> None:
        text = SKETCHED.replace('label = "Moss"', 'label = "鼠の家 [b]x[/b]"').replace(
            'label = "Dot"', 'label = "鼠"'
        )
        folder = small_study(tmp_path / "letters", text)
        answer_all(folder, ("sessions", "zones"))
        for size in SIZES:
            async with opened(folder, size, ("zones",)) as (_, pilot):
                rooms = [line for line in dump(pilot.app).splitlines() if line.startswith("│m")]
                assert "鼠の家 [b]x[/b]" in rooms[0] and cell_len(rooms[0]) == size[0]
                pages = [await press(pilot, "1"), *await all_pages(pilot)]
                assert max(cell_len(line) for page in pages for line in page.splitlines()) <= size[0]
                assert "鼠" in "".join(pages)

    asyncio.run(look())


def test_a_session_recorded_meanwhile_is_there_when_looked_at_again(tmp_path: Path) -> None:
    async def look() -> None:
        folder = small_study(tmp_path / "again")
        answer_all(folder, ("sessions", "zones"))
        async with opened(folder, names=("zones",)) as (_, pilot):
            assert "13 sessions" in dump(pilot.app)
            scans(folder, "2026-03-20T20:00", [("moss",)])
            answer_all(folder, ("sessions", "zones"))
            assert "14 sessions" in await press(pilot, "f5")

    asyncio.run(look())


def test_every_key_is_told(small: Path) -> None:
    async def look() -> None:
        async with opened(small) as (_, pilot):
            whole = ""
            await press(pilot, "question_mark")
            for page in await all_pages(pilot):
                whole += page
            for key in ("1 to 9", "← →", "Enter", "Esc", "F5", "Ctrl+C", "├──●──┤"):
                assert key in whole

    asyncio.run(look())


def test_leaving_gives_no_trouble(small: Path) -> None:
    async def look() -> ReviewApp:
        async with opened(small) as (app, pilot):
            await pilot.press("escape")
            await pilot.pause()
            return app

    assert not asyncio.run(look()).return_code
