"""How often a forecast holds on dry-downs in stages: python -m tests.sim.calibrate_stages [STUDIES [SEED [KIND …]]].

Asked on day 4, 8 and 12 of running cycles that have not crossed by then, with 0, 1 and 3 past cycles; the kinds the
forecast was set on, then those it was not. Prints a Markdown table for docs/methods/climate.md.
"""

from __future__ import annotations

import sys
import zlib
from typing import NamedTuple

import numpy as np

from tests.sim.calibrate_drying import medians_of, past_of
from tests.sim.stages import KINDS, make_staged
from tests.sim.stages_others import OTHERS, make_other
from zoneuse.stats.drying.dry_forecast import forecast


class Cell(NamedTuple):
    """Percent held, truly earlier and truly later than the interval; dated ones of all asked; steady wrongly."""

    held: float
    earlier: float
    later: float
    error: float
    width: float
    dated: int
    steady: int
    steady_wrong: int


def staged_cell(kind: str, ask: float, past: int, studies: int, seed: int) -> Cell:
    random = np.random.default_rng([seed, zlib.crc32(kind.encode()), int(ask), past])
    make = make_other if kind in OTHERS else make_staged
    rows, steady = [], []
    for _ in range(studies):
        study = make(kind, past, ask, random)
        running = study.cycles[-1]
        days = sum(float(c.t[-1]) for c in study.cycles[:-1]) + ask
        # The sensor's accuracy, and the drift that a check of long ago allows for.
        within = 3.0 + 5.0 * min(days, 180.0) / 180 if kind == "drifting" else 0.0
        made = forecast(medians_of(running, ask), ask, study.limit, past_of(study), accuracy=within)
        if made is None or not made.dated:
            continue
        truth = running.crossing - ask
        rows.append((made.low, made.days, made.high, truth))
        if made.chance_by[14] <= 0.10:
            steady.append(truth < 14)
    low, middle, high, truth = np.array(rows or [[np.nan] * 4]).T
    with np.errstate(invalid="ignore"):
        return Cell(
            100 * float(((low <= truth) & (truth <= high)).mean()),
            100 * float((truth < low).mean()), 100 * float((truth > high).mean()),
            float(np.median(np.abs(middle - truth))), float(np.median(high - low)), len(rows), len(steady), sum(steady),
        )  # fmt: skip


def row(kind: str, ask: float, past: int, studies: int, c: Cell) -> str:
    """One line of the table."""
    told = f"{c.held:.0f} | {c.earlier:.0f} | {c.later:.0f} | {c.error:.1f} | {c.width:.1f}"
    if c.dated < 15:
        told = "– | – | – | – | –"
    told += f" | {c.steady_wrong} of {c.steady}"
    return f"| {kind} | {ask:g} | {past} | {100 * c.dated / studies:.0f} | {told} |"


def main() -> None:
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else 150
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 20261128
    print(
        "| dry-down | day | past | dated, % | held, % | earlier | later | error, d | width, d | steady, crossed |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    for kind in sys.argv[3:] or (*KINDS, *OTHERS):
        for ask in (4.0, 8.0, 12.0):
            for past in (1, 3) if kind == "one past unlike" else (0, 1, 3):
                found = staged_cell(kind, ask, past, studies, seed)
                print(row(kind, ask, past, studies, found), flush=True)


if __name__ == "__main__":
    main()
