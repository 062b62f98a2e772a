"""How often zone_use is right on invented animals: python -m tests.sim.calibrate_zones [WHAT …].

WHAT: cover, alarms, power, forecast (default all). Prints Markdown tables for docs/methods/zones.md:
coverage or verdicts in percent, with the Monte Carlo error.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from tests.sim.animals import Design, Studies, simulate
from zoneuse.answers.zones.judge import call_zones
from zoneuse.stats.space_use.sample_size import sample_size_to_settle
from zoneuse.stats.space_use.single_step import single_step
from zoneuse.stats.space_use.zone_use import ZoneUse, zone_use

# One zone takes most, one hardly any: true shares .80, .02 and between.
STEEP = Design(available=(0.30, 0.22, 0.16, 0.14, 0.10, 0.08), times=(2.667, 0.2727, 0.25, 0.1429, 0.3, 0.25))
WIDE = Design(times=(1.5, 1.2, 1.0, 0.6, 0.5, 0.25))


def answers(studies: Studies, draws: int) -> Iterable[tuple[ZoneUse, np.ndarray]]:
    """The answer to every study, with its truth."""
    offered = studies.design.offered
    for number in range(studies.zone.shape[0]):
        found = zone_use(**studies.study(number), availability=offered, draws=draws, seed=number)
        yield found, studies.truth[number]


def error(part: float, count: int) -> float:
    """Monte Carlo standard error of a percentage."""
    return 100 * float(np.sqrt(max(part * (1 - part), 1 / count / 4) / count))


def cover(studies: int, draws: int, seed: int) -> None:
    """Coverage of the limits of used, each zone by itself; and of the ratio's, all zones at once."""
    print(
        "\n| true shares | design | sessions | used: mean / worst / best zone | all ratios at once | s.e. |"
    )
    print("|---|---|---|---|---|---|")
    variants = {
        "1 animal": {},
        "1 animal, carry .5": {"carry": 0.5},
        "1 animal, carry .8": {"carry": 0.8},
        "3 animals": {"animals": 3},
        "3 animals, days sd .5, unequal": {"animals": 3, "day_sd": 0.5, "unequal": True},
        "3 animals, sd .5 between": {"animals": 3, "animal_sd": 0.5},
        "1 animal, stickiness by zone": {"stay": (0.98, 0.95, 0.9, 0.95, 0.85, 0.97)},
        "3 animals, carry .5": {"animals": 3, "carry": 0.5},
        "6 not told apart": {"animals": 6, "group": True},
        "6 not told apart, carry .5": {"animals": 6, "group": True, "carry": 0.5},
    }
    for label, base in {"as offered": Design(), ".45-.02": WIDE, ".80-.02": STEEP}.items():
        for name, change in variants.items():
            for sessions in (8, 16, 40):
                design = replace(base, sessions=sessions, **change)
                own, every = [], []
                for found, truth in answers(simulate(design, studies, seed), draws):
                    own.append((found.used_low <= truth) & (truth <= found.used_high))
                    ratio = truth / found.availability
                    every.append(((found.ratio_low <= ratio) & (ratio <= found.ratio_high)).all())
                zones = np.mean(own, axis=0)
                print(
                    f"| {label} | {name} | {sessions} | {100 * zones.mean():.1f} / {100 * zones.min():.1f} / "
                    f"{100 * zones.max():.1f} | {100 * np.mean(every):.1f} | {error(zones.mean(), studies):.1f} |",
                    flush=True,
                )


