"""Whether what animals sought in dry spells was moisture or a cooler place: dry days are often hot ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.choice import fit_choice
from ...stats.drying import NOTHING, Interval, clustered_mean
from ...stats.intervals import t_quantile
from .checks import Checks

Flags = NDArray[np.bool_]
TEMPERATURE = "temperature_c"
# Retreats that never differ by so much at a check, °C, leave heat nothing to explain (house rule).
_SAME_C = 0.5
_FEWEST_CHECKS = 4
HEAT_COLUMNS = [
    "cooler_dry", "cooler_dry_low", "cooler_dry_high", "odds_heat_held", "odds_heat_held_low", "odds_heat_held_high",
    "heat",
]  # fmt: skip
# What the temperatures say of the moves in dry spells.
UNKNOWN, ALIKE, PARTED, NOT_PARTED = "not known", "alike", "parted", "not parted"


@dataclass(frozen=True, slots=True)
class Heat:
    """``cooler``: °C of the retreat left less that gone to; ``odds`` for ten points of moisture at equal heat."""

    cooler: Interval
    odds: tuple[float, float, float]
    says: str

    def columns(self) -> tuple[float | str, ...]:
        return (self.cooler.value, self.cooler.low, self.cooler.high, *self.odds, self.says)


_NO_ODDS = (float("nan"),) * 3


def dry_or_hot(
    checks: Checks, moisture: Floats, temperature: Floats | None, went: Flags, *, dry: Flags, other: Flags
) -> Heat:
    """Part moisture from heat in the moves of dry spells.

    A conditional logit (McFadden 1974) of the retreats gone to then, on moisture and temperature together, weighed by
    how often each is gone to at other times, without the retreat left; errors by check (jackknife). ``parted``
    where moisture still counts at equal heat. ``moisture``, ``temperature`` are checks x retreats, ``went`` checks x
    animals.
    """
    if temperature is None or not np.isfinite(temperature).any():
        return Heat(NOTHING, _NO_ODDS, UNKNOWN)
    t, who = np.nonzero(went)
    to, left = checks.where[t, who], checks.where[t - 1, who]
    rest, spell = to[other[t]], dry[t]
    t, to, left = t[spell], to[spell], left[spell]
    cooler = temperature[t, left] - temperature[t, to]
    good = np.isfinite(cooler)
    told = clustered_mean(cooler[good], t[good])
    known = np.isfinite(temperature[t])
    if not known.any():
        return Heat(told, _NO_ODDS, UNKNOWN)
    with np.errstate(invalid="ignore"):
        apart = [np.ptp(row[k]) for row, k in zip(temperature[t], known, strict=True) if k.sum() > 1]
    if not apart or max(apart) < _SAME_C:
        return Heat(told, _NO_ODDS, ALIKE)
    odds = _at_equal_heat(checks, (moisture[t], temperature[t]), to, left, t, usual=rest)
    return Heat(told, odds, PARTED if odds[1] > 1 else NOT_PARTED)


def _at_equal_heat(
    checks: Checks, values: tuple[Floats, Floats], to: NDArray[np.int64], left: NDArray[np.int64],
    check: NDArray[np.intp], *, usual: NDArray[np.int64],
) -> tuple[float, float, float]:  # fmt: skip
    moist, warm = values
    there = checks.looked[check] & np.isfinite(moist) & np.isfinite(warm)
    moves = np.arange(len(to))
    there[moves, left] = False
    good = there[moves, to] & (there.sum(axis=1) > 1)
    if len(set(check[good].tolist())) < _FEWEST_CHECKS:
        return _NO_ODDS
    # Half a visit more for each, so that a retreat never gone to at other times is no impossibility.
    share = np.bincount(usual, minlength=moist.shape[1]) + 0.5
    row, column = np.nonzero(there & good[:, None])
    x = np.column_stack([moist[row, column] / 10, warm[row, column]])
    chosen = (to[row] == column).astype(np.float64)
    try:
        fit = fit_choice(x - x.mean(axis=0), row, chosen, offset=np.log(share[column]), cluster=check[row])
    except (ValueError, np.linalg.LinAlgError):
        return _NO_ODDS
    error = float(fit.se_cr3[0])
    if not fit.estimable[0] or not np.isfinite(error) or fit.clusters < _FEWEST_CHECKS:
        return _NO_ODDS
    half = float(t_quantile(0.975, fit.clusters - 1)) * error
    middle = float(fit.coef[0])
    low, value, high = (float(np.exp(np.clip(middle + k * half, -50, 50))) for k in (-1, 0, 1))
    return value, low, high
