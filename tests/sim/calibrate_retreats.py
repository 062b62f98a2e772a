"""How often company is claimed where there is none, and found where it is.

``python -m tests.sim.calibrate_retreats company 200``
"""

from __future__ import annotations

import sys

import numpy as np

from zoneuse.stats.sharing import company, sharing

from .colony import colony

CELLS: dict[str, dict[str, float]] = {
    "shared liking": {},
    "likings follow conditions": {"weather": 1.0},
    "stays 0.5": {"stays": 0.5},
    "stays 0.8": {"stays": 0.8},
    "one pair joins 0.6": {"follows": 0.6},
    "one pair joins 0.3": {"follows": 0.3},
    "four pairs join 0.6": {"follows": 0.6, "pairs": 4},
    "four pairs join 0.3": {"follows": 0.3, "pairs": 4},
    "two pairs join 0.3": {"follows": 0.3, "pairs": 2},
    "four pairs join 0.3, stay 0.5": {"follows": 0.3, "pairs": 4, "stays": 0.5},
    "one pair joins 0.3, all found": {"follows": 0.3, "found": 1.0},
    "one pair joins 0.3, 120 checks": {"follows": 0.3, "checks": 120},
    "one pair shuns 0.9": {"avoids": 0.9},
    "four pairs shun 0.9": {"avoids": 0.9, "pairs": 4},
}
SEED = 81


def _company(studies: int) -> None:
    for name, how in CELLS.items():
        told = np.zeros(4)
        for i in range(studies):
            where = colony(np.random.default_rng([SEED, i]), **how)  # type: ignore[arg-type]
            found = company(sharing(where, draws=499, seed=i))
            told += (
                found.together,
                found.pairs_together.any(),
                found.apart,
                found.together or found.apart,
            )
        shown = " | ".join(f"{100 * n / studies:.1f}" for n in told)
        print(f"| {name} | {shown} |", flush=True)


def main(what: str, studies: int) -> None:
    {"company": _company}[what](studies)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "company", int(sys.argv[2]) if len(sys.argv) > 2 else 200)
