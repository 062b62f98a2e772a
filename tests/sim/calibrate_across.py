"""Do the mean over keepers and the next enclosure's interval hold, from study folders through `share` to `across`?

``nice python -m tests.sim.calibrate_across [pools [seed]]``: cells of keepers, enclosures of each, spread and share;
results in docs/methods/pooling.md. Every enclosure is a study folder of its own with journals: two animals that stay
where they were in half of the scans, eight to twelve evenings of six scans.
"""

from __future__ import annotations

import math
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.making import TWO_ZONES, scans, study_folder
from zoneuse import open_study
from zoneuse.across.ask import across
from zoneuse.across.executors import one_by_one
from zoneuse.across.shared import Consent, to_json
from zoneuse.across.summary import summarise

# Keepers, enclosures of each, spread on the log-odds scale (.8 of it between keepers, .6 within), the place's share.
CELLS = tuple(
    (k, each, tau, share)
    for k, each in ((5, 2), (10, 2), (5, 1))
    for tau in (0.5, 1.2)
    for share in (0.3, 0.1)
)
OFFERED = 0.2


@dataclass(frozen=True, slots=True)
class Held:
    """Of ``pools`` how often the limits held the mean, and the interval a new keeper's enclosure."""

    pools: int
    mean: int
    next_one: int


def pooled(
    folder: Path, cell: tuple[int, int, float, float], chance: np.random.Generator
) -> tuple[bool, bool]:
    """One pool: whether the limits hold the mean's ratio, and the interval that of a next enclosure."""
    k, each, tau, share = cell
    truth = math.log(share / (1 - share)) - math.log(OFFERED / (1 - OFFERED))
    between, within = (tau, 0.0) if each == 1 else (0.8 * tau, 0.6 * tau)
    for keeper in range(k):
        own = truth + float(chance.normal(0, between))
        for tub in range(each):
            study = enclosure(folder / f"study{keeper}_{tub}", own + float(chance.normal(0, within)), chance)
            told = summarise(
                open_study(study), f"{keeper:016x}", f"{100 * keeper + tub:016x}", Consent("", "", "")
            )
            (folder / f"{keeper}_{tub}.zoneuse.json").write_text(to_json(told))
    shared = [str(path) for path in sorted(folder.glob("*.zoneuse.json"))]
    row = next(r for r in across(shared, executor=one_by_one).rows if r.name == "humid retreat")
    new = truth + float(chance.normal(0, between)) + float(chance.normal(0, within))
    return _within(row.low, truth, row.high), _within(row.next_low, new, row.next_high)


def enclosure(folder: Path, effect: float, chance: np.random.Generator) -> Path:
    """A study in which the moss is used as its share and ``effect`` (log odds) say."""
    text = TWO_ZONES.replace('key = "m"', 'key = "m"\nas = "humid retreat"')
    rest = (1 - OFFERED) / OFFERED
    study = study_folder(folder, _amounts(text, 100.0, 100.0 * rest))
    share = 1 / (1 + math.exp(-(math.log(OFFERED / (1 - OFFERED)) + effect)))
    where = chance.random(2) < share
    for day in range(1, int(chance.integers(8, 13)) + 1):
        rows = []
        for _ in range(6):
            moves = chance.random(2) < 0.5
            where = np.where(moves, chance.random(2) < share, where)
            rows.append(tuple("moss" if there else "bark" for there in where))
        scans(study, f"2026-02-{day:02d}T19:00", rows, animals=("a1", "a2"))
    return study


def _amounts(text: str, moss: float, bark: float) -> str:
    parts = text.split("amount = ")
    assert len(parts) == 3, "two zones with amounts"
    return (
        parts[0]
        + f"amount = {moss}\n"
        + parts[1].split("\n", 1)[1]
        + f"amount = {bark}\n"
        + parts[2].split("\n", 1)[1]
    )


def _within(low: float | None, value: float, high: float | None) -> bool:
    """``low`` and ``high`` are ratios to the share that is offered, ``value`` log odds against it."""
    assert low is not None and high is not None
    ratio = 1 / (1 + math.exp(-(math.log(OFFERED / (1 - OFFERED)) + value))) / OFFERED
    return low <= ratio <= high


def measured(cell: tuple[int, int, float, float], pools: int, seed: int) -> Held:
    chance = np.random.default_rng(seed)
    held = []
    for _ in range(pools):
        with tempfile.TemporaryDirectory() as place:
            held.append(pooled(Path(place), cell, chance))
    return Held(pools, sum(mean for mean, _ in held), sum(ahead for _, ahead in held))


def main(arguments: Iterable[str]) -> None:
    given = [int(a) for a in arguments]
    pools, seed = (given + [40, 1][len(given) :])[:2]
    print("| keepers | enclosures each | spread | share | pools | mean held, % | next held, % |")
    print("|---|---|---|---|---|---|---|")
    for cell in CELLS:
        found = measured(cell, pools, seed)
        told = (*cell, pools, round(100 * found.mean / pools), round(100 * found.next_one / pools))
        print("| " + " | ".join(map(str, told)) + " |", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
