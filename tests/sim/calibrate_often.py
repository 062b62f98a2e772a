"""How often a verdict ever shows falsely to whoever asks after every session.  python -m tests.sim.calibrate_often [N]
(or ``retreats 60``)

Animals without preference, 200 sessions; asked after each from the 15th to the 40th, every second to the 100th, then
every fifth. Prints Markdown tables for docs/methods/looking-often.md.
"""

from __future__ import annotations

import sys

import numpy as np

from tests.sim.calibrate_retreats import as_checks
from tests.sim.calibrate_zones import error
from tests.sim.colony import colony
from tests.sim.creatures import OFFER, Creatures, Ints, alone, columns, joiners, together
from zoneuse.answers.finding import FAIRLY_SURE
from zoneuse.answers.retreats.checks import Checks
from zoneuse.answers.retreats.company import company_of
from zoneuse.answers.retreats.judge import company as company_found
from zoneuse.answers.retreats.judge import keeping, unused
from zoneuse.answers.retreats.keeping import fidelity_of
from zoneuse.answers.retreats.use import use_table
from zoneuse.stats.association.fidelity import fidelity
from zoneuse.stats.association.sharing import sharing
from zoneuse.stats.intervals.any_time import level_any_time
from zoneuse.stats.intervals.units import gather, unit_shares
from zoneuse.stats.space_use.bouts import find_bouts
from zoneuse.stats.space_use.lasting import lasting
from zoneuse.stats.time_series.recent_change import LEVEL_MOVING, recent_change

LOOKS = np.r_[15:41, 42:101:2, 105:201:5]
# One session a day: the last fortnight.
RECENT = 15
RETREAT_LOOKS = np.r_[15:31:3, 35:61:5, 70:101:10, 120:201:20]


def p_of(zone: Ints) -> float:
    """The smallest p over all zones by the limits that hold however often one asks."""
    moments = gather(**columns(zone), availability=OFFER)
    units = unit_shares(moments)
    rows = units.rows
    bouts = find_bouts(
        moments.animal[rows], units.unit, np.arange(rows.size), moments.zone[rows], units.pull,
        availability=moments.availability[rows],
    )  # fmt: skip
    return float(lasting(moments, units, bouts).p(units.used, units.availability).min())


def zones_ever(make: Creatures, animals: int, studies: int, seed: int) -> tuple[float, float]:
    """Percent of studies in which any zone ever passes the level of its number of sessions, and .05."""
    ever = np.zeros((studies, 2), bool)
    for study in range(studies):
        zone = make(animals, 200, np.random.default_rng(seed + study))
        p = np.array([p_of(zone[:, :n]) for n in LOOKS])
        ever[study] = (p <= level_any_time(LOOKS)).any(), (p <= 0.05).any()
    strict, single = 100 * ever.mean(axis=0)
    return float(strict), float(single)


def activity_ever(animals: int, carry: float, studies: int, seed: int) -> tuple[float, float]:
    """The same for six behaviours of the last fortnight against all before."""
    ever = np.zeros((studies, 2), bool)
    for study in range(studies):
        did = alone(animals, 200, np.random.default_rng(seed + study), carry)
        share = np.stack([(did == k).mean(axis=(0, 2)) for k in range(6)], axis=1)
        for n in range(2 * RECENT, 201):
            for j, level in enumerate((LEVEL_MOVING, 0.05)):
                found = recent_change(share[: n - RECENT], share[n - RECENT : n], 1 - level, 6)
                ever[study, j] |= bool(((found.low > 0) | (found.high < 0)).any())
    strict, single = 100 * ever.mean(axis=0)
    return float(strict), float(single)


def retreats_ever(animals: int, stays: float, studies: int, seed: int) -> tuple[float, float]:
    """The same for company, retreats kept to, and homes, of colonies in which nobody seeks or shuns another.

    All share one liking, so nobody has a retreat of its own; half of the colonies like all retreats alike, and there no
    animal has a home. Asked at fewer looks, for each deals a thousand times.
    """
    ever = np.zeros((studies, 2), bool)
    for study in range(studies):
        random = np.random.default_rng([seed, study])
        alike = bool(study % 2)
        where = colony(
            random, checks=200, animals=animals, stays=stays, pairs=0, liking=0.0 if alike else 1.0
        )
        for n in RETREAT_LOOKS:
            checks = as_checks(where[:n], 1)
            told = _retreats_told(checks, n, stays == 0, alike)
            ever[study] |= (FAIRLY_SURE in told, bool(told))
    strict, single = 100 * ever.mean(axis=0)
    return float(strict), float(single)


def _retreats_told(checks: Checks, seed: int, strangers: bool, alike: bool) -> set[str]:
    """Standings of all false claims: company always; keeping to it where none stays by itself (``strangers``); homes
    and unused retreats where all are liked alike."""
    found = []
    # A first look with 100 draws spares the long one where no claim is near (claims need p to .03 and .05).
    first = sharing(checks.where, 100, seed) if len(checks.animals) > 2 else None
    if first is not None and min(first.p_together, first.p_apart) <= 0.14:
        found += list(company_found(checks, *company_of(checks, 1000, seed, 1), 1))  # type: ignore[misc]
    if len(checks.animals) > 1 and strangers and fidelity(checks.where, 100, seed).p.min() <= 0.2:
        found += list(keeping(checks, fidelity_of(checks, 1000, seed, 1), {}, 1))
    told = {f.standing for f in found if f.verdict in ("together", "apart", "keeps to it")}
    if alike:
        told |= {f.standing for f in unused(checks, False) if f.verdict == "unused"}
        told |= set(use_table([checks])[1]["home_standing"])
    return told - {""}


def print_retreats(studies: int, animals: tuple[int, ...] = (1, 3, 8)) -> None:
    print("| retreats, animals | stays | ever fairly sure | ever claimed | s.e. |\n|---|---|---|---|---|")
    for many in animals:
        for stays in (0.0, 0.5, 0.8):
            strict, single = retreats_ever(many, stays, studies, 197)
            told = f"{strict:.0f} | {single:.0f} | {error(strict / 100, studies):.1f}"
            print(f"| {many} | {stays} | {told} |", flush=True)


def main() -> None:
    if sys.argv[1:2] == ["retreats"]:
        print_retreats(
            int(sys.argv[2]) if len(sys.argv) > 2 else 60, tuple(map(int, sys.argv[3:])) or (1, 3, 8)
        )
        return
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else 150
    print(
        "\n| answer | animals | carry-over | ever, level in use | ever at .05 | s.e. |\n|---|---|---|---|---|---|"
    )
    for animals in (1, 3, 8):
        for carry in (0.0, 0.5, 0.8):
            strict, single = zones_ever(lambda a, s, r, c=carry: alone(a, s, r, c), animals, studies, 50_000)
            told = f"{strict:.0f} | {single:.0f} | {error(strict / 100, studies):.1f}"
            print(f"| zones | {animals} | {carry} | {told} |", flush=True)
            strict, single = activity_ever(animals, carry, studies, 50_000)
            told = f"{strict:.0f} | {single:.0f} | {error(strict / 100, studies):.1f}"
            print(f"| activity | {animals} | {carry} | {told} |", flush=True)
    for name, make, animals in (("joiners", joiners, 6), ("together", together, 4)):
        strict, single = zones_ever(make, animals, studies, 50_000)
        told = f"{strict:.0f} | {single:.0f} | {error(strict / 100, studies):.1f}"
        print(f"| zones, {name} | {animals} | by default | {told} |", flush=True)


if __name__ == "__main__":
    main()
