"""How near the offset between two observers' clocks is told, and how often where there is none to tell.

``python -m tests.sim.calibrate_clocks``: scans a minute apart, each observer missing one change in five.
"""

from __future__ import annotations

import sys

import numpy as np

from tests.stats.test_stats_clock_offset import two_observers
from zoneuse.stats.clock_offset import clock_offset


def main(tries: int) -> None:
    print("| changes | told, % | off by, s | limits held, % |")
    print("|---|---|---|---|")
    for changes in (10, 20, 40, 120):
        random = np.random.default_rng(9)
        found = [two_observers(95.0, random, changes=changes) for _ in range(tries)]
        told = [f for f in found if np.isfinite(f.seconds)]
        off = np.median([abs(f.seconds - 95.0) for f in told])
        held = np.mean([f.low <= 95.0 <= f.high for f in told])
        print(f"| {changes} | {100 * len(told) / tries:.1f} | {off:.1f} | {100 * held:.1f} |")
    random = np.random.default_rng(10)
    claims = 0
    for _ in range(tries):
        what = [random.integers(0, 12, 30) for _ in range(2)]
        found = clock_offset(random.uniform(0, 600, 30), what[0], random.uniform(0, 600, 30), what[1])
        claims += bool(np.isfinite(found.seconds))
    print(f"Told where nothing is in common: {100 * claims / tries:.1f} %")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
