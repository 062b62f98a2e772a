"""Storms through the real screens: bundles of up to twenty keys, touches, boxes, pastes, sizes and clocks that are set.

Nearly all of such a storm is waiting for a screen to settle, so several are driven in one event loop.
"""

from __future__ import annotations

import asyncio
import os
import random
import shutil
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from textual.pilot import Pilot

from tests.recorder.driver import START
from tests.recorder.model import KEY_S, Token
from tests.recorder.storms import WAYS, of_entries
from tests.recorder.studies import make_study
from zoneuse.recording.session.instant import Instant

# What a token is on the keyboard.
_PRESSED = {
    "same": ("space", "right", "equals_sign"), "same_all": ("down", "plus"), "unseen": ("minus", "up"),
    "undo": ("backspace", "left"), "guess": ("comma",), "hidden": ("f8", "semicolon"), "someone": ("end", "asterisk"),
    "event": ("insert", "exclamation_mark"), "accept": ("enter",), "next_one": ("tab",), "lifted": ("f7", "underscore"),
    "earlier": ("pageup", "less_than_sign"), "now": ("pagedown", "greater_than_sign"), "pause": ("f4", "colon"),
}  # fmt: skip
_LETTERS = {
    "same": "s", "same_all": "a", "unseen": "n", "undo": "u", "guess": "g", "hidden": "h", "someone": "w", "event": "e",
    "accept": "d", "next_one": "k", "lifted": "l", "earlier": "b", "now": "o", "pause": "p",
}  # fmt: skip
# Keys that open a box, something typed into it, and the key that closes it: of no consequence, all of it.
_BOXES = (("f1", "cr", "escape"), ("f2", "crumbs", "escape"), ("f3", "", "escape"), ("f9", "Zj5", "escape"),
          ("f5", "x1", "escape"), ("f6", "c", "escape"), ("f12", "new", "escape"))  # fmt: skip
_SIZES = ((80, 24), (40, 20), (23, 9), (120, 50))
# A frame of Textual's, so that what was typed is drawn as well.
_FRAME_S = 0.02
_TOO_LONG_S = 900.0


