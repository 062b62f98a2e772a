"""How often the limits of agreement, kappa and AC1 hold the truth: `python -m tests.sim.calibrate_agreement`
(or ``rare`` 400: codes seen in few moments).

Two observers record the same sessions of ten scans. Animals keep their behaviour from scan to scan; an observer
who takes one behaviour for another does so for the whole bout, and is worse in some sessions than in others.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from zoneuse.answers.observers.judge import too_rare
from zoneuse.stats.agreement.agreement import Agreement, agreement

Codes = NDArray[np.int64]
# Shape of the gamma by which observers are worse in some sessions: small is patchy.
MOODS = {"some sessions worse": 2.0, "faults in few sessions": 0.3}
MIXES = {"four alike": (0.25, 0.25, 0.25, 0.25), "one at 0.9": (0.9, 0.04, 0.03, 0.03)}
FAULTS = (0.02, 0.10, 0.25)
SCANS, STAY, WHOLE_BOUT = 10, 0.8, 0.7


def observed(
    sessions: int,
    animals: int,
    mix: tuple[float, ...],
    fault: float,
    mood: float,
    random: np.random.Generator,
) -> tuple[Codes, Codes, Codes]:
    """Codes of two observers and the session of each moment."""
    shape = (sessions, animals, SCANS)
    fresh = random.choice(len(mix), shape, p=mix)
    begins = random.random(shape) > STAY
    begins[:, :, 0] = True
    since = np.maximum.accumulate(np.where(begins, np.arange(SCANS), 0), axis=2)
    truth = np.take_along_axis(fresh, since, 2)
    said = []
    for _ in range(2):
        worse = fault * random.gamma(mood, 1 / mood, (sessions, 1, 1))
        # One draw a bout, or one a scan: both fault with the same chance.
        by_bout = np.take_along_axis(random.random(shape), since, 2)
        draw = np.where(random.random((sessions, animals, 1)) < WHOLE_BOUT, by_bout, random.random(shape))
        said.append(np.where(draw < worse, (truth + 1) % len(mix), truth).ravel())
    return said[0], said[1], np.repeat(np.arange(sessions), animals * SCANS)


def cells(tries: int) -> Iterator[str]:
    """A row of a table for each cell."""
    for mood_name, mood in MOODS.items():
        for mix_name, mix in MIXES.items():
            for fault in FAULTS:
                large = agreement(*observed(20_000, 4, mix, fault, mood, np.random.default_rng(1))[:2])
                for sessions in (3, 5, 8, 15, 40):
                    yield (
                        f"| {mood_name}; {mix_name} | {large.kappa:.2f} | {large.ac1:.2f} | {sessions} | "
                        + cell(tries, sessions, mix, fault, mood, large)
                    )


def cell(
    tries: int, sessions: int, mix: tuple[float, ...], fault: float, mood: float, large: Agreement
) -> str:
    """How often limits hold the truth, the median width of kappa's, and in how many kappa had none."""
    random = np.random.default_rng(1000 + sessions)
    held, width = np.zeros(3), []
    for _ in range(tries):
        found = agreement(*observed(sessions, 4, mix, fault, mood, random), categories=4)
        if np.isnan(found.kappa_low):
            continue
        width.append(found.kappa_high - found.kappa_low)
        held += (
            found.agreement_low <= large.agreement <= found.agreement_high,
            found.kappa_low <= large.kappa <= found.kappa_high,
            found.ac1_low <= large.ac1 <= found.ac1_high,
        )
    share = " | ".join(f"{100 * h / max(len(width), 1):.1f}" for h in held)
    return f"{share} | {np.median(width) if width else float('nan'):.2f} | {100 * (1 - len(width) / tries):.1f} |"


RARE = {"a code in 5 of 100": (0.95, 0.05), "in 2 of 100": (0.98, 0.02), "in 1 of 100": (0.99, 0.01)}


def rare(tries: int) -> Iterator[str]:
    """A code seen seldom: kappa where it would be shown (ten uncommon moments) and where not, and AC1 in each."""
    for name, mix in RARE.items():
        for fault in (0.005, 0.02):
            large = agreement(*observed(60_000, 4, mix, fault, 2.0, np.random.default_rng(1))[:2])
            for sessions in (5, 8, 15, 40):
                random = np.random.default_rng(2000 + sessions)
                held, count = np.zeros((2, 2)), np.zeros(2, int)
                for _ in range(tries):
                    one, other, session = observed(sessions, 4, mix, fault, 2.0, random)
                    found = agreement(one, other, session, categories=2)
                    few = too_rare(
                        int(((one != 0) | (other != 0)).sum()), int(((one != 0) & (one == other)).sum())
                    )
                    shown = int(not few)
                    count[shown] += 1
                    held[shown] += (
                        found.kappa_low <= large.kappa <= found.kappa_high,
                        found.ac1_low <= large.ac1 <= found.ac1_high,
                    )
                told = [
                    f"{100 * h[0] / n:.0f} / {100 * h[1] / n:.0f}" if n >= 30 else "–"
                    for h, n in zip(held, count, strict=True)
                ]
                cell_of = f"{name}, faults {fault} | {large.kappa:.2f} | {large.ac1:.2f} | {sessions}"
                every = f"{100 * held[:, 0].sum() / tries:.0f} / {100 * held[:, 1].sum() / tries:.0f}"
                yield f"| {cell_of} | {100 * count[0] / tries:.0f} | {' | '.join([*told, every])} |"


if __name__ == "__main__":
    if sys.argv[1:2] == ["rare"]:
        print("| code | kappa | AC1 | sessions | too rare, % | then: kappa / AC1 | else: kappa / AC1 | all |")
        print("|---|---|---|---|---|---|---|---|")
        for line in rare(int(sys.argv[2]) if len(sys.argv) > 2 else 400):
            print(line, flush=True)
        sys.exit()
    print(
        "| behaviours | kappa | AC1 | sessions | agreement | kappa | AC1 | median width of kappa | no limits, % |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    for line in cells(2000):
        print(line)
