"""How often a change that did nothing is ever called: ``python -m tests.sim.calibrate_evenings [STUDIES]``.

Asked after the evenings from the fifth to the thirtieth after the change, 16 before it; three animals and one, zone 3
expected to rise. Array level, levels and standings as the answer has them. Prints a Markdown table for
docs/methods/looking-often.md.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np
import pandas as pd

from tests.sim.calibrate_shifts import PLACES
from tests.sim.calibrate_zones import error
from tests.sim.changes import SCANS, Ints, homes, moods, step
from zoneuse.answers.shifts.judge import FELL, ROSE, family, stands, verdict_of
from zoneuse.answers.shifts.moved import moved_shares
from zoneuse.answers.shifts.phases import Sides

BEFORE = 16
EVENINGS = (5, 6, 7, 8, 10, 12, 15, 18, 22, 26, 30)
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


def told(zone: Ints, seed: int) -> tuple[bool, bool]:
    """Whether anything is called, and whether surely so."""
    found = sides(zone)
    moved = moved_shares(found, "zone", "place", PLACES, draws=999, seed=seed)
    main = np.array([m.name == PLACES[3] for m in moved])
    adjusted, level = family(np.array([m.p for m in moved]), main)
    strict, _ = family(np.array([m.p_sure for m in moved]), main)
    claimed = [
        verdict_of(m, float(p), float(at), held_within=0.1, by_lot=False, counts=found.counts)[0]
        in (ROSE, FELL)
        for m, p, at in zip(moved, adjusted, level, strict=True)
    ]
    sure = [
        c and stands(m, float(p), float(at), False)
        for c, m, p, at in zip(claimed, moved, strict, level, strict=True)
    ]
    return any(claimed), any(sure) and min(found.counts) >= _SURE_FROM


def main() -> None:
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    print(
        "| what they do | a claim at 15 evenings | ever claimed | ever fairly sure | s.e. |\n|---|---|---|---|---|"
    )
    for name, (make, animals) in CELLS.items():
        found = np.zeros((studies, len(EVENINGS), 2), bool)
        for number in range(studies):
            zone = make(BEFORE, EVENINGS[-1], animals, np.random.default_rng(830_000 + number))
            found[number] = [told(zone[: BEFORE + n], number) for n in EVENINGS]
        single = found[:, EVENINGS.index(15), 0].mean()
        ever, sure = found.any(axis=1).mean(axis=0)
        print(
            f"| {name} | {100 * single:.0f} | {100 * ever:.0f} | {100 * sure:.0f} | {error(sure, studies):.1f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
