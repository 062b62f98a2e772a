"""Shares of many enclosures, pooled as counts: a binomial in each, a normal between them, on the log-odds scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.interpolate import CubicSpline

from ..arrays import Floats
from ..special import special

# Points per standard deviation of the narrowest likelihood: the trapezoid is exact to many digits from one on.
_POINTS_PER_SD = 3.0
_MOST_POINTS = 6000
# A share known more exactly than this tells no more of how shares differ.
_MOST_LOOKS = 20_000.0
# Nodes over the spread where there is one; with two levels the square of so many. And over the mean.
_SPREADS, _SPREADS_EACH, _MEANS = 20, 13, 121
# Once it is known where to look, the log likelihood is all but a parabola in the mean: worked out at every fourth.
_KNOTS = 31
# So many of two spreads taken together, where there are more pairs of them: the log likelihood runs smoothly between.
_SPREAD_KNOTS = 25
_LARGEST_SPREAD = 4.0
_FLOOR = 1e-13
# What is so much less likely than the likeliest (log) adds nothing.
_NOTHING = 16.0
_MOST_ROUNDS = 7
# So many keepers show where to look; all of them are looked at there.
_FEW_KEEPERS = 50


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
class _Model:
    """An even grid of effects ``at`` (p), and the log of how likely each enclosure's count is there.

    ``alone`` (a x p): of keepers with one enclosure; ``shared`` (s x p): of those with several, keeper by keeper, who
    begin at ``first``.
    """

    at: Floats
    step: float
    alone: Floats
    shared: Floats
    first: NDArray[np.intp]

    @property
    def keepers(self) -> int:
        return len(self.alone) + len(self.first)


@dataclass(frozen=True, slots=True)
class _Rows:
    """Likelihoods (r x p) and their logs."""

    log: Floats
    plain: Floats


def _rows(log_rows: Floats) -> _Rows:
    return _Rows(log_rows, np.exp(log_rows))


@dataclass(frozen=True, slots=True)
class _Box:
    """Where the posterior lies: spreads within and between keepers as their roots, and means."""

    within: tuple[float, float]
    between: tuple[float, float]
    mean: tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Looked:
    """Log likelihood (w x b x m) at the nodes of a box, and what part of the box each spread stands for."""

    within: Floats
    between: Floats
    mean: Floats
    weight_within: Floats
    weight_between: Floats
    log_like: Floats


def log_likelihood(used: ArrayLike, n: ArrayLike, offset: ArrayLike, mean: float, tau: float) -> float:
    """Of independent enclosures: log of the binomial integrated over a normal of mean ``mean`` and spread ``tau``.

    ``used`` of ``n`` (k), effective counts that need not be whole; ``offset`` (k): the log odds of what is offered.
    Source: Stijnen, Hamza & Ozdemir 2010, Stat. Med. 29:3046-3067.
    """
    used, n, offset = _arrays(used, n, offset)
    model, scale = _model(used, n, offset, [[i] for i in range(len(n))])
    constant = float(
        np.sum(special.gammaln(n + 1) - special.gammaln(used + 1) - special.gammaln(n - used + 1))
    )
    return float(_integrated(model, _rows(model.alone), np.array([mean]), tau).sum()) + scale + constant


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
    enclosures the spread of enclosures within keepers cannot be told and is left out. Effects are integrated over an
    even grid finer than every likelihood, spreads by Gauss-Legendre nodes laid where the posterior is. Raises
    ValueError for n or offered out of bounds.

    Source: binomial-normal model of Stijnen, Hamza & Ozdemir 2010, Stat. Med. 29:3046-3067; half-normal priors of a
    spread: Röver et al. 2021, Res. Synth. Methods 12:448-474 (from memory).
    """
    return pool_shares_under((prior,), used, n, offered, keepers, level=level)[0]


def pool_shares_under(
    priors: Sequence[float],
    used: ArrayLike,
    n: ArrayLike,
    offered: ArrayLike,
    keepers: Sequence[object],
    *,
    level: float = 0.95,
) -> tuple[PooledShares, ...]:
    """`pool_shares` under each of several priors, from one look at the likelihood."""
    used, n, offered = _arrays(used, n, offered)
    if np.any(n <= 0) or np.any(used < 0) or np.any(used > n):
        raise ValueError("used must lie between 0 and n, and n above 0")
    if np.any(offered <= 0) or np.any(offered >= 1):
        raise ValueError("offered must lie between 0 and 1, both excluded")
    kept = np.minimum(1.0, _MOST_LOOKS / n)
    model, _ = _model(used * kept, n * kept, np.log(offered / (1 - offered)), _groups(keepers))
    looked = _looked_where_it_counts(model, priors)
    return tuple(_summed(looked, prior, level) for prior in priors)


