"""How often shifts are right on invented animals: python -m tests.sim.calibrate_shifts [STUDIES].

Sticky animals of known shares, one session a day, before and after a change; the verdicts as the answer
gives them. Prints Markdown tables for docs/methods/shifts.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special, stats

from zoneuse.answers.shifts.judge import FELL, ROSE, family, verdict_of
from zoneuse.answers.shifts.moved import Moved, moved_shares
from zoneuse.answers.shifts.phases import Sides
from zoneuse.stats.resampling.permutation import permute_phases

SHARES = np.array([0.30, 0.22, 0.16, 0.15, 0.09, 0.08])
PLACES = [f"z{i}" for i in range(len(SHARES))]
SCANS, STAYS = 20, 0.95


@dataclass(frozen=True)
class Design:
    """``per`` days each side; days correlated at ``phi`` (log-odds sd ``mood``); ``drift`` in log odds over all."""

    per: int
    animals: int = 3
    phi: float = 0.0
    mood: float = 0.0
    drift: float = 0.0
    after: float = 0.15


def simulate(design: Design, rng: np.random.Generator) -> Sides:
    """Moments of one study as the answer sees them: one unit a day."""
    days = 2 * design.per
    mood = np.zeros(days)
    for d in range(days):
        fresh = rng.normal() * design.mood
        mood[d] = fresh if d == 0 else design.phi * mood[d - 1] + np.sqrt(1 - design.phi**2) * fresh
    late = np.arange(days) >= design.per
    zone = np.empty((days, design.animals, SCANS), int)
    for d in range(days):
        target = (
            special.logit(design.after if late[d] else 0.15) + mood[d] + design.drift * (d / (days - 1) - 0.5)
        )
        share = SHARES.copy()
        share[3] = special.expit(target)
        share[[0, 1, 2, 4, 5]] *= (1 - share[3]) / (1 - 0.15)
        where = rng.choice(6, design.animals, p=share / share.sum())
        for scan in range(SCANS):
            moves = rng.random(design.animals) > STAYS
            where = np.where(moves, rng.choice(6, design.animals, p=share / share.sum()), where)
            zone[d, :, scan] = where
    unit = np.repeat(np.arange(days), design.animals * SCANS)
    rows = pd.DataFrame({"place": [PLACES[z] for z in zone.ravel()], "weight": 1.0})
    rows["animal"] = np.tile(np.repeat([f"a{k}" for k in range(design.animals)], SCANS), days)
    rows["group"] = None
    return Sides(rows, unit, late, np.zeros(days, np.int64), np.arange(days, dtype=float), ())


def verdicts(found: Sides, seed: int, expected: bool | str) -> tuple[list[str], list[Moved], np.ndarray]:
    """Verdicts of all zones where z3, another (its name) or nothing was expected."""
    moved = moved_shares(found, "zone", "place", PLACES, draws=1_999, seed=seed)
    p = np.array([m.p for m in moved])
    main = np.array([m.name == ("z3" if expected is True else expected) for m in moved])
    told = family(p, main, moved)
    words = [
        verdict_of(m, float(a), float(b), held_within=0.10, by_lot=False, counts=found.counts)
        for m, a, b in zip(moved, told.adjusted, told.level, strict=True)
    ]
    return [w for w, _ in words], moved, np.array([why for _, why in words])


def pooled_p(found: Sides) -> float:
    """What a chi-square over all scans says, as if each were independent."""
    table = pd.crosstab(found.rows["place"], found.late[found.unit])
    return float(stats.chi2_contingency(table).pvalue)


def alarms(studies: int) -> None:
    print(
        "\n| days v days | days alike | trend, log odds | any claim: expected / nothing written "
        "| unnamed trend | 95 % interval covers | pooled chi-square | s.e. |"
    )
    print("|---|---|---|---|---|---|---|---|")
    designs = [Design(n) for n in (6, 12, 20)]
    designs += [Design(n, phi=0.5, mood=0.7) for n in (6, 12, 20)]
    designs += [Design(n, drift=d) for n in (12, 20) for d in (1.0, 2.0)]
    for design in designs:
        hits, unnamed, covers, naive = (np.zeros((studies, k)) for k in (2, 1, 1, 1))
        for s in range(studies):
            found = simulate(design, np.random.default_rng(450_000 + s))
            for j, expected in enumerate((True, False)):
                words, moved, _ = verdicts(found, s, expected)
                claimed = np.array([w in (ROSE, FELL) for w in words])
                hits[s, j] = claimed.any()
                if expected:
                    # A zone nobody was ever seen in has no limits; it did not change.
                    covers[s] = all(m.low <= 0.0 <= m.high for m in moved if m.name == "z3")
                    naive[s] = pooled_p(found) <= 0.05
                    unnamed[s] = any(
                        c and m.name == "z3" and not m.series.trend
                        for c, m in zip(claimed, moved, strict=True)
                    )
        rate = hits.mean(axis=0)
        error = 100 * np.sqrt(max(rate.max() * (1 - rate.max()), 0.01) / studies)
        print(
            f"| {design.per} v {design.per} | {design.phi} | {design.drift} "
            f"| {100 * rate[0]:.1f} / {100 * rate[1]:.1f} | {100 * unnamed.mean():.1f} "
            f"| {'–' if design.drift else f'{100 * covers.mean():.1f}'} | {100 * naive.mean():.1f} | {error:.1f} |",
            flush=True,
        )


def power(studies: int) -> None:
    print(
        "\n| days v days | animals | rose, expected / exact permutation, at .05 / at .04 | another expected, "
        "nothing written | 95 % interval of the change covers | s.e. |"
    )
    print("|---|---|---|---|---|---|")
    for animals in (1, 3):
        design = Design(12, animals, after=0.40)
        rose, covers, plain = np.zeros((studies, 3)), np.zeros(studies), np.zeros((studies, 2))
        for s in range(studies):
            found = simulate(design, np.random.default_rng(481_000 + s))
            for j, expected in enumerate(("z0", False, True)):
                words, moved, _ = verdicts(found, s, expected)
                own = next(i for i, m in enumerate(moved) if m.name == "z3")
                rose[s, j] = words[own] == ROSE
            shares = pd.Series(found.rows["place"] == "z3").groupby(found.unit).mean().to_numpy()
            plain[s] = permute_phases(shares[:, None], found.late, draws=1_999, seed=s).p[0] <= np.array(
                [0.05, 0.04]
            )
            covers[s] = moved[own].low <= 0.25 <= moved[own].high
        error = 100 * np.sqrt(0.25 / studies)
        print(
            f"| 12 v 12 | {animals} | {100 * rose[:, 2].mean():.1f} / {100 * plain[:, 0].mean():.1f} / "
            f"{100 * plain[:, 1].mean():.1f} | {100 * rose[:, 0].mean():.1f}, {100 * rose[:, 1].mean():.1f} "
            f"| {100 * covers.mean():.1f} | {error:.1f} |",
            flush=True,
        )


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    power(number)
    alarms(number)