NULLS = {
    "1 animal": {},
    "3 animals": {"animals": 3},
    "1 animal, carry .5": {"carry": 0.5},
    "1 animal, carry .8": {"carry": 0.8},
    "3 animals, carry .5": {"animals": 3, "carry": 0.5},
    "3 animals, carry .8": {"animals": 3, "carry": 0.8},
    "1 animal, days sd .5": {"day_sd": 0.5},
    "3 animals, days sd .5": {"animals": 3, "day_sd": 0.5},
    "3 animals, days sd .5, carry .5": {"animals": 3, "day_sd": 0.5, "carry": 0.5},
    "1 animal, stickiness by zone": {"stay": (0.98, 0.95, 0.9, 0.95, 0.85, 0.97)},
    "3 animals, stickiness by zone": {"animals": 3, "stay": (0.98, 0.95, 0.9, 0.95, 0.85, 0.97)},
    "1 animal, unequal sessions": {"unequal": True},
    "3 animals, unequal, days sd .5": {"animals": 3, "unequal": True, "day_sd": 0.5},
    "1 animal, restless (.8)": {"stay": 0.8},
    "6 not told apart": {"animals": 6, "group": True},
    "6 not told apart, carry .5": {"animals": 6, "group": True, "carry": 0.5},
    "6 not told apart, carry .8": {"animals": 6, "group": True, "carry": 0.8},
    "6 not told apart, days sd .5": {"animals": 6, "group": True, "day_sd": 0.5},
    "1 animal, some unseen by zone": {"unseen": (0.3, 0.0, 0.0, 0.0, 0.2, 0.5)},
    "3 animals, some unseen by zone": {"animals": 3, "unseen": (0.3, 0.0, 0.0, 0.0, 0.2, 0.5)},
}


def alarms(studies: int, draws: int, seed: int) -> None:
    """Studies without preference in which any zone is called avoided or favoured."""
    print(
        "\n| no preference | sessions | any called avoided or favoured | s.e. | zones in proportion | p <= .05 |"
    )
    print("|---|---|---|---|---|---|")
    for name, change in NULLS.items():
        for sessions in (8, 12, 16, 24, 40, 60):
            design = Design(sessions=sessions, **change)
            called, even, small = [], [], []
            for found, _ in answers(simulate(design, studies, seed + 1), draws):
                verdict = call_zones(found).verdict
                called.append(any(v in ("avoided", "favoured") for v in verdict))
                even.append(np.mean([v == "in proportion" for v in verdict]))
                small.append(found.p_no_preference <= 0.05)
            rate = float(np.mean(called))
            none = "" if np.isnan(found.p_no_preference) else f"{100 * np.mean(small):.1f}"
            print(
                f"| {name} | {sessions} | {100 * rate:.1f} | {error(rate, studies):.1f} | "
                f"{100 * np.mean(even):.1f} | {none} |",
                flush=True,
            )


EFFECTS = {
    "x2.5 of .08": (5, 2.5),
    "x2.5 of .16": (2, 2.5),
    "x2.5 of .30": (0, 2.5),
    "1/4 of .30": (0, 0.25),
    "1/4 of .22": (1, 0.25),
    "1/4 of .16": (2, 0.25),
    "1/7 of .30": (0, 1 / 7),
    "1/7 of .22": (1, 1 / 7),
    "1/7 of .16": (2, 1 / 7),
}


def power(studies: int, draws: int, seed: int) -> None:
    """Power at 24 sessions beside an oracle that knows the stickiness, and any definite verdict."""
    print("\n| effect | animals | zoneuse | oracle | ratio | s.e. | other zones called, of all |")
    print("|---|---|---|---|---|---|---|")
    for animals in (1, 3):
        flat = Design(sessions=24, animals=animals)
        null = np.array([means(s, 6) for s in simulate(flat, 8 * studies, seed + 2).zone])
        for name, (zone, times) in EFFECTS.items():
            weights = tuple(times if z == zone else 1.0 for z in range(6))
            drawn = simulate(replace(flat, times=weights), studies, seed + 3)
            word = "favoured" if times > 1 else "avoided"
            found = [call_zones(a).verdict for a, _ in answers(drawn, draws)]
            ours = float(np.mean([v[zone] == word for v in found]))
            others = float(
                np.mean([[v[z] in ("avoided", "favoured") for z in range(6) if z != zone] for v in found])
            )
            at = single_step(null, null[0])
            mean = np.array([means(s, 6)[zone] for s in drawn.zone])
            oracle = float(np.mean(mean > at.above[zone] if times > 1 else mean < at.below[zone]))
            print(
                f"| {name} | {animals} | {100 * ours:.1f} | {100 * oracle:.1f} | {ours / max(oracle, 1e-9):.2f} | "
                f"{error(ours, studies):.1f} | {100 * others:.1f} |",
                flush=True,
            )


