"""Shares of many enclosures, pooled as counts: a binomial in each, a normal between them, on the log-odds scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.signal import fftconvolve
from scipy.special import expit, gammaln, log_expit

from ..arrays import Floats

# Points per standard deviation of the narrowest likelihood or spread: with 4 the log-likelihood of the published
# example is exact to six digits.
_POINTS_PER_SD = 4.0
_MOST_POINTS = 6000
_SPREADS = 24
# With two levels the square of so many.
_SPREADS_EACH = 14
_LARGEST_SPREAD = 4.0
_FLOOR = 1e-13


@dataclass(frozen=True, slots=True)
class PooledShares:
    """What holds over enclosures, as log ratios of odds against what is offered (0: used as offered).

    ``low`` and ``high`` are limits of the mean, ``next_low`` and ``next_high`` of the next keeper's enclosure;
    ``tau_keepers`` and ``tau_enclosures`` are posterior medians of the spreads.
    """

    mean: float
    low: float
    high: float
    next_low: float
    next_high: float
    tau_keepers: float
    tau_enclosures: float


@dataclass(frozen=True, slots=True)
class _Line:
    """An even grid of effects, and how likely each enclosure's count is there."""

    at: Floats
    step: float
    likelihood: Floats


def log_likelihood(used: ArrayLike, n: ArrayLike, offset: ArrayLike, mean: float, tau: float) -> float:
    """Of independent enclosures: log of the binomial integrated over a normal of mean ``mean`` and spread ``tau``.

    ``used`` of ``n`` (k), effective counts that need not be whole; ``offset`` (k): the log odds of what is offered.
    Source: Stijnen, Hamza & Ozdemir 2010, Stat. Med. 29:3046-3067.
    """
    used, n, offset = _arrays(used, n, offset)
    line = _line(used, n, offset, np.array([max(tau, 1e-3)]), around=mean)
    if tau < line.step:
        inside = np.array([np.interp(mean, line.at, row) for row in line.likelihood])
    else:
        weights = np.exp(-0.5 * ((line.at - mean) / tau) ** 2)
        inside = line.likelihood @ (weights / weights.sum())
    return float(np.sum(np.log(np.maximum(inside, 1e-300))) + _constant(used, n))


def pool_shares(
    used: ArrayLike,
    n: ArrayLike,
    offered: ArrayLike,
    keepers: Sequence[object],
    *,
    prior: float = 1.0,
    level: float = 0.95,
) -> PooledShares:
    """The mean over keepers, its limits, and where the next enclosure is expected.

    ``used`` of ``n`` (k): looks in the zone of effective looks (n_eff, need not be whole); ``offered`` (k): its share
    of what is there; ``keepers`` (k): whose enclosure. Enclosures of one keeper share that keeper's part, so they are
    not independent. Both spreads have a half-normal(``prior``) prior, the mean a flat one; where no keeper has two
    enclosures the spread of enclosures within keepers cannot be told and is left out. Integrals are sums over an even
    grid that is finer than every likelihood and spread in them. Raises ValueError for n or offered out of bounds.

    Source: binomial-normal model of Stijnen, Hamza & Ozdemir 2010, Stat. Med. 29:3046-3067; half-normal priors of a
    spread: Röver et al. 2021, Res. Synth. Methods 12:448-474 (from memory).
    """
    used, n, offered = _arrays(used, n, offered)
    if np.any(n <= 0) or np.any(used < 0) or np.any(used > n):
        raise ValueError("used must lie between 0 and n, and n above 0")
    if np.any(offered <= 0) or np.any(offered >= 1):
        raise ValueError("offered must lie between 0 and 1, both excluded")
    groups = _groups(keepers)
    nested = any(len(g) > 1 for g in groups)
    # Squared spacing: small spreads matter most, and a spread of none is among them.
    count = _SPREADS if not nested else _SPREADS_EACH
    taus = _LARGEST_SPREAD * prior * (np.arange(count) / (count - 1)) ** 2
    line = _line(used, n, np.log(offered / (1 - offered)), taus, around=None)
    within = taus if nested else np.zeros(1)
    log_post = np.empty((len(within), len(taus), len(line.at)))
    for i, inner in enumerate(within):
        own = _blurred(line.likelihood, line.step, inner)
        products = [_product(own[g]) for g in groups]
        per_keeper = np.array([product for product, _ in products])
        scale = sum(log_scale for _, log_scale in products)
        for j, outer in enumerate(taus):
            blurred = _blurred(per_keeper, line.step, outer)
            log_post[i, j] = np.log(np.maximum(blurred, 1e-300)).sum(axis=0) + scale
    weight = np.exp(log_post - log_post.max())
    weight *= (_half_normal(taus, prior) * _widths(taus))[None, :, None]
    if nested:
        weight *= (_half_normal(within, prior) * _widths(within))[:, None, None]
    weight /= weight.sum()
    return _summed(line, weight, within, taus, level)


