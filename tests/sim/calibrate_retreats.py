"""How often the retreats answer claims what is not there, finds what is, and how well its limits cover.

``python -m tests.sim.calibrate_retreats company 200`` (or shares, crowding, dry, hot)
"""

from __future__ import annotations

import sys
from datetime import UTC, date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from zoneuse.answers.retreats.checks import Checks
from zoneuse.answers.retreats.company import LEAST_LOOKS, LEVEL_CROWDED, LEVEL_EVEN
from zoneuse.answers.retreats.conditions import Known, choices_table, dry_table
from zoneuse.answers.retreats.judge import dry_moves, moves_when_dry
from zoneuse.stats.association.crowding import crowding
from zoneuse.stats.association.sharing import company, sharing
from zoneuse.stats.intervals.shares import wilson
from zoneuse.stats.space_use.stays import home, stays

from .colony import RETREATS, colony, dry_colony, hot_colony

COLONIES: dict[str, dict[str, float]] = {
    "shared liking": {},
    "likings follow conditions": {"weather": 1.0},
    "stays 0.5": {"stays": 0.5},
    "stays 0.8": {"stays": 0.8},
    "one pair joins 0.6": {"follows": 0.6},
    "one pair joins 0.3": {"follows": 0.3},
    "two pairs join 0.3": {"follows": 0.3, "pairs": 2},
    "four pairs join 0.6": {"follows": 0.6, "pairs": 4},
    "four pairs join 0.3": {"follows": 0.3, "pairs": 4},
    "one pair joins 0.3, all found": {"follows": 0.3, "found": 1.0},
    "one pair joins 0.3, 120 checks": {"follows": 0.3, "checks": 120},
    "four pairs join 0.3, stay 0.5": {"follows": 0.3, "pairs": 4, "stays": 0.5},
    "one pair shuns 0.9": {"avoids": 0.9},
    "four pairs shun 0.9": {"avoids": 0.9, "pairs": 4},
}
SEED = 97


def _company(studies: int) -> None:
    """The colony together, a pair named together, the colony apart, a pair named apart, anything at all."""
    for name, how in COLONIES.items():
        told = np.zeros(5)
        for i in range(studies):
            where = colony(np.random.default_rng([SEED, i]), **how)  # type: ignore[arg-type]
            found = company(sharing(where, draws=499, seed=i))
            named = found.pairs_together.any(), found.pairs_apart.any()
            told += np.array(
                [found.together, named[0], found.apart, named[1], found.together or found.apart], float
            )
        _row(name, told / studies)


def _shares(studies: int) -> None:
    """Cover of the 95 % limits of a share, over all retreats and of the one liked most; false and true homes."""
    for checks in (20, 60):
        for stay in (0.0, 0.5, 0.8, 0.95):
            told = np.zeros(4)
            for i in range(studies):
                rng = np.random.default_rng([SEED, checks, i])
                chance = np.exp(rng.normal(0, 1, RETREATS))
                chance /= chance.sum()
                seen = _one(rng, chance, checks, stay)
                found = stays(seen, RETREATS)
                low, high = wilson(found.share * found.looks, found.looks)
                inside = (low <= chance + 1e-12) & (chance <= high + 1e-12)
                most, stands = home(found)[:2]
                told += inside.mean(), inside[chance.argmax()], stands, stands and most != chance.argmax()
            _row(f"{checks} checks, stays {stay}", told / studies)


def _one(
    rng: np.random.Generator, chance: NDArray[np.float64], checks: int, stay: float
) -> NDArray[np.int64]:
    seen = np.empty(checks, np.int64)
    for t in range(checks):
        seen[t] = seen[t - 1] if t and rng.random() < stay else rng.choice(RETREATS, p=chance)
    return seen[rng.random(checks) < 0.9]


def _crowding(studies: int) -> None:
    """Six animals not told apart, six hides: crowded, even, called too early."""
    for checks in (10, 60):
        for joins in (0.0, 0.3):
            for stay in (0.0, 0.5, 0.8, 0.95):
                told = np.zeros(3)
                for i in range(studies):
                    counts = _young(np.random.default_rng([SEED, checks, i]), checks, stay, joins)
                    found = crowding(counts, np.ones(6), np.full(checks, 6), draws=499, seed=i)
                    enough = found.looks >= LEAST_LOOKS
                    crowded = enough and found.p_crowded <= LEVEL_CROWDED
                    told += crowded, enough and found.p_even <= LEVEL_EVEN, not enough
                _row(f"{checks} checks, stays {stay}, joins {joins}", told / studies)


