"""How often a change that did nothing is ever called: ``python -m tests.sim.calibrate_evenings [WHAT …]``.

WHAT: thirty (asked after evenings from the fifth to the thirtieth after the change, 16 before it), carry (to the
184th, animals without preference that carry their place over to the next session), expected (a change that did
something, told beforehand or not: when it is first called). Zone 3 is expected to rise. Array level, levels and
standings as the answer has them. Prints Markdown tables for docs/methods/looking-often.md.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from tests.sim.calibrate_shifts import PLACES
from tests.sim.calibrate_zones import error
from tests.sim.changes import SCANS, WATCHED, Ints, homes, moods, step
from tests.sim.creatures import alone
from zoneuse.answers.shifts.judge import ALPHA, FELL, ROSE, family, stands, verdict_of
from zoneuse.answers.shifts.moved import moved_shares
from zoneuse.answers.shifts.phases import Sides
from zoneuse.stats.intervals import PART_OF_LEVEL

BEFORE = 16
EVENINGS = (5, 6, 7, 8, 10, 12, 15, 18, 22, 26, 30)
LONG = (*EVENINGS, 40, 55, 75, 100, 140, 184)
# Units on each side for "fairly sure here".
_SURE_FROM = 15
Creatures = Callable[[int, int, int, np.random.Generator], Ints]
CELLS: dict[str, tuple[Creatures, int]] = {
    "nothing": (step, 3),
    "nothing, one animal": (step, 1),
    "three homes, every ten days": (homes, 3),
    "day moods AR .5, sd .7": (lambda b, a, n, r: moods(b, a, n, r, 0.5), 3),
    "day moods AR .8, sd .7": (lambda b, a, n, r: moods(b, a, n, r, 0.8), 3),
}


def sides(zone: Ints) -> Sides:
    """Days x animals x scans as the answer sees them: one unit a day, the first ``BEFORE`` before the change."""
    days, animals, _ = zone.shape
    rows = pd.DataFrame({"place": [PLACES[z] for z in zone.ravel()], "weight": 1.0})
    rows["animal"] = np.tile(np.repeat([f"a{k}" for k in range(animals)], SCANS), days)
    rows["group"] = None
    unit, late = np.repeat(np.arange(days), animals * SCANS), np.arange(days) >= BEFORE
    return Sides(rows, unit, late, np.zeros(days, np.int64), np.arange(days, dtype=float), ())


def called(zone: Ints, seed: int, expected: int | None = WATCHED) -> tuple[set[str], set[str]]:
    """The zones that are called, and those surely so; ``expected`` is the zone that was told beforehand."""
    found = sides(zone)
    moved = moved_shares(found, "zone", "place", PLACES, draws=999, seed=seed)
    main = np.array([expected is not None and m.name == PLACES[expected] for m in moved])
    now = family(np.array([m.p for m in moved]), main, moved)
    always = family(np.array([m.p_sure for m in moved]), main, moved, PART_OF_LEVEL * ALPHA)
    words = [
        verdict_of(m, float(p), float(at), held_within=0.1, by_lot=False, counts=found.counts)[0]
        for m, p, at in zip(moved, now.adjusted, now.level, strict=True)
    ]
    claimed = {m.name for m, word in zip(moved, words, strict=True) if word in (ROSE, FELL)}
    if min(found.counts) < _SURE_FROM:
        return claimed, set()
    sure = {
        m.name
        for m, p, at in zip(moved, always.adjusted, always.level, strict=True)
        if stands(m, float(p), float(at), False)
    }
    return claimed, claimed & sure


def told(zone: Ints, seed: int) -> tuple[bool, bool]:
    """Whether anything is called, and whether surely so."""
    claimed, sure = called(zone, seed)
    return bool(claimed), bool(sure)


def thirty(studies: int) -> None:
    print(
        "| what they do | a claim at 15 evenings | ever claimed | ever fairly sure | s.e. |\n|---|---|---|---|---|"
    )
    for name, (make, animals) in CELLS.items():
        _row(name, lambda r, m=make, a=animals: m(BEFORE, EVENINGS[-1], a, r), EVENINGS, studies)


def carry(studies: int, many: Sequence[int] = (1, 3, 8), carried: Sequence[float] = (0.0, 0.5, 0.8)) -> None:
    print(
        "| animals, carry-over | a claim at 15 evenings | ever claimed | ever fairly sure | s.e. |\n"
        "|---|---|---|---|---|"
    )
    for animals in many:
        for kept in carried:
            _row(
                f"{animals}, {kept:g}",
                lambda r, a=animals, c=kept: np.moveaxis(alone(a, BEFORE + LONG[-1], r, c), 0, 1), LONG, studies,
            )  # fmt: skip


def _row(
    name: str, make: Callable[[np.random.Generator], Ints], evenings: tuple[int, ...], studies: int
) -> None:
    found = np.zeros((studies, len(evenings), 2), bool)
    for number in range(studies):
        zone = make(np.random.default_rng(830_000 + number))
        found[number] = [told(zone[: BEFORE + n], number) for n in evenings]
    single = found[:, evenings.index(15), 0].mean()
    ever, sure = found.any(axis=1).mean(axis=0)
    print(
        f"| {name} | {100 * single:.0f} | {100 * ever:.0f} | {100 * sure:.0f} | {error(sure, studies):.1f} |",
        flush=True,
    )


def expected(studies: int) -> None:
    """When a true rise of zone 3 is first called, told beforehand or not; and what else is called meanwhile."""
    evenings = (5, 6, 7, 8, 10, 12, 15, 18, 22, 26, 30, 35, 40, 50, 60)
    print(
        "| zone 3 from .15 to | animals | told beforehand | called by evening 8, 15, 30 | median evening | fairly sure "
        "by 30, 60 | another zone fairly sure |\n|---|---|---|---|---|---|---|"
    )
    for to in (0.15, 0.30, 0.45):
        for animals in (1, 3):
            for beforehand in (True, False):
                first, surely, other = (np.full(studies, np.inf) for _ in range(3))
                for number in range(studies):
                    zone = step(BEFORE, evenings[-1], animals, np.random.default_rng(840_000 + number), to)
                    for n in evenings:
                        claimed, sure = called(zone[: BEFORE + n], number, WATCHED if beforehand else None)
                        first[number] = min(first[number], n if PLACES[WATCHED] in claimed else np.inf)
                        surely[number] = min(surely[number], n if PLACES[WATCHED] in sure else np.inf)
                        other[number] = min(other[number], n if sure - {PLACES[WATCHED]} else np.inf)
                by = ", ".join(f"{100 * np.mean(first <= n):.0f}" for n in (8, 15, 30))
                late = ", ".join(f"{100 * np.mean(surely <= n):.0f}" for n in (30, 60))
                print(
                    f"| {to} | {animals} | {'yes' if beforehand else 'no'} | {by} | {np.median(first):.0f} "
                    f"| {late} | {100 * np.mean(np.isfinite(other)):.0f} |", flush=True,
                )  # fmt: skip


MEASURES = {"thirty": thirty, "carry": carry, "expected": expected}

if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="*", choices=[*MEASURES, []], default=[])
    parser.add_argument("--studies", type=int, default=60)
    parser.add_argument("--animals", type=int, nargs="+", default=[1, 3, 8], help="of carry")
    parser.add_argument("--kept", type=float, nargs="+", default=[0.0, 0.5, 0.8], help="of carry")
    given = parser.parse_args()
    for chosen in given.what or MEASURES:
        if chosen == "carry":
            carry(given.studies, given.animals, given.kept)
        else:
            MEASURES[chosen](given.studies)
