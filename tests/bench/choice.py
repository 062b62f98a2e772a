"""Time the conditional logit against statsmodels' ConditionalLogit: python -m tests.bench.choice.

10,000 moments x 8 zones x 6 terms; the two alternate, so that a busy machine slows both; medians.
"""

from __future__ import annotations

import argparse
import time
import warnings
from collections.abc import Callable
from statistics import median
from typing import Any

import numpy as np

from zoneuse.stats.choice import fit_choice


def table(moments: int, zones: int, terms: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A choice table with known coefficients: x (rows x terms), moment and chosen (rows)."""
    random = np.random.default_rng(seed)
    x = random.normal(size=(moments, zones, terms))
    beta = np.linspace(-1.0, 1.0, terms)
    pull = x @ beta + random.gumbel(size=(moments, zones))
    chosen = np.zeros((moments, zones), int)
    chosen[np.arange(moments), pull.argmax(axis=1)] = 1
    return x.reshape(-1, terms), np.repeat(np.arange(moments), zones), chosen.reshape(-1)


def timed(call: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds one call took, and what it returned."""
    start = time.perf_counter()
    result = call()
    return time.perf_counter() - start, result


def main() -> None:
    """Print both times, their ratio and the largest difference between coefficients."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--moments", type=int, default=10_000)
    parser.add_argument("--zones", type=int, default=8)
    parser.add_argument("--terms", type=int, default=6)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seed", type=int, default=20260301)
    asked = parser.parse_args()
    from statsmodels.discrete.conditional_models import ConditionalLogit  # takes two seconds to import

    x, moment, chosen = table(asked.moments, asked.zones, asked.terms, asked.seed)
    day = moment // 40
    ours: list[float] = []
    theirs: list[float] = []
    difference = 0.0
    for _ in range(asked.rounds):
        for _ in range(5):
            seconds, fit = timed(lambda: fit_choice(x, moment, chosen, cluster=day))
            ours.append(seconds)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            seconds, reference = timed(
                lambda: ConditionalLogit(chosen, x, groups=moment).fit(method="newton", disp=False)
            )
        theirs.append(seconds)
        difference = max(difference, float(np.abs(fit.coef - reference.params).max()))
    print(f"{asked.moments} moments x {asked.zones} zones x {asked.terms} terms, median of {asked.rounds}")
    print(f"zoneuse, with three covariances   {median(ours) * 1e3:10.1f} ms")
    print(f"statsmodels ConditionalLogit      {median(theirs) * 1e3:10.1f} ms")
    print(f"ratio                             {median(theirs) / median(ours):10.0f}")
    print(f"largest coefficient difference    {difference:10.1e}")


if __name__ == "__main__":
    main()