def _young(rng: np.random.Generator, checks: int, stay: float, joins: float) -> NDArray[np.int64]:
    counts, where = [], rng.choice(6, 6)
    for _ in range(checks):
        new = rng.choice(6, 6)
        for i in range(1, 6):
            new[i] = new[rng.integers(i)] if rng.random() < joins else new[i]
        where = np.where(rng.random(6) < stay, where, new)
        counts.append(np.bincount(where[rng.random(6) < 0.9], minlength=6))
    return np.array(counts)


DRY: dict[str, dict[str, float]] = {
    "no response, stays 0.8": {},
    "no response, stays 0.5": {"stays": 0.5},
    "restless when dry": {"restless": 0.4},
    "seeks 1 (x2.7 for 10 points)": {"seeks": 1.0},
    "seeks 1, restless": {"seeks": 1.0, "restless": 0.4},
    "seeks 2": {"seeks": 2.0},
}


def _dry(studies: int) -> None:
    """Moves when dry, of these by new minus old; more movers; odds, alone and by changes within."""
    for name, how in DRY.items():
        told = np.zeros(5)
        for i in range(studies):
            where, moisture, since = dry_colony(np.random.default_rng([SEED, i]), **how)  # type: ignore[arg-type]
            checks = as_checks(where)
            known = Known({"humidity_pct": moisture}, {"humidity_pct": since})
            row = dry_table([checks], [known]).to_dict("records")[0]
            fits = choices_table([checks], [known]).set_index("fit")
            odds = [fits.loc[k, "odds_low"] > 1 or fits.loc[k, "odds_high"] < 1 for k in fits.index]
            calls = [moves_when_dry(row), row["moister_dry_low"] > 0, row["moving_by_10_high"] < 0, *odds]
            told += np.array([float(call) for call in calls])
        _row(name, told / studies)


HOT: dict[str, dict[str, float]] = {
    "from the heat, alike .8": {},
    "from the heat, alike 1": {"alike": 1.0},
    "from the heat, alike .8, stays .5": {"stays": 0.5},
    "from the heat x2, alike .8": {"cool": 1.0},
    "no liking at all": {"cool": 0.0},
    "moisture (1), not heat": {"cool": 0.0, "seeks": 1.0},
    "moisture (2), not heat": {"cool": 0.0, "seeks": 2.0},
    "moisture (2) and heat": {"seeks": 2.0},
}


def hot_told(how: dict[str, float], seed: tuple[int, int]) -> list[float]:
    """Claimed, sure, claimed were heat not looked at, told that the two cannot be parted."""
    where, moisture, since, warm = hot_colony(np.random.default_rng(seed), **how)  # type: ignore[arg-type]
    checks = as_checks(where)
    known = Known({"humidity_pct": moisture, "temperature_c": warm}, {"humidity_pct": since})
    dry = dry_table([checks], [known])
    row = dry.to_dict("records")[0]
    (found,) = dry_moves([checks], dry)
    before = row["than_usual_low"] > 0 or row["moister_dry_low"] > 0
    claimed = found.verdict == "moves when dry"
    sure = claimed and found.standing == "fairly sure here"
    return [float(v) for v in (claimed, sure, before, found.reason == "dry_or_hot")]


def _hot(studies: int) -> None:
    for name, how in HOT.items():
        _row(name, np.mean([hot_told(how, (SEED, i)) for i in range(studies)], axis=0))


def as_checks(where: NDArray[np.int64], every_days: int = 3) -> Checks:
    """A matrix of checks x animals as one enclosure's checks: all retreats looked into, of one size."""
    checks, animals = where.shape
    first = datetime(2025, 3, 1, 12, tzinfo=UTC)
    at = tuple(first + timedelta(days=every_days * t) for t in range(checks))
    counts = np.stack([(where == r).sum(axis=1) for r in range(RETREATS)], axis=1)
    shape = checks, RETREATS
    return Checks(
        enclosure="tank", retreats=tuple(f"r{r}" for r in range(RETREATS)),
        animals=tuple(f"a{a}" for a in range(animals)), at=at, days=tuple(date(t.year, t.month, t.day) for t in at),
        months=np.array([f"{t:%Y-%m}" for t in at], str),
        where=where, out=np.zeros(where.shape, bool), lives=np.ones(where.shape, bool), counts=counts, groups={},
        groups_out={}, looked=np.ones(shape, bool), lifted=np.zeros(shape, bool), capacity=np.ones(shape),
        alive=np.full(checks, animals), found=(where >= 0).sum(axis=1),
    )  # fmt: skip


def _row(name: str, shares: NDArray[np.float64]) -> None:
    print(f"| {name} | " + " | ".join(f"{100 * s:.1f}" for s in shares) + " |", flush=True)


def main(what: str, studies: int) -> None:
    {"company": _company, "shares": _shares, "crowding": _crowding, "dry": _dry, "hot": _hot}[what](studies)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "company", int(sys.argv[2]) if len(sys.argv) > 2 else 200)
