"""How often a verdict ever shows falsely to whoever asks after every session.  python -m tests.sim.calibrate_often [N]
(or ``retreats 60 8``, ``prefer 60 8``: studies, then numbers of animals; ``once 150``: a single look of ``prefer``,
studies a cell; or ``cost 60 0 1``: studies, then rows)

Animals without preference, 200 sessions; asked after each from the 15th to the 40th, every second to the 100th, then
every fifth. Prints Markdown tables for docs/methods/looking-often.md.
"""

from __future__ import annotations

import sys
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.sim.calibrate_retreats import as_checks
from tests.sim.calibrate_zones import error
from tests.sim.colony import colony
from tests.sim.creatures import OFFER, Creatures, Ints, alone, columns, joiners, together
from zoneuse.answers.effort import Effort
from zoneuse.answers.finding import FAIRLY_SURE
from zoneuse.answers.preference.curves import Curves, read_curves
from zoneuse.answers.preference.model import Alternatives
from zoneuse.answers.retreats.checks import Checks
from zoneuse.answers.retreats.company import company_of
from zoneuse.answers.retreats.judge import company as company_found
from zoneuse.answers.retreats.judge import keeping, unused
from zoneuse.answers.retreats.keeping import Own, fidelity_of, returns_of
from zoneuse.answers.retreats.use import use_table
from zoneuse.answers.zones.judge import call_zones
from zoneuse.stats.association.fidelity import fidelity
from zoneuse.stats.association.sharing import sharing
from zoneuse.stats.intervals.any_time import level_any_time
from zoneuse.stats.intervals.units import gather, unit_shares
from zoneuse.stats.space_use.bouts import find_bouts
from zoneuse.stats.space_use.lasting import lasting
from zoneuse.stats.space_use.zone_use import zone_use
from zoneuse.stats.time_series.recent_change import LEVEL_MOVING, recent_change

Floats = NDArray[np.float64]
LOOKS = np.r_[15:41, 42:101:2, 105:201:5]
# One session a day: the last fortnight.
RECENT = 15
PREFER_LOOKS = (15, 20, 27, 36, 48, 64, 85, 113, 150, 200)
RETREAT_LOOKS = np.r_[15:31:3, 35:61:5, 70:101:10, 120:201:20]


def p_of(zone: Ints, one: int | None = None) -> float:
    """The smallest p over all zones (or of ``one``) by the limits that hold however often one asks."""
    moments = gather(**columns(zone), availability=OFFER)
    units = unit_shares(moments)
    rows = units.rows
    bouts = find_bouts(
        moments.animal[rows], units.unit, np.arange(rows.size), moments.zone[rows], units.pull,
        availability=moments.availability[rows],
    )  # fmt: skip
    p = lasting(moments, units, bouts).p(units.used, units.availability)
    return float(p.min() if one is None else p[one])


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
        own = Own(returns_of(checks, 1000, seed, 1))
        found += list(keeping(checks, fidelity_of(checks, 1000, seed, 1), own, 1))
    told = {f.standing for f in found if f.verdict in ("together", "apart", "keeps to it", "stays on")}
    if alike:
        told |= {f.standing for f in unused(checks, False) if f.verdict == "unused"}
        told |= set(use_table([checks])[1]["home_standing"])
    return told - {""}


# A zone used so many times as much as offered: its number, times, animals, carry-over, and sessions of the single look.
COSTS = (
    (2, 0.4, 1, 0.0, 60), (2, 2.0, 1, 0.0, 60), (0, 0.6, 3, 0.5, 60), (0, 0.7, 1, 0.0, 200), (2, 1.3, 3, 0.0, 200)
)  # fmt: skip


