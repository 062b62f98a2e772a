"""Animals of another's making, through the public answers: ``python -m tests.sim.calibrate_strangers 40``."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from tests.sim.strangers import (
    OFFER,
    Ints,
    about_a_day,
    alone,
    followers,
    hours,
    hours_and_weeks,
    risen,
    rounds,
    some_days,
)
from tests.sim.written import changed_on, write_study
from zoneuse import Answer, open_study
from zoneuse.answers.finding import FAIRLY_SURE

BEFORE, AFTER, ANIMALS, SEEDS = 20, 20, 3, 990_000
CLAIMS = {"rose", "fell", "avoided", "favoured", "keeps to it", "together", "apart"}
Random = np.random.Generator
CELLS: dict[str, Callable[[Random], Ints]] = {
    "stays of hours": lambda r: alone(BEFORE + AFTER, ANIMALS, hours, r),
    "about a day": lambda r: alone(BEFORE + AFTER, ANIMALS, about_a_day, r),
    "some days": lambda r: alone(BEFORE + AFTER, ANIMALS, some_days, r),
    "hours and weeks": lambda r: alone(BEFORE + AFTER, ANIMALS, hours_and_weeks, r),
    "followers": lambda r: followers(BEFORE + AFTER, 4, r),
    "rounds": lambda r: rounds(BEFORE + AFTER, ANIMALS, r),
    "rose, hours": lambda r: risen(BEFORE, AFTER, ANIMALS, hours, r),
    "rose, about a day": lambda r: risen(BEFORE, AFTER, ANIMALS, about_a_day, r),
}


def asked(folder: Path, zone: Ints) -> tuple[Answer, ...]:
    """Zones, shifts and retreats of one study whose evenings run over lights-off."""
    write_study(folder, zone, OFFER)
    file = folder / "study.toml"
    file.write_text(
        file.read_text().replace("[enclosure]", '[enclosure]\nlights = {on = "08:00", off = "20:00"}')
    )
    changed_on(folder, BEFORE, 3)
    study = open_study(folder)
    return study.zones(), study.shifts(), study.retreats()


def main(studies: int) -> None:
    print(
        "| what they do | zones: any / fairly sure, said to differ | shifts: any / fairly sure | retreats: the same |"
    )
    print("|---|---|---|---|")
    for name, made in CELLS.items():
        claims, apart = np.zeros((studies, 3, 2)), np.zeros(studies)
        for s in range(studies):
            with tempfile.TemporaryDirectory() as folder:
                answers = asked(Path(folder) / "study", made(np.random.default_rng(SEEDS + s)))
            for i, answer in enumerate(answers):
                found = {f.standing for f in answer.findings if f.verdict in CLAIMS and f.standing}
                claims[s, i] = bool(found), FAIRLY_SURE in found
            apart[s] = any(c.code == "apart" for c in answers[0].cautions)
        z, h, r = (f"{a:.0f} / {b:.0f}" for a, b in 100 * claims.mean(axis=0))
        print(f"| {name} | {z}, {100 * apart.mean():.0f} | {h} | {r} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
