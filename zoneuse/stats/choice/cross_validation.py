"""Comparing choice models by how well each foretells sessions it has not seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from .choice import fit_choice


@dataclass(frozen=True, slots=True)
class HeldOut:
    """Log likelihood of each cluster from a fit without it (and its fold), and the sum."""

    clusters: NDArray[np.generic]
    loglik: Floats

    @property
    def total(self) -> float:
        """Sum over clusters: the larger, the better the model foretells."""
        return float(self.loglik.sum())


def held_out_loglik(
    x: ArrayLike,
    moment: ArrayLike,
    chosen: ArrayLike,
    cluster: ArrayLike,
    *,
    offset: ArrayLike | None = None,
    folds: int = 10,
) -> HeldOut:
    """Cross-validated log likelihood, whole clusters (sessions, days) left out at a time.

    Clusters are dealt to the folds in turn, so two models given the same clusters see the same folds and
    can be compared cluster by cluster (``better_by``). Columns as for ``choice.fit_choice``; ValueError
    with fewer than two clusters.
    """
    rows = np.asarray(x, np.float64)
    ids = np.unique(np.asarray(moment), return_inverse=True)[1]
    took = np.asarray(chosen, np.float64)
    names, group = np.unique(np.asarray(cluster), return_inverse=True)
    if names.size < 2:
        raise ValueError("cluster: expected at least two sessions or days to leave one out")
    off = np.zeros(ids.size) if offset is None else np.asarray(offset, np.float64)
    fold = np.arange(names.size) % min(folds, names.size)
    loglik = np.zeros(names.size)
    coef = None
    for part in range(int(fold.max()) + 1):
        out = fold[group] == part
        # Nine tenths of the moments are those of the fold before: its fit is all but theirs.
        fit = fit_choice(rows[~out], ids[~out], took[~out], offset=off[~out], start=coef, errors=False)
        coef = np.where(np.isfinite(fit.coef), fit.coef, 0.0)
        loglik += _loglik(rows[out] @ coef + off[out], ids[out], took[out], group[out], names.size)
    return HeldOut(names, loglik)


def _loglik(
    eta: Floats, ids: NDArray[np.intp], took: Floats, group: NDArray[np.intp], clusters: int
) -> Floats:
    """Log likelihood by cluster of given linear predictors."""
    order = np.argsort(ids, kind="stable")
    eta, ids, took, group = eta[order], ids[order], took[order], group[order]
    starts = np.flatnonzero(np.r_[True, ids[1:] != ids[:-1]])
    number = np.repeat(np.arange(starts.size), np.diff(np.r_[starts, ids.size]))
    top = np.maximum.reduceat(eta, starts)
    log_sum = top + np.log(np.add.reduceat(np.exp(eta - top[number]), starts))
    each = np.where(took > 0, took * (eta - log_sum[number]), 0.0)
    return np.asarray(np.bincount(group, each, clusters), np.float64)


def better_by(one: HeldOut, other: HeldOut) -> tuple[float, float]:
    """How much better ``one`` foretells than ``other`` (difference of totals), and its standard error.

    >>> a = HeldOut(np.arange(3), np.array([-1.0, -2.0, -3.0]))
    >>> b = HeldOut(np.arange(3), np.array([-2.0, -3.0, -4.0]))
    >>> better_by(a, b)
    (3.0, 0.0)
    """
    step = one.loglik - other.loglik
    return float(step.sum()), float(np.sqrt(step.size * step.var(ddof=1)))