def _arrays(*values: ArrayLike) -> list[Floats]:
    return [np.asarray(v, np.float64) for v in values]


def _groups(keepers: Sequence[object]) -> list[list[int]]:
    groups: dict[object, list[int]] = {}
    for i, keeper in enumerate(keepers):
        groups.setdefault(keeper, []).append(i)
    return list(groups.values())


def _model(used: Floats, n: Floats, offset: Floats, groups: list[list[int]]) -> tuple[_Model, float]:
    """A grid that holds every likelihood and is finer than the narrowest, and the log of the scale taken out."""
    # Half a look either way only places the grid; the likelihoods are of the counts themselves.
    p = (used + 0.5) / (n + 1)
    centre = np.log(p / (1 - p)) - offset
    sd = 1 / np.sqrt((n + 1) * p * (1 - p))
    low, high = float((centre - 9 * sd).min()) - 0.5, float((centre + 9 * sd).max()) + 0.5
    step = max(float(sd.min()) / _POINTS_PER_SD, (high - low) / _MOST_POINTS)
    at = np.arange(low, high + step, step)
    log_odds = at[None, :] + offset[:, None]
    log_like = used[:, None] * special.log_expit(log_odds) + (n - used)[:, None] * special.log_expit(
        -log_odds
    )
    scale = log_like.max(axis=1, keepdims=True)
    log_like -= scale
    several = [g for g in groups if len(g) > 1]
    first = np.cumsum([0, *(len(g) for g in several)])[:-1].astype(np.intp)
    alone = log_like[[g[0] for g in groups if len(g) == 1]]
    return _Model(at, step, alone, log_like[[i for g in several for i in g]], first), float(scale.sum())


def _integrated(model: _Model, rows: _Rows, means: Floats, sd: float) -> Floats:
    """Log of each row averaged over a normal around each mean: r x m.

    Beyond the grid a likelihood goes on as at its edge: a share of none is as likely at -20 as at -10.
    """
    at, step = model.at, model.step
    if sd < step:
        # So narrow a normal is two points; logs of likelihoods are all but parabolas, and lie well between points.
        sides = [_between_points(model, rows.log, means + side * sd) for side in (-1, 1)]
        return np.asarray(np.logaddexp(*sides) - np.log(2), np.float64)
    z = (at[:, None] - means[None, :]) / sd
    weights = np.exp(-0.5 * z**2) * (step / sd / np.sqrt(2 * np.pi))
    weights[0] += special.ndtr(z[0] - step / 2 / sd)
    weights[-1] += special.ndtr(-z[-1] - step / 2 / sd)
    return np.asarray(np.log(np.maximum(rows.plain @ weights, 1e-300)), np.float64)


def _between_points(model: _Model, log_rows: Floats, means: Floats) -> Floats:
    """Rows at places between the grid's points, by cubics through four of them."""
    place = np.clip((means - model.at[0]) / model.step, 0, len(model.at) - 1)
    left = np.clip(place.astype(np.intp), 1, len(model.at) - 3)
    t = place - left
    weights = (
        -t * (t - 1) * (t - 2) / 6, (t + 1) * (t - 1) * (t - 2) / 2,
        -(t + 1) * t * (t - 2) / 2, (t + 1) * t * (t - 1) / 6,
    )  # fmt: skip
    return np.asarray(sum(w * log_rows[:, left + k - 1] for k, w in enumerate(weights)), np.float64)


