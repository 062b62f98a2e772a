"""Storms: random keys, waits and bundles; through the core, and through the real screens.

``python -m tests.recorder.storms 10000 [seed]`` runs so many through the core and a tenth of them through the screens.
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from tests.recorder.driver import Driver, drive
from tests.recorder.model import KEY_S, Base, Focal, Passing, Round, Scans, Token
from tests.recorder.studies import ROUND, STUDY

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
    return Counter(
        f"{e.record.kind} {sorted(e.record.fields.items())}"
        for e in d.session().entries
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


def main(times: int, seed: int) -> None:
    began, records = time.monotonic(), 0
    for number in range(times):
        way = sorted(WAYS)[number % len(WAYS)]
        tokens = storm(way, seed + number)
        try:
            records += through_the_core(way, tokens)
        except AssertionError as error:
            print(f"{way} {seed + number}: {error}")
            raise SystemExit(1) from None
    took = time.monotonic() - began
    print(f"{times} storms through the core, {records} records stand, none differs; {took:.0f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)
