"""How often reversals and enclosures left alone are right on invented animals:
``python -m tests.sim.calibrate_shift_designs [STUDIES]``. Prints Markdown rows for docs/methods/shifts.md.

The animals are those of ``calibrate_shifts``: six zones, sticky from scan to scan, one session a day.
"""

from __future__ import annotations

import sys

import numpy as np
from numpy.typing import NDArray
from scipy import special

from tests.sim.calibrate_shifts import SCANS, SHARES, STAYS
from zoneuse.stats.resampling.control_impact import control_impact
from zoneuse.stats.resampling.permutation import holm, permute_phases
from zoneuse.stats.resampling.reversals import reversal, step_weights

Floats = NDArray[np.float64]
MOVED = 3  # the zone that a change moves; .15 of the time before it


def day_shares(target: Floats, animals: int, rng: np.random.Generator) -> Floats:
    """(days x zones) shares of days on which the moved zone truly has ``target`` of the time."""
    share = np.repeat(SHARES[None, :], target.size, axis=0)
    share *= ((1 - target) / (1 - SHARES[MOVED]))[:, None]
    share[:, MOVED] = target
    edges = (share / share.sum(axis=1, keepdims=True)).cumsum(axis=1)[:, None, :]

    def drawn() -> NDArray[np.intp]:
        return np.minimum((rng.random((target.size, animals, 1)) > edges).sum(axis=2), 5)

    where = drawn()
    counts = np.zeros((target.size, 6))
    for scan in range(SCANS):
        if scan:
            where = np.where(rng.random(where.shape) > STAYS, drawn(), where)
        for zone in range(6):
            counts[:, zone] += (where == zone).sum(axis=1)
    return counts / counts.sum(axis=1, keepdims=True)


def reversals(studies: int) -> None:
    print("\n| phases x days | truth | any claim, joint | every step claimed by itself | covers | s.e. |")
    print("|---|---|---|---|---|---|")
    for phases, days in ((3, 8), (4, 8), (4, 5)):
        for truth, drift in ((0.15, 0.0), (0.15, 2.0), (0.40, 0.0)):
            states = np.arange(phases) % 2
            phase = np.repeat(np.arange(phases), days)
            along = np.linspace(-0.5, 0.5, phase.size)
            target = special.expit(special.logit(np.where(states[phase], truth, 0.15)) + drift * along)
            joint, single, covers = np.zeros(studies), np.zeros(studies), np.zeros(studies)
            true = float(step_weights(states) @ [target[phase == k].mean() for k in range(phases)])
            for s in range(studies):
                values = day_shares(target, 3, np.random.default_rng(410_000 + s))
                found = reversal(values, phase, states, draws=1_999, seed=s)
                # The expected zone at .04 and the others together at .01, as the answer has it.
                others = np.arange(6) != MOVED
                passed = found.p[MOVED] <= 0.04
                joint[s] = passed or (truth == 0.15 and (holm(found.p[others]) <= 0.01).any())
                steps = [
                    permute_phases(
                        values[np.isin(phase, (k, k + 1))], np.repeat([0, 1], days), seed=s, draws=999
                    )
                    for k in range(phases - 1)
                ]
                single[s] = all(t.p[MOVED] <= 0.04 for t in steps)
                covers[s] = found.low[MOVED] <= true <= found.high[MOVED]
            name = (
                f"drift {drift:g} log odds"
                if drift
                else f".15 to {truth:.2f}"
                if truth > 0.15
                else "no effect"
            )
            error = 100 * np.sqrt(max(joint.mean() * (1 - joint.mean()), 0.01) / studies)
            print(
                f"| {phases} x {days} | {name} | {100 * joint.mean():.1f} | {100 * single.mean():.1f} "
                f"| {100 * covers.mean():.1f} | {error:.1f} |",
                flush=True,
            )


def enclosures(studies: int) -> None:
    print(
        "\n| changed + left alone | what all did | changed ones besides | told from the others (.04) | s.e. |"
    )
    print("|---|---|---|---|---|")
    late = np.arange(16) >= 8
    for changed, alone in ((4, 4), (2, 6), (3, 9)):
        for everywhere, own in ((0.15, 0.15), (0.40, 0.40), (0.15, 0.40)):
            hits = np.zeros(studies)
            for s in range(studies):
                rng = np.random.default_rng(430_000 + s)
                moved = []
                for k in range(changed + alone):
                    after = own if k < changed else everywhere
                    values = day_shares(np.where(late, after, 0.15), 3, rng)
                    moved.append(values[late].mean(axis=0) - values[~late].mean(axis=0))
                found = control_impact(np.array(moved), np.arange(changed + alone) < changed)
                hits[s] = found.p[MOVED] <= 0.04
            error = 100 * np.sqrt(max(hits.mean() * (1 - hits.mean()), 0.01) / studies)
            print(
                f"| {changed} + {alone} | .15 to {everywhere:.2f} | .15 to {own:.2f} "
                f"| {100 * hits.mean():.1f} | {error:.1f} |",
                flush=True,
            )


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    reversals(number)
    enclosures(number)