def _blurred(model: _Model, log_rows: Floats, sd: float) -> Floats:
    """Log of each row averaged over a normal around every point of the grid."""
    if sd < model.step:
        return _integrated(model, _Rows(log_rows, log_rows), model.at, sd)
    half = int(np.ceil(8 * sd / model.step))
    x = np.arange(-half, half + 1) * (model.step / sd)
    kernel = np.exp(-0.5 * x**2)
    rows, points = np.exp(log_rows), len(model.at)
    wide = np.pad(rows, ((0, 0), (half, half)), mode="edge")
    size = next_fast_len(wide.shape[1] + 2 * half, real=True)
    spectrum = rfft(wide, size, axis=1) * rfft(kernel / kernel.sum(), size)[None, :]
    blurred = irfft(spectrum, size, axis=1)[:, 2 * half : 2 * half + points]
    # A Fourier transform is exact to its largest value, not to each.
    return np.asarray(np.log(np.maximum(blurred, _FLOOR * blurred.max(axis=1, keepdims=True))), np.float64)


def _log_like(model: _Model, within: Floats, between: Floats, means: Floats) -> Floats:
    # A keeper with one enclosure shows both spreads as one.
    found = _of_alone(model, np.hypot(within[:, None], between[None, :]), means)
    if not len(model.shared):
        return found
    for i, inner in enumerate(within):
        of_keeper = np.add.reduceat(_blurred(model, model.shared, inner), model.first, axis=0)
        top = of_keeper.max(axis=1, keepdims=True)
        rows = _rows(of_keeper - top)
        for j, outer in enumerate(between):
            found[i, j] += top.sum() + _integrated(model, rows, means, outer).sum(axis=0)
    return found


def _of_alone(model: _Model, spreads: Floats, means: Floats) -> Floats:
    """Log likelihood of the keepers with one enclosure: the spreads' shape x m."""
    if not len(model.alone):
        return np.zeros((*spreads.shape, len(means)))
    alone, roots = _rows(model.alone), np.sqrt(spreads)
    at = np.linspace(roots.min(), roots.max(), _SPREAD_KNOTS)
    if spreads.size <= len(at):
        at = np.unique(roots)
    each = np.array([_integrated(model, alone, means, float(root) ** 2).sum(axis=0) for root in at])
    if spreads.size <= len(at):
        return each[np.searchsorted(at, roots)]
    return np.asarray(CubicSpline(at, each, axis=0)(roots), np.float64)


def _looked_where_it_counts(model: _Model, priors: Sequence[float]) -> _Looked:
    """The likelihood at nodes laid where the posterior is, found by looking ever closer."""
    most = float(np.sqrt(_LARGEST_SPREAD * max(priors)))
    room = 4 * _LARGEST_SPREAD
    box = _Box(
        (0.0, most if len(model.shared) else 0.0), (0.0, most), (model.at[0] - room, model.at[-1] + room)
    )
    few = _few_of(model)
    looked = _look(few, box)
    for _ in range(_MOST_ROUNDS):
        narrower = _narrowed(looked, box, priors)
        if few is model and _about_alike(narrower, box):
            break
        few = few if few is model or not _about_alike(narrower, box) else model
        box = narrower
        looked = _look(few, box, _KNOTS)
    return looked if few is model else _look(model, box, _KNOTS)