def cost(row: int, studies: int, seed: int = 397_000) -> str:
    """Power of a single look after so many sessions, and of "fairly sure" then and ever by 1.5 and 2 times as many."""
    zone, times, animals, carry, at = COSTS[row]
    offer = OFFER * np.where(np.arange(OFFER.size) == zone, times, 1.0)
    looks = np.arange(15, 2 * at + 1) if at <= 60 else np.geomspace(15, 2 * at, 24).round().astype(int)
    looks = np.unique(np.r_[looks, at, 3 * at // 2, 2 * at])
    word = "favoured" if times > 1 else "avoided"
    single, sure = np.zeros(studies, bool), np.zeros((studies, looks.size), bool)
    for study in range(studies):
        there = alone(animals, 2 * at, np.random.default_rng(seed + study), carry, offer / offer.sum())
        found = zone_use(**columns(there[:, :at]), availability=OFFER, draws=999, seed=study)
        single[study] = call_zones(found).verdict[zone] == word
        sure[study] = [p_of(there[:, :n], zone) <= level_any_time(n) for n in looks]
    now = sure[:, looks == at].mean()
    later = [sure[:, looks <= n].any(axis=1).mean() for n in (3 * at // 2, 2 * at)]
    said = " | ".join(f"{100 * v:.0f}" for v in (single.mean(), now, *later))
    return f"| {OFFER[zone]:.2f} used {times} times, {animals} animals, carry-over {carry} | {at} | {said} |"


def prefer_ever(animals: int, carry: float, studies: int, seed: int) -> tuple[float, float]:
    """The same for curves of temperature and humidity, of animals that mind neither; every fifth scan is kept."""
    ever = np.zeros((studies, 2), bool)
    for study in range(studies):
        random = np.random.default_rng(seed + study)
        zone, warm, moist, hour = minds_neither(animals, carry, 200, random)
        for n in PREFER_LOOKS:
            found = read_two(zone[:, :n], (warm + random.normal(0, 0.3, warm.shape))[:n], moist[:n], hour[:n])
            told = [c for c in found.each if c.verdict not in ("too early", "flat")]
            ever[study] |= (any(c.holds for c in told), bool(told))
    strict, single = 100 * ever.mean(axis=0)
    return float(strict), float(single)


def prefer_once(
    animals: int, carry: float, studies: int, seed: int, looks: tuple[int, ...] = (36, 80)
) -> Floats:
    """Percent of studies in which one look after so many sessions claims anything of either quantity."""
    told = np.zeros((studies, len(looks)), bool)
    for study in range(studies):
        random = np.random.default_rng(seed + study)
        zone, warm, moist, hour = minds_neither(animals, carry, max(looks), random)
        warm = warm + random.normal(0, 0.3, warm.shape)
        for j, n in enumerate(looks):
            found = read_two(zone[:, :n], warm[:n], moist[:n], hour[:n])
            told[study, j] = any(c.verdict not in ("too early", "flat") for c in found.each)
    return np.asarray(100 * told.mean(axis=0))


def minds_neither(
    animals: int, carry: float, sessions: int, random: np.random.Generator
) -> tuple[Ints, Floats, Floats, Floats]:
    """Zones used without regard to temperature and humidity, both of these, and the hours; every fifth scan is kept."""
    zone = alone(animals, sessions, random, carry)[:, :, ::5]
    hour = random.uniform(0, 20, sessions)[:, None] + 0.5 * np.arange(zone.shape[2])
    weather = np.convolve(random.normal(0, 1.5, sessions + 2), [0.7, 0.5, 0.3], "valid")
    swing = np.sin((hour - 9) / 24 * 2 * np.pi)
    place = np.arange(OFFER.size)
    warm = 20 + 2 * place + weather[:, None, None] + (1 + 0.5 * place) * swing[..., None]
    moist = 85 - 4 * place - 1.5 * weather[:, None, None] + random.normal(0, 3, warm.shape)
    return zone, warm, moist, hour


def read_two(zone: Ints, warm: Floats, moist: Floats, hour: Floats) -> Curves:
    """Animals x sessions x scans of zones, and sessions x scans x zones of values, read as the answer does."""
    animals, sessions, scans = zone.shape
    shape = (animals, sessions, scans, OFFER.size)

    def rows(values: NDArray[Any]) -> NDArray[Any]:
        return np.broadcast_to(values, shape).ravel()

    size = int(np.prod(shape))
    model = Alternatives(
        quantities=("temperature_c", "humidity_pct"), places=tuple("abcdef"), extras=(),
        moment=rows(np.arange(size // OFFER.size).reshape(*shape[:3], 1)), place=rows(np.arange(OFFER.size)),
        chosen=(rows(zone[..., None]) == rows(np.arange(OFFER.size))).astype(float),
        log_share=rows(np.log(OFFER)), cluster=rows(np.arange(sessions)[:, None, None]),
        x=np.column_stack([rows(warm), rows(moist)]), extra=np.zeros((size, 0)), stayed=np.zeros(size),
        kept=np.ones(size, bool), hour=rows(hour[..., None] % 24),
    )  # fmt: skip
    effort = Effort(sessions, sessions, animals, size // OFFER.size, 0, 0, 0, "session", sessions)
    found = read_curves(model, effort)
    assert found is not None
    return found


def print_prefer(
    studies: int, animals: tuple[int, ...], carried: tuple[float, ...] = (0.0, 0.5, 0.8)
) -> None:
    print("| prefer, animals | carry-over | ever fairly sure | ever claimed | s.e. |\n|---|---|---|---|---|")
    for many in animals:
        for carry in carried:
            strict, single = prefer_ever(many, carry, studies, 297_000)
            told = f"{strict:.0f} | {single:.0f} | {error(strict / 100, studies):.1f}"
            print(f"| {many} | {carry} | {told} |", flush=True)


def print_once(studies: int) -> None:
    print("| prefer, one look, animals | carry-over | 36 sessions | 80 | s.e. |\n|---|---|---|---|---|")
    for many, carry in ((1, 0.0), (1, 0.5), (3, 0.0), (3, 0.5)):
        first, second = prefer_once(many, carry, studies, 9_700_000)
        told = f"{first:.1f} | {second:.1f} | {error(second / 100, studies):.1f}"
        print(f"| {many} | {carry} | {told} |", flush=True)


def print_retreats(studies: int, animals: tuple[int, ...] = (1, 3, 8)) -> None:
    print("| retreats, animals | stays | ever fairly sure | ever claimed | s.e. |\n|---|---|---|---|---|")
    for many in animals:
        for stays in (0.0, 0.5, 0.8):
            strict, single = retreats_ever(many, stays, studies, 197)
            told = f"{strict:.0f} | {single:.0f} | {error(strict / 100, studies):.1f}"
            print(f"| {many} | {stays} | {told} |", flush=True)


def main() -> None:
    if sys.argv[1:2] in (["retreats"], ["prefer"]):
        ask = print_retreats if sys.argv[1] == "retreats" else print_prefer
        ask(int(sys.argv[2]) if len(sys.argv) > 2 else 60, tuple(map(int, sys.argv[3:])) or (1, 3, 8))
        return
    if sys.argv[1:2] == ["once"]:
        print_once(int(sys.argv[2]) if len(sys.argv) > 2 else 150)
        return
    if sys.argv[1:2] == ["cost"]:
        print("| a zone | sessions | a single look | fairly sure then | ever by 1.5 times | by twice |")
        print("|---|---|---|---|---|---|")
        for row in map(int, sys.argv[3:] or range(len(COSTS))):
            print(cost(row, int(sys.argv[2]) if len(sys.argv) > 2 else 60), flush=True)
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
