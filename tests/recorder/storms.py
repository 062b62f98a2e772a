"""Storms: random keys, waits and bundles; through the core, and through the real screens.

``python -m tests.recorder.storms 10000 [seed]`` runs so many through the core and a tenth of them through the screens.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from tests.recorder.driver import START, Driver, drive
from tests.recorder.model import KEY_S, Base, Focal, Passing, Round, Scans, Token
from tests.recorder.studies import ROUND, STUDY
from zoneuse.journal.fold import Entry

# Way of watching: the study, what the session is asked for, and the model of it.
WAYS: dict[str, tuple[str, dict[str, Any], Any]] = {
    "scan": (STUDY, {"minutes": 3.0}, lambda: Scans()),
    "settling": (STUDY, {"minutes": 3.0, "quiet_min": 0.5}, lambda: Scans(first=30.0)),
    "ad-libitum": (STUDY, {"method": "ad-libitum"}, lambda: Passing()),
    "focal": (STUDY, {"method": "focal", "animals": ("a1",)}, lambda: Focal(everyone=("1",))),
    "several": (STUDY, {"method": "focal", "animals": ("a1", "a2", "a3")}, lambda: Focal(everyone=("1", "2", "3"))),
    "round": (ROUND, {}, lambda: Round()),
}  # fmt: skip
_KEYS = "ccwbrmsx123Yqo56"
_ACTS = (
    "same", "same", "same_all", "unseen", "undo", "undo", "guess", "hidden", "someone", "event", "accept", "accept",
    "next_one", "earlier", "now", "pause", "lifted",
)  # fmt: skip
_COUNTS = ("c3w2-1", "c6", "w4b2", "c3rw3", "c2", "-6", "c7")


def storm(way: str, seed: int) -> list[Token]:
    """Up to 40 tokens; answers that make sense are as frequent as nonsense, so that there is something to undo."""
    chance = random.Random(seed)
    tokens: list[Token] = []
    for _ in range(chance.randrange(3, 40)):
        kind = chance.random()
        if kind < 0.35:
            tokens += [chance.choice("cwbld"), chance.choice("rms")]
        elif kind < 0.55:
            tokens.append(chance.choice(_KEYS))
        elif kind < 0.62:
            tokens += ["Y", *_as_tokens(chance.choice(_COUNTS)), "accept"]
        elif kind < 0.70:
            tokens.append(("wait", chance.choice((0.3, 1.0, 4.0, 6.0, 25.0, 61.0))))
        else:
            tokens.append(chance.choice(_ACTS))
    if way == "round":
        tokens = [t for t in tokens if t != "someone"]
    if way in ("focal", "several"):
        tokens = [t for t in tokens if t != "now"]
    return tokens


def _as_tokens(text: str) -> list[Token]:
    return ["unseen" if sign == "-" else sign for sign in text]


def recorded(d: Driver) -> Counter[str]:
    """What a reader finds on the disk, as the model writes it; what it is opened and closed with is left out."""
    return of_entries(d.session().entries)


def of_entries(entries: Iterable[Entry]) -> Counter[str]:
    return Counter(
        f"{e.record.kind} {sorted(e.record.fields.items())}"
        for e in entries
        if e.record.kind not in ("opened", "closed", "took-back", "context")
    )


def through_the_core(way: str, tokens: list[Token]) -> int:
    """Type a storm into the core and into the model. Returns how many records stand."""
    text, asked, make = WAYS[way]
    place = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
    try:
        d, model = drive(place, text, **asked), make()
        model.tick()
        for number, token in enumerate(tokens):
            _feed(d, token)
            model.feed(token)
            # Looking at the screen must change nothing.
            d.core.prompt(d.now), d.core.whereabouts()
            if number % 7 == 0:
                assert recorded(d) == model.standing, (tokens[: number + 1], *_differ(d, model))
        d.core.finish(d.now)
        model.finish()
        assert recorded(d) == model.standing, (tokens, *_differ(d, model))
        d.core.ledger.close()
        return sum(model.standing.values())
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _differ(d: Driver, model: Base) -> tuple[Counter[str], Counter[str]]:
    return recorded(d) - model.standing, model.standing - recorded(d)


def _feed(d: Driver, token: Token) -> None:
    if isinstance(token, tuple):
        d.wait(token[1])
        return
    d.now = d.now.shifted(KEY_S)
    if len(token) == 1:
        d.core.press(token, d.now)
    else:
        d.core.act(token, d.now)


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


class Screens:
    """A storm through the real screens, in bundles of up to twenty keys, with what else may happen to a terminal."""

    def __init__(self, way: str, tokens: list[Token], seed: int, place: Path) -> None:
        from tests.recorder.studies import make_study
        from zoneuse.recording.session.moment import Moment
        from zoneuse.recording.session.plan import make_plan
        from zoneuse.recording.session.recall import Recall
        from zoneuse.screens.recorder.app import RecorderApp
        from zoneuse.study.toml.file import load_declaration

        text, asked, make = WAYS[way]
        self.way, self.tokens, self.chance, self.model = way, tokens, random.Random(seed), make()
        self.now = Moment(START, 1000.0)
        declared = load_declaration(make_study(place / "study", text))
        plan = make_plan(declared, START, **{"quiet_min": 0.0, **asked})
        self.app = RecorderApp(plan, Recall, clocks=lambda: self.now)
        self.last = ("", -1e9)
        self.closed = ("enter", 0.0)  # the Enter that begins answers nothing as well

    async def run(self) -> None:
        from zoneuse.screens.recorder.watch import WatchScreen

        async with self.app.run_test(size=self.chance.choice(_SIZES)) as pilot:
            await self.app.workers.wait_for_complete()
            await pilot.pause()
            self._post("enter")
            while not isinstance(self.app.screen, WatchScreen):
                await pilot.pause(0.01)
            await pilot.pause()
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
                size = self.chance.choice((1, 1, 2, 5, 20))
                first = True
                for _ in range(size):
                    if not left or isinstance(left[0], tuple):
                        break
                    self._press(str(left.pop(0)), first)
                    first = False
                await self._meanwhile(pilot)
                await pilot.pause()
                on_top = [s for s in self.app.screen_stack if isinstance(s, WatchScreen)]
                assert on_top and self.app.screen is on_top[-1], self.app.screen_stack
            core = self.app.core
            assert core is not None
            self._tick()
            core.finish(self.now)
            self.model.finish()

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
        whole = self.way == "round" and key in ("enter", "minus", "up", "tab")
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

        event = events.Key(key, character)
        event.time += 3600.0  # the storm's clock stands still: no key is older than another by waiting longer
        self.app.post_message(event)

    async def _meanwhile(self, pilot: Any) -> None:
        """What else happens: boxes, pastes, resizes, touches beside the keys, a clock that is set."""
        from textual import events
        from textual.pilot import OutOfBounds

        from zoneuse.recording.session.moment import Moment

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
            await pilot.resize_terminal(*self.chance.choice(_SIZES))
        elif happens < 0.34:
            with contextlib.suppress(OutOfBounds):
                await pilot.click("#bar" if happens < 0.30 else "#said", times=2)
        elif happens < 0.40:
            self.now = Moment(
                self.now.shifted(self.chance.choice((-3600, 3600, 86400 * 30))).at, self.now.mono
            )


def through_the_screens(way: str, tokens: list[Token], seed: int) -> int:
    """Type a storm into the real app and into the model. Returns how many records stand."""
    from zoneuse.journal.reader import read_journals
    from zoneuse.screens.recorder import watch

    watch._TICK_S = watch._RETRY_S = watch._READINGS_S = 1e6  # time passes where the storm says so
    place = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
    os.environ["XDG_STATE_HOME"] = str(place)
    try:
        storm_now = Screens(way, tokens, seed, place)
        asyncio.run(storm_now.run())
        journals = read_journals(place / "study")
        assert not [p for p in journals.problems if not p.hint], journals.problems
        found = of_entries(next(iter(journals.sessions.values())).entries)
        model = storm_now.model.standing
        assert found == model, (tokens, found - model, model - found)
        return sum(model.values())
    finally:
        shutil.rmtree(place, ignore_errors=True)


_SIGNS = {
    "same": "=", "same_all": "+", "unseen": "-", "guess": ",", "hidden": ";", "someone": "*", "event": "!",
    "earlier": "<", "now": ">", "pause": ":", "lifted": "_",
}  # fmt: skip


def through_the_lines(way: str, tokens: list[Token], seed: int) -> int:
    """Type a storm into the line mode, a few keys to the line, and into the model."""
    from zoneuse.recording.session.recall import Recall
    from zoneuse.recording.telling.plain import PlainSession

    text, asked, make = WAYS[way]
    chance = random.Random(seed)
    place = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
    try:
        d, model = drive(place, text, **asked), make()
        session = PlainSession(d.core, Recall(), lambda said: None)
        model.tick()
        left = [t for t in tokens if t not in ("q", "5", "6")]
        while left:
            token = left.pop(0)
            if isinstance(token, tuple):
                d.wait(token[1])
                model.wait(token[1])
                continue
            d.now = d.now.shifted(KEY_S)
            if not model.paused:
                model.now += KEY_S
                model.tick()
                model.now -= KEY_S
            if len(token) > 1 and token not in _SIGNS:
                session.answer(token.replace("_", "-"), d.now)
                model.feed(token)
                continue
            line = [token]
            for _ in range(chance.randrange(0, 8)):
                if left and isinstance(left[0], str) and (len(left[0]) == 1 or left[0] in _SIGNS):
                    line.append(left.pop(0))  # type: ignore[arg-type]
            session.answer("".join(_SIGNS.get(t, t) for t in line), d.now)
            _line_to_model(model, line)
        model.now = d.now.mono - 1000.0
        d.core.finish(d.now)
        model.finish()
        assert recorded(d) == model.standing, (tokens, *_differ(d, model))
        d.core.ledger.close()
        return sum(model.standing.values())
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _line_to_model(model: Base, line: list[str]) -> None:
    """All keys of a line have one time; one that means nothing, or that calls up a doubt, ends it."""
    model.begin_line()
    now = model.now
    for number, token in enumerate(line):
        model.now, model.unknown = now, False
        model.feed(token)
        if model.unknown or (model.in_doubt and number + 1 < len(line)):
            return
    if not model.paused:
        model.take_line()


def main(times: int, seed: int) -> None:
    _many(times, seed, "core", lambda way, tokens, number: through_the_core(way, tokens))
    _many(times // 10, seed, "lines", through_the_lines)
    _many(times // 10, seed, "screens", through_the_screens)


def _many(times: int, seed: int, what: str, through: Any) -> None:
    began, records = time.monotonic(), 0
    for number in range(times):
        way = sorted(WAYS)[number % len(WAYS)]
        tokens = storm(way, seed + number)
        try:
            records += through(way, tokens, seed + number)
        except AssertionError as error:
            print(f"{way} {seed + number}: {error}")
            raise SystemExit(1) from None
    took = time.monotonic() - began
    print(
        f"{times} storms through the {what}, {records} records stand, none differs; {took:.0f} s", flush=True
    )


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)