def _few_of(model: _Model) -> _Model:
    """Some of the keepers where there are many."""
    if model.keepers <= 2 * _FEW_KEEPERS:
        return model
    apart = -(-model.keepers // _FEW_KEEPERS)
    ends = np.append(model.first[1:], len(model.shared))
    spans = list(zip(model.first[::apart], ends[::apart], strict=True))
    rows = np.concatenate([np.arange(a, b) for a, b in spans]) if spans else np.zeros(0, np.intp)
    first = np.cumsum([0, *(b - a for a, b in spans)])[:-1].astype(np.intp)
    return _Model(model.at, model.step, model.alone[::apart], model.shared[rows], first)


def _look(model: _Model, box: _Box, knots: int = _MEANS) -> _Looked:
    nested = box.within[1] > 0
    count = _SPREADS_EACH if nested else _SPREADS
    within, weight_within = _nodes(box.within, count) if nested else (np.zeros(1), np.ones(1))
    between, weight_between = _nodes(box.between, count)
    means = np.linspace(*box.mean, _MEANS)
    at = np.linspace(*box.mean, knots)
    log_like = _log_like(model, within, between, at)
    if knots < len(means):
        log_like = CubicSpline(at, log_like, axis=2)(means)
    return _Looked(within, between, means, weight_within, weight_between, log_like)


def _nodes(roots: tuple[float, float], count: int) -> tuple[Floats, Floats]:
    """Spreads at Gauss-Legendre nodes of their roots, and their weights: small spreads matter most."""
    x, weight = np.polynomial.legendre.leggauss(count)
    low, high = roots
    root = low + (high - low) * (x + 1) / 2
    return root**2, weight * (high - low) * root


def _narrowed(looked: _Looked, box: _Box, priors: Sequence[float]) -> _Box:
    """The part of the box that any of the priors leaves likely, a node wider on each side."""
    log_post = [np.log(np.maximum(_posterior(looked, prior), 1e-300)) for prior in priors]
    likely = np.any([one > one.max() - _NOTHING for one in log_post], axis=0)
    within, between = np.sqrt(looked.within), np.sqrt(looked.between)
    return _Box(
        _span(within, likely.any(axis=(1, 2)), box.within), _span(between, likely.any(axis=(0, 2)), box.between),
        _span(looked.mean, likely.any(axis=(0, 1)), box.mean),
    )  # fmt: skip


def _span(nodes: Floats, likely: NDArray[np.bool_], whole: tuple[float, float]) -> tuple[float, float]:
    places = np.flatnonzero(likely)
    low = float(nodes[places[0] - 1]) if places[0] > 0 else whole[0]
    high = float(nodes[places[-1] + 1]) if places[-1] < len(nodes) - 1 else whole[1]
    return low, high


def _about_alike(narrower: _Box, box: _Box) -> bool:
    pairs = ((narrower.within, box.within), (narrower.between, box.between), (narrower.mean, box.mean))
    return all(b[1] - b[0] == 0 or (a[1] - a[0]) > 0.6 * (b[1] - b[0]) for a, b in pairs)


def _posterior(looked: _Looked, prior: float) -> Floats:
    weight = np.exp(looked.log_like - looked.log_like.max())
    weight *= (_half_normal(looked.between, prior) * looked.weight_between)[None, :, None]
    if len(looked.within) > 1:
        weight *= (_half_normal(looked.within, prior) * looked.weight_within)[:, None, None]
    # Where the likeliest spreads are ones the prior all but excludes, the scale is made good.
    return np.asarray(weight / max(weight.sum(), 1e-300), np.float64)


def _summed(looked: _Looked, prior: float, level: float) -> PooledShares:
    weight = _posterior(looked, prior)
    tail = (1 - level) / 2
    low, middle, high = _quantiles(looked.mean, weight.sum(axis=(0, 1)), (tail, 0.5, 1 - tail))
    spreads = np.hypot(looked.within[:, None], looked.between[None, :])
    next_low, next_high = _next(looked.mean, weight, spreads, tail)
    return PooledShares(
        middle, low, high, next_low, next_high,
        _quantiles(looked.between, weight.sum(axis=(0, 2)), (0.5,))[0],
        _quantiles(looked.within, weight.sum(axis=(1, 2)), (0.5,))[0] if len(looked.within) > 1 else 0.0,
    )  # fmt: skip


def _next(means: Floats, weight: Floats, spreads: Floats, tail: float) -> tuple[float, float]:
    """Quantiles of normals around every mean with every spread, by their weights."""
    heavy = weight.sum(axis=2) > 1e-7
    parts, sds = weight[heavy], spreads[heavy]
    reach = 6 * float(sds.max()) + 1e-9
    at = np.linspace(means[0] - reach, means[-1] + reach, 801)
    below = np.zeros(len(at))
    for part, sd in zip(parts, sds, strict=True):
        below += special.ndtr((at[:, None] - means[None, :]) / max(float(sd), 1e-9)) @ part
    low, high = np.interp([tail, 1 - tail], below / below[-1], at)
    return float(low), float(high)


def _half_normal(taus: Floats, scale: float) -> Floats:
    return np.asarray(np.exp(-0.5 * (taus / scale) ** 2), np.float64)


def _quantiles(at: Floats, weights: Floats, wanted: Sequence[float]) -> list[float]:
    cumulated = np.cumsum(weights) - weights / 2
    return [float(np.interp(q, cumulated / weights.sum(), at)) for q in wanted]


def ratio_of(effect: float, offered: float) -> float:
    """How many times its share a zone is used where ``offered`` is its share, by a log ratio of odds.

    >>> round(ratio_of(0.0, 0.2), 6)
    1.0
    """
    return float(special.expit(np.log(offered / (1 - offered)) + effect)) / offered
