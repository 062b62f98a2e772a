"""Storms: random keys, waits and bundles; through the core, and through the real screens.

``python -m tests.recorder.storms 10000 [seed]`` runs so many through the core and a tenth of them through the lines and
the screens; ``python -m tests.recorder.storms screens 10000 [seed [at once]]`` runs all of them through the screens.
"""

from __future__ import annotations

import itertools
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from tests.recorder.driver import Driver, drive
from tests.recorder.model import KEY_S, LONG, TWO, Base, Focal, Passing, Round, Scans, Token
from tests.recorder.studies import ROUND, STUDY, two_characters
from zoneuse.journal.fold import Entry

_TWOS = ("A1", "2", "3", "Y")
# Way of watching: the study, what the session is asked for, and the model of it.
WAYS: dict[str, tuple[str, dict[str, Any], Any]] = {
    "scan": (STUDY, {"minutes": 3.0}, lambda: Scans()),
    "settling": (STUDY, {"minutes": 3.0, "quiet_min": 0.5}, lambda: Scans(first=30.0)),
    "ad-libitum": (STUDY, {"method": "ad-libitum"}, lambda: Passing()),
    "focal": (STUDY, {"method": "focal", "animals": ("a1",)}, lambda: Focal(everyone=("1",))),
    "several": (STUDY, {"method": "focal", "animals": ("a1", "a2", "a3")}, lambda: Focal(everyone=("1", "2", "3"))),
    "round": (ROUND, {}, lambda: Round()),
    "scan of two": (two_characters(STUDY), {"minutes": 3.0}, lambda: Scans(keys=TWO, everyone=_TWOS)),
    "ad-libitum of two": (two_characters(STUDY), {"method": "ad-libitum"}, lambda: Passing(keys=TWO, everyone=_TWOS)),
    "several of two": (two_characters(STUDY), {"method": "focal", "animals": ("a1", "a2", "a3")},
                       lambda: Focal(keys=TWO, everyone=_TWOS[:3])),
    "round of two": (two_characters(ROUND), {}, lambda: Round(keys=TWO, everyone=_TWOS, place="h1")),
}  # fmt: skip
_KEYS = "ccwbrmsx123Yqo56"
_ACTS = (
    "same", "same", "same_all", "unseen", "undo", "undo", "guess", "hidden", "someone", "event", "accept", "accept",
    "next_one", "earlier", "now", "pause", "lifted",
)  # fmt: skip
_WAITS = (0.3, 1.0, 4.0, 6.0, 25.0, 61.0)
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
            tokens.append(("wait", chance.choice(_WAITS)))
        else:
            tokens.append(chance.choice(_ACTS))
    return fitted(way, tokens, chance)


def fitted(way: str, tokens: list[Token], chance: random.Random) -> list[Token]:
    """Tokens as this way of watching has them: in its keys, without what it has no use for."""
    if way.endswith("of two"):
        tokens = _in_long_keys(tokens, chance)
    if way.startswith("round"):
        tokens = [t for t in tokens if t != "someone"]
    if way.startswith(("focal", "several")):
        tokens = [t for t in tokens if t != "now"]
    return tokens


def storms_of(way: str) -> st.SearchStrategy[list[Token]]:
    """The same as a strategy, so that hypothesis drives and makes what fails as short as it can."""
    piece: st.SearchStrategy[list[Token]] = st.one_of(
        st.tuples(st.sampled_from("cwbld"), st.sampled_from("rms")).map(list),
        st.sampled_from(_KEYS).map(lambda key: [key]),
        st.sampled_from(_COUNTS).map(lambda text: ["Y", *_as_tokens(text), "accept"]),
        st.sampled_from(_WAITS).map(lambda seconds: [("wait", seconds)]),
        st.sampled_from(_ACTS).map(lambda name: [name]),
    )
    pieces = st.lists(piece, max_size=30)
    return st.builds(
        lambda made, seed: fitted(way, list(itertools.chain(*made)), random.Random(seed)),
        pieces,
        st.integers(0, 10**6),
    )


def _in_long_keys(tokens: list[Token], chance: random.Random) -> list[Token]:
    """The same in keys of two characters, now and then with something between them, or without the second."""
    found: list[Token] = []
    counted = False
    for token in tokens:
        # A number stays one within a group's counts.
        counted = token == "Y" or (counted and token in ("unseen", *"cwb0123456789rs"))
        if not isinstance(token, str) or token not in LONG or (counted and token == "1"):
            found.append(token)
            continue
        first, rest = LONG[token][0], LONG[token][1:]
        found.append(first)
        kind = chance.random()
        if kind < 0.04:
            found.append(("wait", chance.choice((0.3, 6.0, 61.0))))
        elif kind < 0.08:
            found.append(chance.choice(("undo", "guess", "event", "pause", "h", "q")))
        if chance.random() > 0.05:
            found += list(rest)
    return found


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
            d.core.prompt(d.now), d.core.marks_by_zone()
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
            if chance.random() < 0.05:
                session.answer("cr wm 1x" * 1250, d.now)  # pasted: no line of keys
            if chance.random() < 0.05:
                d.step_clock(chance.choice((-3600, 3600, 86400 * 30)))
            line = [token]
            for _ in range(chance.choice((0, 1, 4, 7, 19))):
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
    model.begun_key = ""
    now = model.now
    for number, token in enumerate(line):
        model.now, model.unknown = now, False
        model.feed(token)
        if model.unknown or (model.in_doubt and number + 1 < len(line)):
            return
    if not model.paused:
        model.take_line()
    model.begun_key = ""


def main(times: int, seed: int) -> None:
    _many(times, seed, "core", lambda way, tokens, number: through_the_core(way, tokens))
    _many(times // 10, seed, "lines", through_the_lines)
    screens(times // 10, seed)


def screens(times: int, seed: int, at_once: int = 8) -> None:
    """Storms through the real screens, several at once; each that differs is named, and the rest is done."""
    from tests.recorder.storm_screens import many

    began, records, failed = time.monotonic(), [0, 0], []

    def told(way: str, number: int, came: Any) -> None:
        records[0] += 1
        if isinstance(came, int):
            records[1] += came
        else:
            failed.append(number)
            print(f"{way} {number}: {type(came).__name__}: {str(came)[:2000]}", flush=True)
        if records[0] % 100 == 0:
            print(f"{records[0]} done, {len(failed)} failed, {time.monotonic() - began:.0f} s", flush=True)

    ways = sorted(WAYS)
    storms = (
        (way, storm(way, seed + n), seed + n)
        for n, way in zip(range(times), itertools.cycle(ways), strict=False)
    )
    many(storms, at_once, told)
    print(
        f"{times} storms through the screens, {records[1]} records stand, {len(failed)} failed; "
        f"{time.monotonic() - began:.0f} s, {time.process_time():.0f} s of processor",
        flush=True,
    )
    if failed:
        raise SystemExit(1)


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
    if sys.argv[1] == "screens":
        screens(*map(int, sys.argv[2:]))
    else:
        main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)