def forecast(studies: int, draws: int, seed: int, many: Sequence[int] = (1, 3)) -> None:
    """Zones too early to call: the chance stated for so many more sessions, and how often it came true.

    What is stated is a verdict that stands however often one asks; beside it any verdict, as it looks that day.
    """
    print(
        "\n| studies | sessions seen | zones with a forecast up to 200 | stated chance | stands then | s.e. "
        "| any verdict |\n|---|---|---|---|---|---|---|"
    )
    random = np.random.default_rng(seed)
    for animals in many:
        for spread in (0.0, 0.5, 1.0):
            for sessions in (8, 20):
                told: list[tuple[float, bool, bool]] = []
                for number in range(studies):
                    weights = tuple(np.exp(spread * random.normal(size=6))) if spread else ()
                    design = Design(sessions=sessions + 200, animals=animals, times=weights)
                    columns = simulate(design, 1, seed + 10 * number).study(0)
                    told += settle_one(columns, design.offered, sessions, draws)
                label = f"{animals} animal(s), log ratios sd {spread}"
                if told:
                    stated, stands, any_ = np.mean(np.array(told, float), axis=0)
                    print(
                        f"| {label} | {sessions} | {len(told)} | {100 * stated:.0f} | {100 * stands:.0f} | "
                        f"{error(float(stands), len(told)):.0f} | {100 * any_:.0f} |", flush=True,
                    )  # fmt: skip


def settle_one(
    columns: dict[str, np.ndarray], offered: np.ndarray, sessions: int, draws: int
) -> list[tuple[float, bool, bool]]:
    """For each zone too early after the first sessions of one study: the stated chance, and whether a verdict that
    stands, or any verdict, then came."""

    def until(unit: int) -> ZoneUse:
        rows = columns["unit"] < unit
        return zone_use(**{k: v[rows] for k, v in columns.items()}, availability=offered, draws=draws)

    found = until(sessions)
    told = sample_size_to_settle(found, call_zones(found).undecided, most=200)
    out = []
    for more in np.unique(told.more[~np.isnan(told.more)]):
        later = call_zones(until(sessions + int(more)))
        for z in np.flatnonzero(told.more == more):
            word = later.verdict[z]
            stands = later.sure[z] or word == "in proportion"
            out.append((float(told.chance[z]), stands, word != "too early"))
    return out


def means(zone: np.ndarray, zones: int) -> np.ndarray:
    """Mean share over sessions of equal length, of one study."""
    return np.array([(zone == z).sum() for z in range(zones)]) / (zone >= 0).sum()


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="*", default=[])
    parser.add_argument("--studies", type=int, default=1000)
    parser.add_argument("--draws", type=int, default=999)
    parser.add_argument("--seed", type=int, default=20260401)
    parser.add_argument("--animals", type=int, nargs="+", default=[1, 3], help="of forecast")
    asked = parser.parse_args()
    ahead = partial(forecast, many=asked.animals)
    parts = {"cover": cover, "alarms": alarms, "power": power, "forecast": ahead}
    for name, part in parts.items():
        if not asked.what or name in asked.what:
            start = time.perf_counter()
            print(f"\n## {name}: {asked.studies} studies a cell, {asked.draws} draws, seed {asked.seed}")
            part(asked.studies, asked.draws, asked.seed)
            print(f"\n({time.perf_counter() - start:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
