"""How often company is claimed where there is none, and found where it is.

``python -m tests.sim.calibrate_retreats``
"""

from __future__ import annotations

import sys

import numpy as np

from zoneuse.stats.sharing import sharing

from .colony import colony

CELLS: dict[str, dict[str, float]] = {
    "shared liking": {},
    "likings follow conditions": {"weather": 1.0},
    "stays 0.8": {"stays": 0.8},
    "one pair joins 0.6": {"follows": 0.6},
    "one pair joins 0.3": {"follows": 0.3},
    "four pairs join 0.6": {"follows": 0.6, "pairs": 4},
    "four pairs join 0.3": {"follows": 0.3, "pairs": 4},
    "one pair joins 0.3, all found": {"follows": 0.3, "found": 1.0},
}


def main(studies: int) -> None:
    for name, how in CELLS.items():
        named = overall = 0
        for i in range(studies):
            found = sharing(colony(np.random.default_rng([8, i]), **how), draws=400, seed=i)  # type: ignore[arg-type]
            pairs = found.pair_p_together[np.triu_indices(8, 1)]
            named += bool((pairs <= 0.025).any())
            overall += found.p_together <= 0.05
        error = 100 * np.sqrt(0.25 / studies)
        print(
            f"| {name} | {100 * named / studies:.1f} | {100 * overall / studies:.1f} | at most {error:.1f} |",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