class Screens:
    """One storm, its app and its model."""

    def __init__(self, way: str, tokens: list[Token], seed: int, place: Path) -> None:
        from zoneuse.recording.session.plan import make_plan
        from zoneuse.recording.session.recall import Recall
        from zoneuse.screens.recorder.app import RecorderApp
        from zoneuse.study.toml.file import load_declaration

        text, asked, make = WAYS[way]
        self.way, self.tokens, self.chance, self.model = way, tokens, random.Random(seed), make()
        self.now = Instant(START, 1000.0)
        declared = load_declaration(make_study(place / "study", text))
        plan = make_plan(declared, START, **{"quiet_min": 0.0, **asked})
        self.app = RecorderApp(plan, Recall, clocks=lambda: self.now)
        # The storm's clock stands still: no key is older than another by waiting longer.
        self.app.instant_of = lambda event: self.now  # type: ignore[method-assign]
        self.last = ("", -1e9)
        self.closed = ("enter", 0.0)  # the Enter that begins answers nothing as well

    async def run(self) -> None:
        from zoneuse.screens.recorder.watch import WatchScreen

        async with self.app.run_test(size=self.chance.choice(_SIZES)):
            await self.app.workers.wait_for_complete()
            await self._settled()
            self._post("enter")
            while not isinstance(self.app.screen, WatchScreen):
                await self._settled()
            await self._settled()
            self.watch = self.app.screen
            self.model.tick()
            left = list(self.tokens)
            while left:
                if isinstance(left[0], tuple):
                    await self._wait(left.pop(0)[1])  # type: ignore[arg-type]
                    continue
                self.now = self.now.shifted(KEY_S)
                self._tick()
                if not self.model.paused:
                    # The screens look at the clock before a bundle; what begins then has begun for the model too.
                    self.model.now += KEY_S
                    self.model.tick()
                    self.model.now -= KEY_S
                if self.chance.random() > 0.1 or not self._touch(str(left[0])):
                    self._bundle(left)
                else:
                    left.pop(0)
                await self._settled()
                await self._meanwhile()
                await self._settled()
                on_top = [s for s in self.app.screen_stack if isinstance(s, WatchScreen)]
                assert on_top and self.app.screen is on_top[-1], self.app.screen_stack
            core = self.app.core
            assert core is not None
            self._tick()
            core.finish(self.now)
            self.model.finish()
            # A disk that others fill meanwhile may refuse; what waits in memory is written then, or it is said why not.
            core.ledger.retry(self.now)
            assert not core.ledger.waiting, f"the disk refuses: {core.ledger.trouble}"

    def _bundle(self, left: list[Token]) -> None:
        for number in range(self.chance.choice((1, 1, 2, 5, 20))):
            if not left or isinstance(left[0], tuple):
                break
            self._press(str(left.pop(0)), number == 0)

    async def _settled(self) -> None:
        """Until what was posted has been taken and drawn; raises what the app raised."""
        for pause in (_FRAME_S, 0.0):
            taken = asyncio.Event()
            waited = [
                asyncio.create_task(taken.wait()),
                asyncio.create_task(self.app._exception_event.wait()),
            ]
            self.app.call_later(taken.set)
            done, pending = await asyncio.wait(
                waited, timeout=_TOO_LONG_S, return_when=asyncio.FIRST_COMPLETED
            )
            for task in pending:
                task.cancel()
            assert done, f"a screen took no key for {_TOO_LONG_S} s"
            if self.app._exception is not None:
                raise self.app._exception
            await asyncio.sleep(pause)

    def _tick(self) -> None:
        from zoneuse.screens.recorder.watch import WatchScreen

        for screen in self.app.screen_stack:
            if isinstance(screen, WatchScreen):
                screen._tick()

    async def _wait(self, seconds: float) -> None:
        end = self.model.now + seconds
        while self.model.now < end - 1e-9:
            step = min(1.0, end - self.model.now)
            self.now = self.now.shifted(step)
            self.model.wait(step)
            self._tick()

    def _press(self, token: str, first: bool) -> None:
        """One token: as a key, or from the menu; the keys of one bundle have one time."""
        if not first:
            self.model.now -= KEY_S
        if token in _LETTERS and self.chance.random() < 0.15:
            self._post("f9")
            self._post(_LETTERS[token], _LETTERS[token])
            self.last = ("f9", self.model.now + KEY_S)
            self.closed = (_LETTERS[token], self.model.now + KEY_S)
            self.model.feed(token)
            return
        key = self.chance.choice(_PRESSED[token]) if len(token) > 1 else token
        whole = self.way.startswith("round") and key in ("enter", "minus", "up", "tab")
        again = whole and self.last[0] == key and self.model.now + KEY_S - self.last[1] < 0.3
        self._post(key, token if len(token) == 1 else None)
        # The letter that closed the menu, again at once, belongs to that press.
        bounced = key == self.closed[0] and self.model.now + KEY_S - self.closed[1] < 0.7
        self.closed = (key, self.model.now + KEY_S) if bounced else ("", -1e9)
        if not bounced:
            self.last = (key, self.model.now + KEY_S)
        if again or bounced:
            self.model.now += KEY_S
        else:
            self.model.feed(token)

    def _post(self, key: str, character: str | None = None) -> None:
        from textual import events

        self.app.post_message(events.Key(key, character))

    # Touches. ----------------------------------------------------------------------------------------------

    def _touch(self, token: str) -> bool:
        """Do a token with a finger where it is on the screen: its room, or its key in a row."""
        if token == "q" or self.model.begun_key:
            return False  # no key of anything; and half a key is gone on with by a key
        width, height = self.app.size
        places = [
            (x, y) for x, y in (*self._rooms_of(token), *self._chips_of(token)) if x < width and y < height
        ]
        if not places:
            return False
        self._click(*self.chance.choice(places))
        self.closed = ("", -1e9)
        self.model.feed(token)
        return True

    def _rooms_of(self, token: str) -> Iterable[tuple[int, int]]:
        rooms = self.watch.rooms
        drawing, region = rooms._drawing(), rooms.content_region
        for y, row in enumerate(drawing.owner if drawing is not None else ()):
            for x, key in enumerate(row):
                if key == token and y < region.height and x < region.width:
                    yield region.x + x, region.y + y

    def _chips_of(self, token: str) -> Iterable[tuple[int, int]]:
        for chips in (self.watch.choices, self.watch.buttons):
            region = chips.content_region
            for y, row in enumerate(chips.rows(region.width) if chips._chips and region.width else ()):
                for x, chip in row:
                    if token in (chip.press, chip.action) and y < region.height and x < region.width:
                        yield region.x + x, region.y + y

    def _click(self, x: int, y: int) -> None:
        from textual import events

        for kind in (events.MouseDown, events.MouseUp):
            self.app.post_message(kind(None, x, y, 0, 0, 1, False, False, False, x, y))

    # What else happens. ------------------------------------------------------------------------------------

    async def _meanwhile(self) -> None:
        """Boxes, pastes, resizes, touches beside the keys, a clock that is set."""
        from textual import events

        happens = self.chance.random()
        if happens < 0.15:
            opens, typed, closes = self.chance.choice(_BOXES)
            self._post(opens)
            for letter in typed:
                self._post(letter, letter)
            self._post(closes)
            self._post(closes)
            self.closed = ("", -1e9)
            self.last = (opens, self.model.now)
        elif happens < 0.20:
            self.app.post_message(events.Paste("cr wm 1x" * 1250))
        elif happens < 0.26:
            self._resize(*self.chance.choice(_SIZES))
        elif happens < 0.34:
            beside = self.watch.query_one("#bar" if happens < 0.30 else "#said").content_region
            if beside.width and beside.height:
                self._click(beside.x, beside.y)
                self._click(beside.x, beside.y)
        elif happens < 0.40:
            self.now = Instant(
                self.now.shifted(self.chance.choice((-3600, 3600, 86400 * 30))).at, self.now.mono
            )

    def _resize(self, width: int, height: int) -> None:
        from textual import events
        from textual.geometry import Size

        size = Size(width, height)
        assert self.app._driver is not None
        self.app._driver._size = size
        self.app.post_message(events.Resize(size, size))


