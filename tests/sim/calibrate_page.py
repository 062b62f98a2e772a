"""How often a page says something where nothing is going on.

``python -m tests.sim.calibrate_page [--studies N] [--seed N] [--animals 1 3] [--bare]``

Animals without preference over 30 sessions, six zones with a logger each (``--bare``: in every other study no readings
at all), three behaviours, a sham change on the sixteenth day that was expected to move one zone, carry-over from
session to session of 0, .5 and .8 by turns, one and three animals (or those asked for) by turns. All answers are asked
at once through journals and the public door, as a page does. Printed: percent of studies in which any of them is fairly
sure of something that is not there, in which any claims it at all by itself, and in which any does beside all the
others, as a page has it (``at_once``); and in how many studies each answer did by itself.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

from tests.sim.calibrate_zones import error
from tests.sim.creatures import OFFER, alone
from tests.sim.written import ACTS, FIRST, changed_on, write_study
from tests.tables.test_conditions import START, put_readings
from zoneuse import Answer, open_study
from zoneuse.answers.at_once import at_once
from zoneuse.answers.finding import FAIRLY_SURE, LOOKS_LIKE

SESSIONS, SHAM = 30, 15
# What would be a false claim here. Sameness is true; so is "stays on" of animals that carry over.
FALSE = {
    "zones": {"avoided", "favoured"}, "activity": {"more", "less"}, "shifts": {"rose", "fell"},
    "prefer": {"peaked", "rising", "falling", "threshold", "uneven"},
    "retreats": {"together", "apart", "keeps to it", "stays on", "moves when dry", "unused"},
}  # fmt: skip


def nothing_going_on(
    folder: Path, animals: int, carry: float, random: np.random.Generator, readings: bool = True
) -> None:
    """One study on disk. Places differ in warmth, which swings with the weather of days; nobody minds."""
    zone = alone(animals, SESSIONS, random, carry)
    acts = np.minimum(alone(animals, SESSIONS, random, carry), len(ACTS) - 1)
    write_study(folder, zone, OFFER, acts)
    changed_on(folder, SHAM, 3)
    if readings:
        _put_loggers(folder, random)


def _put_loggers(folder: Path, random: np.random.Generator) -> None:
    """A logger in each zone, a reading an hour."""
    text = (folder / "study.toml").read_text(encoding="utf-8")
    text += "".join(f'\n[loggers.l{z}]\nplaced = [{{zone = "z{z}"}}]\n' for z in range(OFFER.size))
    (folder / "study.toml").write_text(text, encoding="utf-8")
    hours = np.arange(-24, 24 * SESSIONS + 24)
    weather = np.repeat(random.normal(0, 1.5, hours.size // 24 + 1), 24)[: hours.size]
    for z in range(OFFER.size):
        swing = 2.5 * np.sin(2 * np.pi * (hours / 24 + random.random()))
        warm = 20 + 2 * z + weather + swing + random.normal(0, 0.3, hours.size)
        moist = 85 - 4 * z + 3 * random.normal(size=hours.size) - 1.5 * weather
        at = [(FIRST - START).total_seconds() / 60 + 60.0 * h for h in hours]
        put_readings(
            folder, f"l{z}", at, {"temperature_c": list(warm), "humidity_pct": list(np.clip(moist, 5, 99))}
        )


def false_claims(folder: Path, carry: float) -> tuple[dict[str, set[str]], set[str]]:
    """The standings of false claims by answer; and those they have beside each other on a page."""
    study = open_study(folder)
    answers = (
        study.zones(), study.activity(), study.preference(compare=False), study.shifts(), study.retreats()
    )  # fmt: skip
    alone = {answer.answer: _false(answer, carry) for answer in answers}
    return alone, set().union(*(_false(answer, carry) for answer in at_once(answers)))


def _false(answer: Answer, carry: float) -> set[str]:
    false = FALSE[answer.answer] - ({"stays on"} if carry else set())
    return {f.standing for f in answer.findings if f.verdict in false}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=100)
    parser.add_argument("--seed", type=int, default=240_000)
    parser.add_argument("--animals", type=int, nargs="+", default=[1, 3])
    parser.add_argument("--bare", action="store_true")
    given = parser.parse_args()
    studies, many = given.studies, len(given.animals)
    sure, looks, page = (np.zeros(studies, bool) for _ in range(3))
    by = Counter[str]()
    for number in range(studies):
        animals, carry = given.animals[number % many], (0.0, 0.5, 0.8)[number // many % 3]
        readings = not given.bare or number // (3 * many) % 2 == 0
        with tempfile.TemporaryDirectory() as folder:
            random = np.random.default_rng(given.seed + number)
            nothing_going_on(Path(folder) / "s", animals, carry, random, readings)
            told, beside = false_claims(Path(folder) / "s", carry)
        sure[number] = any(FAIRLY_SURE in standings for standings in told.values())
        looks[number] = any(told.values())
        page[number] = bool(beside & {FAIRLY_SURE, LOOKS_LIKE})
        kind = f"{animals} animals" if readings else f"{animals} animals, no readings"
        by.update([kind] + ([f"{kind}: claim"] if page[number] else []))
        by.update(name for name, standings in told.items() if standings)
        by.update(f"{name} sure" for name, standings in told.items() if FAIRLY_SURE in standings)
        done = number + 1
        if done % 10 == 0:
            shares = [
                f"{100 * v[:done].mean():.0f} (s.e. {error(v[:done].mean(), done):.1f})"
                for v in (sure, looks, page)
            ]
            print(f"| {done} studies | {' | '.join(shares)} | {dict(by)} |", flush=True)


if __name__ == "__main__":
    main()
