"""Why a zone is little used, and what would change: climate, cover, size, or the place itself.

One fit holds both the curves and a liking of each place. The likings are drawn towards zero (a normal prior
on the log scale whose spread is the likeliest of ``LIKING_SPREADS`` given the data), so that a lasting
difference between zones goes to the climate that can explain it, unless what happened within zones over
time speaks against that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..intervals.quantiles import t_quantile
from ..intervals.shares import pooled_looks
from .choice import ChoiceFit, fit_choice

Ints = NDArray[np.intp]

LIKING_SPREADS = (0.1, 0.3, 0.6, 1.2)
# Parts nearer to each other than this, in log odds, are not told apart.
TOLD_APART = 0.5


@dataclass(frozen=True, slots=True)
class PlaceFit:
    """Curves and likings of places fitted together.

    Coefficients: one liking a zone, then each quantity and its square, then the extra terms. ``cov``
    allows for moments that repeat each other (``design_effect`` moments are worth one look).
    """

    zones: int
    quantities: tuple[str, ...]
    extras: tuple[str, ...]
    centre: Floats
    coef: Floats
    cov: Floats
    design_effect: float
    liking_spread: float
    looks_per_cluster: float
    clusters: int

    def curve(self, quantity: int) -> tuple[Floats, Floats]:
        """The two coefficients of a quantity and their covariance."""
        where = slice(self.zones + 2 * quantity, self.zones + 2 * quantity + 2)
        return self.coef[where], self.cov[where, where]

    def terms(self, x: ArrayLike, zone: ArrayLike, extra: ArrayLike | None = None) -> Floats:
        """Rows of the linear predictor (without the offset) for conditions ``x`` in zones ``zone``."""
        return _terms(np.asarray(x, np.float64) - self.centre, np.asarray(zone), self.zones, extra)


def fit_places(
    x: ArrayLike,
    moment: ArrayLike,
    zone: ArrayLike,
    chosen: ArrayLike,
    offset: ArrayLike,
    *,
    cluster: ArrayLike,
    quantities: Sequence[str],
    extra: ArrayLike | None = None,
    extras: Sequence[str] = (),
    zones: int | None = None,
    spreads: Sequence[float] = LIKING_SPREADS,
) -> PlaceFit:
    """Fit curves and likings of places; columns as for ``preference.fit_preference``."""
    given, where = np.asarray(x, np.float64), np.asarray(zone).astype(np.intp)
    took = np.asarray(chosen, np.float64)
    size = int(where.max()) + 1 if zones is None else zones
    centre = np.median(given, axis=0)
    rows = _terms(given - centre, where, size, extra)
    _, ids = np.unique(np.asarray(moment), return_inverse=True)
    _, group = np.unique(np.asarray(cluster), return_inverse=True)
    off = np.asarray(offset, np.float64)
    first = fit_choice(rows[:, size:], ids, took, offset=off, cluster=group)
    effect = _design_effect(first.cov, first.cov_cr3)
    tries = [_with_likings(rows, ids, took, off, size, effect=effect, spread=spread) for spread in spreads]
    fit, spread = max(tries, key=lambda t: t[2])[:2]
    return PlaceFit(
        zones=size,
        quantities=tuple(quantities),
        extras=tuple(extras),
        centre=centre,
        coef=np.where(np.isfinite(fit.coef), fit.coef, 0.0),
        cov=np.nan_to_num(fit.cov * effect),
        design_effect=effect,
        liking_spread=spread,
        looks_per_cluster=looks_per_cluster(where, took, group, size),
        clusters=first.clusters,
    )


def _with_likings(
    rows: Floats, ids: Ints, took: Floats, off: Floats, zones: int, *, effect: float, spread: float
) -> tuple[ChoiceFit, float, float]:
    """The fit with likings of that spread, the spread, and its log marginal likelihood (Laplace)."""
    # The prior as made-up choices between a zone and nothing, half of them for it: curvature weight/4.
    weight = 4 * effect / spread**2
    prior = np.zeros((2 * zones, rows.shape[1]))
    prior[::2, :zones] = np.eye(zones)
    fit = fit_choice(
        np.vstack([rows, prior]),
        np.r_[ids, ids.max() + 1 + np.repeat(np.arange(zones), 2)],
        np.r_[took, np.full(2 * zones, weight / 2)],
        offset=np.r_[off, np.zeros(2 * zones)],
        # Only the information of all moments together is asked for, not what each of them would change.
        cluster=np.zeros(took.size + 2 * zones, np.intp),
    )
    chance = np.maximum(fit.fitted[: took.size], 1e-300)
    likings = np.where(np.isfinite(fit.coef[:zones]), fit.coef[:zones], 0.0)
    fits = float(took @ np.log(chance)) / effect - float((likings**2).sum()) / (2 * spread**2)
    known = fit.cov[np.ix_(fit.estimable, fit.estimable)] * effect
    room = float(np.linalg.slogdet(known)[1]) / 2 - zones * float(np.log(spread))
    return fit, spread, fits + room


def _terms(centred: Floats, zone: NDArray[np.generic], zones: int, extra: ArrayLike | None) -> Floats:
    """Zone indicators, each quantity and its square, and the extra terms."""
    curves = [column for q in range(centred.shape[1]) for column in (centred[:, q], centred[:, q] ** 2)]
    more = np.zeros((centred.shape[0], 0)) if extra is None else np.asarray(extra, np.float64)
    return np.column_stack([zone[:, None] == np.arange(zones), *curves, more]).astype(np.float64)


def _design_effect(cov: Floats, clustered: Floats) -> float:
    """How many moments are worth one look: clustered over plain variance, the median over terms."""
    ratio = np.diag(clustered) / np.diag(cov)
    ratio = ratio[np.isfinite(ratio)]
    return float(np.clip(np.median(ratio), 1.0, 200.0)) if ratio.size else 1.0


def looks_per_cluster(zone: Ints, chosen: Floats, group: Ints, zones: int) -> float:
    """Looks that one cluster is worth, from the spread of shares between clusters."""
    count = int(group.max()) + 1
    seen = np.bincount(group * zones + zone, chosen, count * zones).reshape(count, zones)
    share = seen[seen.sum(axis=1) > 0]
    share = share / share.sum(axis=1, keepdims=True)
    if share.shape[0] < 2:
        return 1.0
    spread = share.var(axis=0, ddof=1) / share.shape[0]
    looks = pooled_looks(share.mean(axis=0), spread, share.shape[0], float(chosen.sum()))
    return float(looks / share.shape[0])


@dataclass(frozen=True, slots=True)
class Account:
    """Why one zone is used less than another: parts in log odds that add up to ``total``.

    ``names`` are the quantities, the extra terms, ``size`` and ``place``; a part below zero speaks against
    the zone. ``cause`` is the largest part against it, None where it does not stand clear of the next by
    ``TOLD_APART`` and by what is uncertain of their difference.
    """

    names: tuple[str, ...]
    parts: Floats
    low: Floats
    high: Floats
    total: float
    cause: str | None


def account(
    fit: PlaceFit,
    x: ArrayLike,
    moment: ArrayLike,
    zone: ArrayLike,
    offset: ArrayLike,
    *,
    avoided: int,
    best: int,
    extra: ArrayLike | None = None,
    confidence: float = 0.90,
) -> Account:
    """The mean difference of each term between two zones over the moments at which both were on offer.

    ValueError where they never were on offer together.
    """
    where = np.asarray(zone)
    _, ids = np.unique(np.asarray(moment), return_inverse=True)
    rows, off = fit.terms(x, where, extra), np.asarray(offset, np.float64)
    here, there = np.flatnonzero(where == avoided), np.flatnonzero(where == best)
    both, a, b = np.intersect1d(ids[here], ids[there], return_indices=True)
    if not both.size:
        raise ValueError("avoided, best: the two zones were never on offer at the same moment")
    step = (rows[here[a]] - rows[there[b]]).mean(axis=0)
    groups = [[fit.zones + 2 * q, fit.zones + 2 * q + 1] for q in range(len(fit.quantities))]
    start = fit.zones + 2 * len(fit.quantities)
    groups += [[start + e] for e in range(len(fit.extras))] + [[], list(range(fit.zones))]
    names = (*fit.quantities, *fit.extras, "size", "place")
    parts = np.array([float(step[g] @ fit.coef[g]) for g in groups])
    parts[-2] = float((off[here[a]] - off[there[b]]).mean())
    error = np.array(
        [float(np.sqrt(step[g] @ fit.cov[np.ix_(g, g)] @ step[g])) if g else 0.0 for g in groups]
    )
    half = t_quantile(0.5 + confidence / 2, fit.clusters - 1) * error
    first, second = (int(i) for i in np.argsort(parts)[:2])
    apart = np.zeros(step.size)
    apart[groups[second]] += step[groups[second]]
    apart[groups[first]] -= step[groups[first]]
    unsure = t_quantile(0.90, fit.clusters - 1) * float(np.sqrt(apart @ fit.cov @ apart))
    clear = parts[first] < 0 and parts[second] - parts[first] >= max(TOLD_APART, unsure)
    cause = names[first] if clear else None
    return Account(names, parts, parts - half, parts + half, float(parts.sum()), cause)


@dataclass(frozen=True, slots=True)
class ShareForecast:
    """Expected share of each zone, and limits of the share that will be seen in so many sessions."""

    expected: Floats
    low: Floats
    high: Floats


def forecast_shares(
    fit: PlaceFit,
    x: ArrayLike,
    moment: ArrayLike,
    zone: ArrayLike,
    offset: ArrayLike,
    *,
    clusters: int,
    extra: ArrayLike | None = None,
    confidence: float = 0.90,
    draws: int = 400,
    seed: int = 0,
) -> ShareForecast:
    """Shares to be seen in ``clusters`` sessions under the conditions given (changed ones, or those to come).

    Draws what is uncertain of the curves and likings, and on top the chance of the looks to come: animals
    stay put, so a session is worth few. Pass conditions as they are for the share a zone has, and with one
    zone's climate put in place of another's for the share it would gain.
    """
    random = np.random.default_rng(seed)
    where = np.asarray(zone)
    _, ids = np.unique(np.asarray(moment), return_inverse=True)
    order = np.argsort(ids, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(ids[order]) > 0])
    # A few hundred moments give the mean over conditions; all of them only cost time.
    if starts.size > 300:
        kept = np.isin(ids[order], np.unique(ids)[:: starts.size // 300])
        order = order[kept]
        starts = np.flatnonzero(np.r_[True, np.diff(ids[order]) > 0])
    given = np.asarray(x, np.float64)[order]
    more = None if extra is None else np.asarray(extra, np.float64)[order]
    rows, off, at = fit.terms(given, where[order], more), np.asarray(offset, np.float64)[order], where[order]
    expected = _mean_shares(rows @ fit.coef[:, None] + off[:, None], starts, at, fit.zones)[0]
    values, vectors = np.linalg.eigh(fit.cov)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    heavy = (
        np.sqrt((fit.clusters - 1) / random.chisquare(max(fit.clusters - 1, 1), draws))
        if fit.clusters > 1
        else 1.0
    )
    coef = fit.coef[:, None] + root @ random.normal(size=(fit.coef.size, draws)) * heavy
    shares = _mean_shares(rows @ coef + off[:, None], starts, at, fit.zones)
    looks = max(fit.looks_per_cluster * clusters, 1.0)
    # Gamma draws scaled to one: shares with the spread of a multinomial of that many looks, looks not whole.
    gamma = random.gamma(np.maximum(shares * max(looks - 1, 0.5), 1e-9))
    seen = gamma / np.maximum(gamma.sum(axis=1, keepdims=True), 1e-300)
    # A zone hardly to be visited will be seen not at all: gamma draws come near zero but never reach it.
    seen = np.where(seen < 0.1 / looks, 0.0, seen)
    low, high = np.quantile(seen, [(1 - confidence) / 2, (1 + confidence) / 2], axis=0)
    return ShareForecast(expected, low, high)


def _mean_shares(eta: Floats, starts: Ints, zone: NDArray[np.generic], zones: int) -> Floats:
    """Mean over moments of the chances of each zone; ``eta`` is rows x draws; result draws x zones."""
    sizes = np.diff(np.r_[starts, eta.shape[0]])
    number = np.repeat(np.arange(starts.size), sizes)
    p = np.exp(eta - np.maximum.reduceat(eta, starts, axis=0)[number])
    p /= np.add.reduceat(p, starts, axis=0)[number]
    return np.array([p[zone == z].sum(axis=0) for z in range(zones)]).T / starts.size