def _summed(line: _Line, weight: Floats, within: Floats, taus: Floats, level: float) -> PooledShares:
    mean = weight.sum(axis=(0, 1))
    following = np.zeros_like(mean)
    for i, inner in enumerate(within):
        for j, outer in enumerate(taus):
            total = float(np.hypot(inner, outer))
            following += _kernelled(weight[i, j], line.step, total)
    tail = (1 - level) / 2
    low, middle, high = _quantiles(line.at, mean, (tail, 0.5, 1 - tail))
    next_low, next_high = _quantiles(line.at, following, (tail, 1 - tail))
    between = weight.sum(axis=(0, 2))
    inside = weight.sum(axis=(1, 2))
    return PooledShares(
        middle, low, high, next_low, next_high,
        float(_quantiles(taus, between, (0.5,))[0]),
        float(_quantiles(within, inside, (0.5,))[0]) if len(within) > 1 else 0.0,
    )  # fmt: skip


def _arrays(*values: ArrayLike) -> list[Floats]:
    return [np.asarray(v, np.float64) for v in values]


def _groups(keepers: Sequence[object]) -> list[list[int]]:
    groups: dict[object, list[int]] = {}
    for i, keeper in enumerate(keepers):
        groups.setdefault(keeper, []).append(i)
    return list(groups.values())


def _constant(used: Floats, n: Floats) -> float:
    return float(np.sum(gammaln(n + 1) - gammaln(used + 1) - gammaln(n - used + 1)))


def _line(used: Floats, n: Floats, offset: Floats, taus: Floats, around: float | None) -> _Line:
    """A grid that holds every likelihood and a few spreads besides, and is finer than the narrowest of them."""
    # Half a look either way only places the grid; the likelihoods are of the counts themselves.
    p = (used + 0.5) / (n + 1)
    centre = np.log(p / (1 - p)) - offset
    sd = 1 / np.sqrt((n + 1) * p * (1 - p))
    smallest = taus[taus > 0].min(initial=np.inf)
    room = 5 * min(float(taus.max()), 4.0) + 2
    low, high = float((centre - 8 * sd).min()) - room, float((centre + 8 * sd).max()) + room
    if around is not None:
        low, high = min(low, around - room), max(high, around + room)
    step = min(float(sd.min()), max(smallest, 0.05)) / _POINTS_PER_SD
    step = max(step, (high - low) / _MOST_POINTS)
    at = np.arange(low, high + step, step)
    log_odds = at[None, :] + offset[:, None]
    log_like = used[:, None] * log_expit(log_odds) + (n - used)[:, None] * log_expit(-log_odds)
    return _Line(
        at, step, np.exp(log_like if around is not None else log_like - log_like.max(axis=1, keepdims=True))
    )


def _kernel(step: float, sd: float) -> Floats:
    half = int(np.ceil(8 * sd / step))
    x = np.arange(-half, half + 1) * step
    density = np.exp(-0.5 * (x / sd) ** 2)
    return np.asarray(density / density.sum(), np.float64)


def _blurred(rows: Floats, step: float, sd: float) -> Floats:
    """Each row averaged over a normal around every point."""
    if sd < step / 3:
        return rows
    kernel = _kernel(step, sd)
    # Beyond the grid a likelihood goes on as at its edge: a share of none is as likely at -20 as at -10.
    half = len(kernel) // 2
    wide = np.pad(rows, ((0, 0), (half, half)), mode="edge")
    blurred = fftconvolve(wide, kernel[None, :], mode="valid", axes=1)
    # A Fourier transform is exact to its largest value, not to each.
    return np.asarray(np.maximum(blurred, _FLOOR * blurred.max(axis=1, keepdims=True)), np.float64)


def _kernelled(weights: Floats, step: float, sd: float) -> Floats:
    """A distribution spread by a normal; what leaves the grid is kept at its ends."""
    if sd < step / 3:
        return weights
    kernel = _kernel(step, sd)
    half = len(kernel) // 2
    full = np.maximum(fftconvolve(weights, kernel, mode="full"), 0.0)
    inside = full[half:-half].copy()
    inside[0] += full[:half].sum()
    inside[-1] += full[-half:].sum()
    return inside


def _product(rows: Floats) -> tuple[Floats, float]:
    """Likelihoods of one keeper's enclosures together, scaled to at most one, and the log of that scale."""
    logs = np.log(np.maximum(rows, 1e-300)).sum(axis=0)
    return np.asarray(np.exp(logs - logs.max()), np.float64), float(logs.max())


def _half_normal(taus: Floats, scale: float) -> Floats:
    return np.asarray(np.exp(-0.5 * (taus / scale) ** 2), np.float64)


def _widths(taus: Floats) -> Floats:
    """How much of the line each spread stands for."""
    edges = np.concatenate([[taus[0]], (taus[1:] + taus[:-1]) / 2, [taus[-1]]])
    return np.asarray(np.diff(edges), np.float64)


def _quantiles(at: Floats, weights: Floats, wanted: Sequence[float]) -> list[float]:
    cumulated = np.cumsum(weights) - weights / 2
    return [float(np.interp(q, cumulated / weights.sum(), at)) for q in wanted]


def ratio_of(effect: float, offered: float) -> float:
    """How many times its share a zone is used where ``offered`` is its share, by a log ratio of odds.

    >>> round(ratio_of(0.0, 0.2), 6)
    1.0
    """
    return float(expit(np.log(offered / (1 - offered)) + effect)) / offered
