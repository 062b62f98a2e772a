"""Studies with their answers worked out beforehand, and the review opened on them."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from textual.pilot import Pilot

from tests.making import TWO_ZONES, scans, session, study_folder, vienna
from zoneuse.answers.registry import ANSWERS
from zoneuse.screens.review.app import SESSIONS, ReviewApp
from zoneuse.screens.review.background.asked import ReviewFilters
from zoneuse.screens.review.background.child import Wanted, replies
from zoneuse.screens.review.background.kept import keys, stamp
from zoneuse.study.toml.file import load_declaration

NOW = datetime(2026, 4, 20, 12, tzinfo=UTC)
SIZES = [(80, 24), (40, 20)]
SKETCHED = TWO_ZONES.replace('measured_in = "floor_cm2"', 'measured_in = "floor_cm2"\nsketch = ["mmmb"]')


def small_study(folder: Path, text: str = SKETCHED) -> Path:
    """Twelve evenings of two animals; Dot is mostly in the moss, Line in both; one record corrected later."""
    study_folder(folder, text)
    for day in range(1, 13):
        here = ["moss", "bark"] if day % 3 == 0 else ["moss", "moss"]
        line = ["bark", None] if day % 2 else ["moss", "bark"]
        rows = [(here[k % 2], line[k % 2]) for k in range(6)]
        scans(folder, f"2026-03-{day:02d}T20:00", rows, ("a1", "a2"))
    correct(folder)
    return folder


def correct(folder: Path) -> None:
    """A session with a strike, a note with letters that could steer a terminal, and two records taken back."""
    journal = session(folder, "2026-03-14T20:00")
    at = vienna("2026-03-14T20:00")
    wrong = journal.append("seen", at + timedelta(seconds=5), animal="a1", zone="bark", scan=1)
    right = journal.append("seen", at + timedelta(seconds=9), animal="a1", zone="moss", scan=1)
    place = {"session": journal.session, "part": 1}
    journal.append(
        "took-back", at + timedelta(seconds=9), of={**place, "n": wrong.n}, replaces={**place, "n": right.n}
    )
    journal.append("happened", at + timedelta(seconds=20), animal="a2", behaviour="strike", zone="bark")
    journal.append("noted", at + timedelta(seconds=30), text="[red]not[/red] markup \x1b[2J")
    other = journal.append("seen", at + timedelta(seconds=40), animal="a2", zone="bark", scan=1)
    journal.append("closed", at + timedelta(minutes=5), reason="finished")
    journal.close()
    later = session(folder, "2026-03-15T09:00", method="record", observer="ann")
    later.append("took-back", vienna("2026-03-15T09:00"), of={**place, "n": other.n})
    later.close()


def everything() -> tuple[str, ...]:
    """The sessions and every answer this version gives."""
    return (SESSIONS, *(k.name for k in ANSWERS))


def answer_all(
    folder: Path,
    names: Sequence[str] = (),
    asked: ReviewFilters = ReviewFilters(),  # noqa: B008
) -> dict[str, tuple[str, ...]]:
    """Work the answers out here and keep them, as the process beside the screens does; returns what failed."""
    names = tuple(names) or everything()
    request = {
        "folder": str(folder.resolve()), "asked": asked.to_dict(), "now": NOW.isoformat(),
        "keys": keys(stamp(folder), asked, names, NOW),
    }  # fmt: skip
    told = list(replies(request, Wanted(list(names))))
    return {reply["name"]: tuple(reply["problems"]) for reply in told if "problems" in reply}


@asynccontextmanager
async def opened(
    folder: Path, size: tuple[int, int] = (80, 24), names: Sequence[str] = (), first: str = ""
) -> AsyncIterator[tuple[ReviewApp, Pilot[str]]]:
    """The review with everything known that was worked out."""
    app = ReviewApp(load_declaration(folder), lambda: NOW, first)
    if names:
        app.questions = tuple(q for q in app.questions if q.name in names)
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        yield app, pilot


async def settled(pilot: Pilot[str]) -> None:
    await pilot.pause()
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


async def press(pilot: Pilot[str], *keys: str) -> str:
    """What the screen shows after some keys."""
    for key in keys:
        await pilot.press(key)
    await settled(pilot)
    return dump(pilot.app)


def dump(app: object) -> str:
    """What is on the screen, as plain lines."""
    width, height = app.size  # type: ignore[attr-defined]
    rows = app.screen._compositor.render_strips(app.size)  # type: ignore[attr-defined]
    lines = ["".join(s.text for s in row).ljust(width)[:width].rstrip() for row in rows[:height]]
    return "\n".join(lines).rstrip() + "\n"


async def all_pages(pilot: Pilot[str]) -> list[str]:
    """Every page of a screen, from the top."""
    pages = [await press(pilot, "home")]
    while (page := await press(pilot, "pagedown")) != pages[-1]:
        pages.append(page)
    return pages
