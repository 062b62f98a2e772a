"""Do animals move, and to moister places, when it has been dry: movers of each check as one cluster."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..intervals.quantiles import t_quantile

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# A spell is the driest quarter of the intervals between checks, and at least this far below the middle one.
DRIEST = 0.25
LEAST_BELOW = 3.0


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate with its 95 % limits and how many checks stand behind it."""

    value: float
    low: float
    high: float
    checks: int


NOTHING = Interval(float("nan"), float("nan"), float("nan"), 0)


def dry_spells(moisture: ArrayLike) -> tuple[Flags, int]:
    """Which intervals between checks were dry, and in how many spells (runs of them); NaN is not known.

    Dry is the driest quarter, if at least three points below the median.

    >>> dry, spells = dry_spells([80, 81, 60, 62, 80, 82, 61, 80, 81, 80, 79, 80])
    >>> int(dry.sum()), spells
    (3, 2)
    """
    values = np.asarray(moisture, np.float64)
    known = np.isfinite(values)
    if known.sum() < 4:
        return np.zeros(values.shape, bool), 0
    edge = min(np.quantile(values[known], DRIEST), np.median(values[known]) - LEAST_BELOW)
    dry = known & (values <= edge)
    runs = dry[known]
    return dry, int(runs[:1].sum() + (runs[1:] & ~runs[:-1]).sum())


def clustered_mean(values: ArrayLike, cluster: ArrayLike) -> Interval:
    """The mean over values whose clusters (checks) repeat each other, with t limits on clusters less one.

    Variance G/(G-1) times the sum over clusters of squared summed residuals (Liang & Zeger 1986, Biometrika
    73:13). Without limits (infinite) for a single cluster.

    >>> found = clustered_mean([1.0, 1.0, 3.0, 3.0], [0, 0, 1, 2])
    >>> found.value, round(found.high, 3), found.checks
    (2.0, 5.227, 3)
    """
    x, code = np.asarray(values, np.float64), np.asarray(cluster)
    if not x.size:
        return NOTHING
    _, group = np.unique(code, return_inverse=True)
    size = int(group.max()) + 1
    mean = float(x.mean())
    if size < 2:
        return Interval(mean, float("-inf"), float("inf"), size)
    residual = np.bincount(group, x - mean, size)
    error = np.sqrt(size / (size - 1) * float((residual**2).sum())) / x.size
    half = float(t_quantile(0.975, size - 1) * error)
    return Interval(mean, mean - half, mean + half, size)


def against_usual(
    moisture: ArrayLike,
    went: ArrayLike,
    left: ArrayLike,
    check: ArrayLike,
    usual: ArrayLike,
    *,
    usual_check: ArrayLike,
) -> Interval:
    """How much moister what is gone to in dry spells is than if animals chose then as they do at other times.

    One row for each move in a dry spell: ``moisture`` of every retreat then (NaN unknown), the retreat it
    ``went`` to and the one it ``left``, its ``check``. ``usual`` are the retreats gone to at other times:
    their shares, without the retreat left, say what to expect of each move. Checks are clusters in both; the
    error of the shares is carried over (delta method) and added; t limits on the dry checks less one.

    >>> dry = [[60.0, 80.0, 60.0]] * 4
    >>> found = against_usual(dry, [1, 1, 1, 2], [0, 2, 0, 1], [1, 2, 3, 4], [0, 1, 2, 0, 1, 2],
    ...     usual_check=[5, 6, 7, 8, 9, 9])
    >>> found.value, found.checks
    (7.5, 4)
    """
    values, to, old = np.asarray(moisture, np.float64), np.asarray(went, np.int64), np.asarray(left, np.int64)
    others = np.asarray(usual, np.int64)
    if not to.size or not others.size:
        return NOTHING
    moves = np.arange(to.size)
    share = np.bincount(others, minlength=values.shape[1]) / others.size
    there = np.isfinite(values)
    there[moves, old] = False
    weight = share * there
    total = weight.sum(axis=1)
    good = (total > 1e-9) & np.isfinite(values[moves, to])
    if not good.any():
        return NOTHING
    known, total, weight = np.where(there, values, 0.0)[good], total[good], weight[good]
    expected = (weight * known).sum(axis=1) / total
    here = clustered_mean(values[moves, to][good] - expected, np.asarray(check)[good])
    pull = np.where(there[good], known - expected[:, None], 0.0) / total[:, None]
    shares = clustered_mean(pull.mean(axis=0)[others], usual_check)
    if here.checks < 2 or shares.checks < 2:
        return Interval(here.value, float("-inf"), float("inf"), here.checks)
    half = float(t_quantile(0.975, here.checks - 1) * np.hypot(_error(here), _error(shares)))
    return Interval(here.value, here.value - half, here.value + half, here.checks)


def _error(found: Interval) -> float:
    return (found.high - found.value) / t_quantile(0.975, found.checks - 1)


def slope(share: ArrayLike, dryness: ArrayLike, days: ArrayLike) -> Interval:
    """Change of the share that moved for each unit of moisture, one row a check, the days between held alike.

    Least squares with the errors of MacKinnon & White (1985, J. Econometrics 29:305), HC3: checks differ in
    how many animals they hold. NaN below six checks.

    >>> found = slope([.1, .2, .3, .4, .5, .6, .7], [70, 60, 50, 40, 30, 20, 10], [2] * 7)
    >>> round(found.value, 6)
    -0.01
    """
    y, x, gap = (np.asarray(v, np.float64) for v in (share, dryness, days))
    known = np.isfinite(y) & np.isfinite(x) & np.isfinite(gap)
    if known.sum() < 6 or np.ptp(x[known]) <= 0:
        return NOTHING
    columns = [np.ones(int(known.sum())), x[known] - x[known].mean()]
    if np.ptp(gap[known]) > 0:
        columns.append(np.log(np.maximum(gap[known], 1 / 24)))
    design = np.column_stack(columns)
    inverse = np.linalg.pinv(design.T @ design)
    coefficient = inverse @ design.T @ y[known]
    leverage = np.einsum("ij,jk,ik->i", design, inverse, design)
    residual = (y[known] - design @ coefficient) / np.maximum(1 - leverage, 1e-9)
    weighted = design * residual[:, None]
    variance = float((inverse @ (weighted.T @ weighted) @ inverse)[1, 1])
    half = float(t_quantile(0.975, len(residual) - design.shape[1]) * np.sqrt(variance))
    value = float(coefficient[1])
    return Interval(value, value - half, value + half, len(residual))