async def _one(way: str, tokens: list[Token], seed: int) -> int:
    from zoneuse.journal.reader import read_journals

    place = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
    try:
        storm_now = Screens(way, tokens, seed, place)
        await storm_now.run()
        journals = read_journals(place / "study")
        assert not [p for p in journals.problems if not p.hint], journals.problems
        found = of_entries(next(iter(journals.sessions.values())).entries)
        model = storm_now.model.standing
        assert found == model, (tokens, found - model, model - found)
        return sum(model.values())
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _still() -> None:
    """Time passes where the storm says so."""
    from zoneuse.screens.recorder import watch

    watch._TICK_S = watch._RETRY_S = watch._READINGS_S = 1e6
    os.environ["XDG_STATE_HOME"] = "/nowhere"
    # Beside much other work a screen may be slow to come and go; that is no fault of what was typed.
    Pilot._wait_for_screen.__defaults__ = (_TOO_LONG_S,)  # type: ignore[attr-defined]


def through_the_screens(way: str, tokens: list[Token], seed: int) -> int:
    """Type a storm into the real app and into the model. Returns how many records stand."""
    _still()
    return asyncio.run(_one(way, tokens, seed))


def many(
    numbers: Iterable[tuple[str, list[Token], int]], at_once: int, told: Callable[[str, int, Any], None]
) -> None:
    """Type storms into as many apps ``at_once``; ``told`` of each hears its way, its seed and records or the fault."""
    _still()
    todo = iter(numbers)

    async def worker() -> None:
        for way, tokens, seed in todo:
            try:
                told(way, seed, await _one(way, tokens, seed))
            except Exception as error:
                told(way, seed, error)

    async def all_of_them() -> None:
        await asyncio.gather(*(worker() for _ in range(at_once)))

    asyncio.run(all_of_them())
