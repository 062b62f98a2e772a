"""How near the offset between two observers' clocks is told, and how often where there is none to tell.

``python -m tests.sim.calibrate_clocks``: scans a minute apart, each observer missing one change in five.
"""

from __future__ import annotations

import sys

import numpy as np

from tests.stats.test_stats_clock_offset import two_observers


def main(tries: int) -> None:
    print("| animals | changes | false changes | told, % | off by, s | limits held, % |")
    print("|---|---|---|---|---|---|")
    for animals in (1, 4):
        for changes in (10, 20, 40, 120):
            for noise in (0.0, 0.5, 1.0):
                random = np.random.default_rng(9)
                found = [
                    two_observers(95.0, random, changes=changes, noise=noise, animals=animals)
                    for _ in range(tries)
                ]
                told = [f for f in found if np.isfinite(f.seconds)]
                off = np.median([abs(f.seconds - 95.0) for f in told]) if told else np.nan
                held = np.mean([f.low <= 95.0 <= f.high for f in told]) if told else np.nan
                print(
                    f"| {animals} | {changes} | {noise:g} a true one | {100 * len(told) / tries:.1f} "
                    f"| {off:.1f} | {100 * held:.1f} |"
                )
        random = np.random.default_rng(10)
        claims = [
            np.isfinite(two_observers(0.0, random, seen=0.0, noise=1.0, changes=n, animals=animals).seconds)
            for n in (20, 40, 100)
            for _ in range(tries)
        ]
        print(f"Told where nothing is in common ({animals} animals): {100 * np.mean(claims):.1f} %")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
