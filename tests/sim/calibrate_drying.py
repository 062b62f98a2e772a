"""How often a forecast holds on invented dry-downs: python -m tests.sim.calibrate_drying [--studies 400].

Prints a Markdown table for docs/methods/climate.md, with Monte Carlo errors.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.sim.drydown import PER_DAY, Cycle, DryStudy, Pattern, make_study
from zoneuse.stats.drying.dry_forecast import DryForecast, forecast
from zoneuse.stats.drying.drying import centred_medians, days_back, find_rises
from zoneuse.stats.drying.staged import Cycle as Medians

PATTERNS = {
    "plain": Pattern(),
    "calm": Pattern(weather_sd=(0.2, 0.6), noise=0.3, mistings_per_day=0.0, gaps_per_cycle=0.0),
    "unquiet": Pattern(weather_sd=(1.5, 2.5), weather_d=5.0, noise=1.0, mistings_per_day=1.0, gaps_per_cycle=1.5),
    "cycles alike": Pattern(rate_sd=0.08, asymptote_sd=0.8, start_sd=0.5),
    "cycles differ": Pattern(rate_sd=0.35, asymptote_sd=4.0, start_sd=3.0),
    "slow": Pattern(time_constant_d=(15.0, 30.0)),
    "heating on": Pattern(heating=True),
}  # fmt: skip


def medians_of(cycle: Cycle, until: float) -> Medians:
    seen = cycle.t < until
    at = days_back(0.0, until)
    y = centred_medians(cycle.t[seen], cycle.values[seen], at)
    good = ~np.isnan(y)
    return Medians(at[good], y[good])


def past_of(study: DryStudy) -> list[Medians]:
    return [medians_of(c, float(c.t[-1])) for c in study.cycles[:-1]]


def forecasts(
    pattern: Pattern, past: int, before: float, studies: int, seed: int
) -> Iterator[tuple[DryForecast | None, float]]:
    """The forecast ``before`` days ahead of each true crossing."""
    random = np.random.default_rng(seed)
    for _ in range(studies):
        study = make_study(past, random, pattern)
        running = study.cycles[-1]
        now = running.crossing - before
        yield forecast(medians_of(running, now), now, study.limit, past_of(study)), before


@dataclass(frozen=True)
class Result:
    held: float
    error: float
    width: float
    answered: float
    count: int


def judge(made: list[tuple[DryForecast | None, float]]) -> Result:
    given = [(f, truth) for f, truth in made if f is not None and f.dated]
    held = [f.low <= truth <= f.high for f, truth in given]
    return Result(
        100 * float(np.mean(held)),
        float(np.median([abs(f.days - truth) for f, truth in given])),
        float(np.median([f.high - f.low if np.isfinite(f.high) else np.inf for f, truth in given])),
        100 * len(given) / len(made),
        len(given),
    )


def waters_found(pattern: Pattern, studies: int, seed: int) -> tuple[int, int, int]:
    """How many waters there were, how many were found within half a day, and how many were found where none was."""
    random = np.random.default_rng(seed)
    there = found = wrong = 0
    for _ in range(studies):
        cycles = make_study(2, random, pattern).cycles
        values = np.concatenate([c.values for c in cycles])
        edges = np.cumsum([len(c.t) for c in cycles])[:-1] / PER_DAY
        said = find_rises(np.arange(len(values)) / PER_DAY, values)
        hits = [min((abs(day - edge) for day in said), default=np.inf) < 0.5 for edge in edges]
        there, found = there + len(edges), found + sum(hits)
        wrong += sum(min(abs(day - edge) for edge in edges) >= 0.5 for day in said)
    return there, found, wrong


def print_waters(studies: int, seed: int) -> None:
    print("| dry-downs | waters | found | found where none was, per 100 days |")
    print("|---|---|---|---|")
    for name, pattern in PATTERNS.items():
        there, found, wrong = waters_found(pattern, studies, seed)
        # Two past cycles of some 14 days, and 45 days of the running one.
        print(
            f"| {name} | {there} | {100 * found / there:.0f} % | {100 * wrong / (studies * 73):.1f} |",
            flush=True,
        )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--waters", action="store_true", help="how well waters are found in the readings")
    parser.add_argument("--studies", type=int, default=400)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--patterns", nargs="*", default=list(PATTERNS))
    parser.add_argument("--before", nargs="*", type=float, default=[4.0])
    asked = parser.parse_args()
    if asked.waters:
        print_waters(asked.studies, asked.seed)
        return
    print(
        "| dry-downs | days before | past cycles | held by 80 % | s.e. | median error, d | median width, d | answered |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for name in asked.patterns:
        for before in asked.before:
            for past in (0, 1, 2, 4):
                found = judge(list(forecasts(PATTERNS[name], past, before, asked.studies, asked.seed + past)))
                se = 100 * np.sqrt(found.held / 100 * (1 - found.held / 100) / max(found.count, 1))
                print(
                    f"| {name} | {before:g} | {past} | {found.held:.0f} | {se:.1f} | {found.error:.2f} | "
                    f"{found.width:.1f} | {found.answered:.0f} |",
                    flush=True,
                )  # fmt: skip


if __name__ == "__main__":
    main()
