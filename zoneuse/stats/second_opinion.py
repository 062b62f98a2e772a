"""Boring standard methods beside zoneuse's own, by statsmodels: estimate and 95 % limits, and how many clusters.

Loaded only where a second opinion is asked for: statsmodels takes seconds to load.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
import statsmodels.api as sm
from numpy.typing import ArrayLike
from statsmodels.regression.mixed_linear_model import MixedLM

BINOMIAL, POISSON, MIXED, HAC, BOOTSTRAP = (
    "cluster-robust binomial",
    "cluster-robust Poisson",
    "mixed model",
    "OLS, HAC errors",
    "cluster bootstrap",
)


@dataclass(frozen=True, slots=True)
class Opinion:
    """What one method says; limits are NaN where it has none. ``clusters``: what it takes as independent."""

    method: str
    estimate: float
    low: float
    high: float
    clusters: int


def share(hit: ArrayLike, weight: ArrayLike, cluster: ArrayLike) -> Opinion:
    """A share of moments (0 or 1 each, with weights): logit with an intercept, errors clustered (Liang & Zeger 1986,
    Biometrika 73:13), t with clusters less one. All or none has no such limits.

    >>> found = share([1, 0, 1, 1, 0, 0], np.ones(6), [0, 0, 1, 1, 2, 2])
    >>> found.estimate, found.clusters
    (0.5, 3)
    """
    y, w = np.asarray(hit, np.float64), np.asarray(weight, np.float64)
    _, group = np.unique(np.asarray(cluster), return_inverse=True)
    number, estimate = (
        int(group.max()) + 1 if y.size else 0,
        float(np.average(y, weights=w)) if y.size else np.nan,
    )
    if number < 2 or not 0 < estimate < 1:
        return Opinion(BINOMIAL, estimate, np.nan, np.nan, number)
    # Sums of a cluster as one row: errors robust to their spread are then those clustered;
    # statsmodels' HC1 leaves out G/(G-1) for a GLM.
    hits, total = np.bincount(group, y * w, number), np.bincount(group, w, number)
    model = sm.GLM(np.column_stack([hits, total - hits]), np.ones((number, 1)), family=sm.families.Binomial())
    fit = model.fit(cov_type="HC0", use_t=True)
    middle, ends = float(fit.params[0]), np.asarray(fit.conf_int())[0]
    low, high = 1 / (1 + np.exp(-middle - (ends - middle) * np.sqrt(number / (number - 1))))
    return Opinion(BINOMIAL, float(1 / (1 + np.exp(-middle))), float(low), float(high), number)


def rate(count: ArrayLike, hours: ArrayLike) -> Opinion:
    """Events an hour: Poisson with the log of hours as offset, errors robust to how units (a count and its hours each)
    spread (Liang & Zeger 1986), t with units less one. None at all, or one unit, has no limits.

    >>> found = rate([2, 4, 3, 3], [1.0, 1.0, 1.0, 1.0])
    >>> found.estimate, found.clusters, round(found.low, 2), round(found.high, 2)
    (3.0, 4, 1.95, 4.63)
    """
    n, h = np.asarray(count, np.float64), np.asarray(hours, np.float64)
    n, h = n[h > 0], h[h > 0]
    estimate = float(n.sum() / h.sum()) if h.size else np.nan
    if n.size < 2 or not n.any():
        return Opinion(POISSON, estimate, np.nan, np.nan, n.size)
    model = sm.GLM(n, np.ones((n.size, 1)), family=sm.families.Poisson(), offset=np.log(h))
    fit = model.fit(cov_type="HC0", use_t=True)
    reach = (np.asarray(fit.conf_int())[0] - float(fit.params[0])) * np.sqrt(n.size / (n.size - 1))
    low, high = estimate * np.exp(reach)
    return Opinion(POISSON, estimate, float(low), float(high), n.size)


def mean_by_mixed_model(values: ArrayLike, animal: ArrayLike) -> Opinion:
    """The mean of values of sessions with a random intercept for each animal (REML); of one animal alone, OLS."""
    v = np.asarray(values, np.float64)
    _, who = np.unique(np.asarray(animal), return_inverse=True)
    number = int(who.max()) + 1 if v.size else 0
    if number < 2 or v.size <= number:
        return level_change(v, np.zeros(v.size), intercept=True)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a variance of nothing between animals lies on its boundary
        fit = MixedLM(v, np.ones((v.size, 1)), who).fit(reml=True)
    low, high = np.asarray(fit.conf_int())[0]
    return Opinion(MIXED, float(fit.fe_params[0]), float(low), float(high), number)


def level_change(
    values: ArrayLike, late: ArrayLike, beside: ArrayLike | None = None, *, intercept: bool = False
) -> Opinion:
    """The change of level of a series (units in order of time) by OLS with HAC errors (Newey & West 1987,
    Econometrica 55:703; lags 4 (n/100)^(2/9)); ``beside`` (units x terms) are taken out.

    With ``intercept`` the level itself.
    """
    v, step = np.asarray(values, np.float64), np.asarray(late, np.float64)
    more = np.zeros((v.size, 0)) if beside is None else np.asarray(beside, np.float64)
    design = np.column_stack([np.ones(v.size), *([] if intercept else [step]), more])
    design = design[:, [0, *(i for i in range(1, design.shape[1]) if np.ptp(design[:, i]) > 0)]]
    which = 0 if intercept else 1
    if v.size <= design.shape[1] + 1 or design.shape[1] <= which:
        return Opinion(HAC, np.nan, np.nan, np.nan, v.size)
    lags = max(int(4 * (v.size / 100) ** (2 / 9)), 1)
    fit = sm.OLS(v, design).fit(
        cov_type="HAC", cov_kwds={"maxlags": lags, "use_correction": True}, use_t=True
    )
    low, high = np.asarray(fit.conf_int())[which]
    return Opinion(HAC, float(fit.params[which]), float(low), float(high), v.size)


def share_by_bootstrap(hit: ArrayLike, weight: ArrayLike, cluster: ArrayLike, seed: int = 1) -> Opinion:
    """A share with percentile limits over redrawn clusters (Efron & Tibshirani 1993, ch. 8): 1,999 draws."""
    y, w = np.asarray(hit, np.float64), np.asarray(weight, np.float64)
    _, group = np.unique(np.asarray(cluster), return_inverse=True)
    number = int(group.max()) + 1 if y.size else 0
    if number < 2:
        return Opinion(
            BOOTSTRAP, float(np.average(y, weights=w)) if y.size else np.nan, np.nan, np.nan, number
        )
    hits, total = np.bincount(group, y * w, number), np.bincount(group, w, number)
    redrawn = np.random.default_rng(seed).multinomial(number, np.full(number, 1 / number), 1999)
    low, high = np.quantile((redrawn @ hits) / (redrawn @ total), [0.025, 0.975])
    return Opinion(BOOTSTRAP, float(hits.sum() / total.sum()), float(low), float(high), number)


def lead_by_bootstrap(
    found: ArrayLike, total: ArrayLike, cluster: ArrayLike, place: int, seed: int = 1
) -> Opinion:
    """How far a share lies ahead of the largest other one (as drawn), with percentile limits over redrawn clusters.

    ``found`` is looks x places, ``total`` (looks,) all that was found, ``place`` the column that leads.
    """
    counts, all_ = np.asarray(found, np.float64), np.asarray(total, np.float64)
    _, group = np.unique(np.asarray(cluster)[all_ > 0], return_inverse=True)
    number = int(group.max()) + 1 if group.size else 0
    if number < 2 or counts.shape[1] < 2:
        return Opinion(BOOTSTRAP, np.nan, np.nan, np.nan, number)
    sums = np.zeros((number, counts.shape[1] + 1))
    np.add.at(sums, group, np.column_stack([counts, all_])[all_ > 0])
    redrawn = np.random.default_rng(seed).multinomial(number, np.full(number, 1 / number), 1999)
    drawn = np.vstack([sums.sum(axis=0), redrawn @ sums])
    shares = drawn[:, :-1] / drawn[:, -1:]
    lead = shares[:, place] - np.delete(shares, place, axis=1).max(axis=1)
    low, high = np.quantile(lead[1:], [0.025, 0.975])
    return Opinion(BOOTSTRAP, float(lead[0]), float(low), float(high), number)
