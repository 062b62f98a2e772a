"""A place that dries in stages: it holds, or falls on a line, and then falls towards what the room has.

Wet ground gives off water at a constant rate while its surface is wet, then in proportion to what is left (Sherwood
1929, Ind. Eng. Chem. 21:12, from memory). Humidity above it stands still through the first stage and decays through
the second; what the ground holds falls on a line first; and where the air above is nearly saturated it stays so until
the water is nearly gone, and then falls fast (``balance``). Within a cycle the daily median is a + d F(t) plus slow
weather, F one of these curves with a rate k and a hold P. Asymptote, rate and hold of a cycle are drawn around values
its enclosure has in common (random effects; Laird & Ware 1982); how far cycles differ is unknown too. Given curve and
weather everything else is linear and Gaussian and is integrated out in closed form, so that all that is left are
sums over small grids: no start values, no convergence, the same answer each time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats
from .slow_weather import WEATHERS, Weather, kriged, product

Nodes = NDArray[np.intp]

RATES = np.geomspace(0.012, 1.5, 24)
"""Per day: time constants from two thirds of a day to twelve weeks."""
HOLDS = np.geomspace(1.0, 80.0, 17)
"""Days."""
STILL_HOLDS = 0.95
"""With at least this much of its height left a cycle's fall has not begun."""
MOST_PAST = 8
"""Of more past cycles the newest count."""
_SIGMAS = np.array([0.5, 0.9, 1.6, 2.9])
_BETWEEN_A = np.array([1.3, 3.5])
# How far rates and holds of one place's cycles differ (sd of the logarithm), together, and the chance of each.
_BETWEEN = ((0.08, 0.10, 0.7), (0.20, 0.22, 0.3))
# One cycle in so many is unlike the others: less water and so a shorter hold, or a lid ajar and another rate.
_UNLIKE, _UNLIKE_RATE = 0.09, 0.7
_NODES_A = 16
_ABOVE = 1 / 16
# Before any reading: time constants around nine days.
_USUAL_RATE, _USUAL_RATE_SPREAD = 1 / 9, 0.8
# How far the pace may turn from here on (sd of its logarithm): as a rule, and where a lid is opened.
_TURNS, _TURNS_FAR, _TURNS_FAR_UP, _TURNS_FAR_CHANCE = 0.08, 0.3, 0.35, 0.30
# The pace of the running cycle may have turned some days ago: days before its newest median, by what, how likely.
_TURNED = ((0.0, 1.0, 0.70), (1.5, 1.8, 0.15), (4.5, 1.8, 0.10), (3.0, 0.6, 0.05))
_LEAST_TURNED = 4
# Ways less likely than the best by this much (a logarithm) are nothing here.
_NOTHING = 9.0
# The balance: how dry the air may get before the water left, a twelfth of all, shows (1 - wet over 1 - room).
_SHOULDER = 0.08
_BALANCE_W = np.geomspace(1e-6, 1.0, 400)[::-1]
_BALANCE_T = -_SHOULDER * np.log(_BALANCE_W) + (1 - _SHOULDER) * (1 - _BALANCE_W)
_BALANCE_F = _BALANCE_W / (_SHOULDER + (1 - _SHOULDER) * _BALANCE_W)


class Cycle(NamedTuple):
    """Daily medians of one cycle: ``t`` days since the recharge, ``y`` the medians, no NaN."""

    t: Floats
    y: Floats


@dataclass(frozen=True, slots=True)
class CurveKind:
    """A family of curves: each at every hold and rate, and the chance it has beforehand.

    ``slope``: how much of the later rate it falls by while it holds, 0 a plateau, 1 a line that goes over smoothly.
    ``balance``: evaporation against air exchange, dw/dt = -k F and F = w / (s + (1 - s) w) once the surface is dry.
    """

    holds: Floats
    slope: float
    chance: float
    balance: bool = False

    def curve(self, t: Floats, rate: Floats, hold: Floats) -> Floats:
        """F at ``t`` for each rate and hold (broadcast), 1 at the recharge.

        >>> plateau = CurveKind(HOLDS, 0.0, 1.0)
        >>> plateau.curve(np.array([1.0, 3.0, 5.0]), np.array(0.5), np.array(3.0)).round(3).tolist()
        [1.0, 1.0, 0.368]
        """
        later = rate * np.maximum(t - hold, 0)
        if self.balance:
            return np.asarray(np.interp(later, _BALANCE_T, _BALANCE_F), np.float64)
        share = np.exp(-later) + self.slope * rate * np.maximum(hold - t, 0)
        return np.asarray(share / (1 + self.slope * rate * hold), np.float64)


KINDS = (
    CurveKind(np.zeros(1), 0.0, 0.40),
    CurveKind(HOLDS, 0.0, 0.20),
    CurveKind(HOLDS, 0.4, 0.10),
    CurveKind(HOLDS, 1.0, 0.10),
    CurveKind(HOLDS, 0.0, 0.20, balance=True),
)


class _Fit(NamedTuple):
    """One cycle at every hold and rate: best asymptote, its variance / sigma^2, squares left, log determinant."""

    a: Floats
    var: Floats
    rss: Floats
    logdet: Floats
    n: int


class _Whitening(NamedTuple):
    """What makes one cycle's medians independent under one kind of weather."""

    inverse: Floats
    logdet: float


def _whitening(t: Floats, weather: Weather) -> _Whitening:
    root = np.linalg.cholesky(weather.among(t))
    return _Whitening(np.asarray(np.linalg.inv(root), np.float64), 2 * float(np.log(np.diag(root)).sum()))


def _paced(t: Floats, since: float, pace: float) -> Floats:
    """Days as the drying goes: from ``since`` on at another pace."""
    return t + (pace - 1) * np.maximum(t - since, 0)


def _fit(curves: Floats, y: Floats, weather: _Whitening, nodes: tuple[int, int]) -> _Fit:
    """Least squares of a and d at each node (holds x rates), whitened by the weather. ``curves`` (n, nodes)."""
    falls, white = weather.inverse @ curves, weather.inverse @ y
    ones = weather.inverse.sum(axis=1)
    ff, fo, fy = (falls**2).sum(axis=0), ones @ falls, white @ falls
    # With the drop d integrated out (flat), what is left is a parabola in the asymptote.
    oo = np.maximum(ones @ ones - fo**2 / ff, 1e-9)
    oy = ones @ white - fo * fy / ff
    rss = np.maximum(white @ white - fy**2 / ff - oy**2 / oo, 1e-9)
    parts = oy / oo, 1 / oo, rss, np.log(ff) + weather.logdet
    a, var, rss, logdet = (np.asarray(v, np.float64).reshape(nodes) for v in parts)
    return _Fit(a, var, rss, logdet, len(y))


def _bound(one: _Fit, sigma: float) -> float:
    """The logarithm of what the evidence of a cycle is at most."""
    least = np.log(one.var * sigma**2 + float(_BETWEEN_A.min()) ** 2)
    log = -0.5 * (one.rss / sigma**2 + one.logdet - np.log(one.var) + least)
    return float(log.max()) - (one.n - 2) * float(np.log(sigma))


def _evidence(one: _Fit, centres: Floats, sigma: float) -> tuple[Floats, float]:
    """Evidence (holds, rates, centres, spreads) of a cycle whose asymptote lies around each centre, and the
    logarithm of what was taken off it."""
    total = one.var[..., None, None] * sigma**2 + _BETWEEN_A**2
    away = (one.a[..., None, None] - centres[:, None]) ** 2 / total
    base = one.rss / sigma**2 + one.logdet - np.log(one.var)
    log = -0.5 * (base[..., None, None] + np.log(total) + away)
    top = float(log.max())
    return _exp(log - top), top - (one.n - 2) * float(np.log(sigma))


def _exp(log: Floats) -> Floats:
    # Numbers near the smallest a float can hold slow matrix products thirtyfold, and are nothing here.
    return np.asarray(np.exp(np.maximum(log, -80.0)), np.float64)


def _normal(nodes: Floats, spread: float) -> Floats:
    """(centres, nodes): the chance of each node around each centre."""
    chance = _exp(-0.5 * ((nodes[None, :] - nodes[:, None]) / spread) ** 2)
    return np.asarray(chance / chance.sum(axis=1, keepdims=True), np.float64)


def _mixes(kind: CurveKind) -> list[tuple[Floats, Floats]]:
    """For each way cycles may differ: chances of a cycle's hold and rate around its enclosure's."""
    out = []
    wide = _normal(np.log(RATES), _UNLIKE_RATE)
    for by_rate, by_hold, _ in _BETWEEN:
        of_rate = (1 - _UNLIKE) * _normal(np.log(RATES), by_rate) + _UNLIKE * wide
        of_hold = np.ones((1, 1))
        if len(kind.holds) > 1:
            shorter = np.tril(np.ones((len(kind.holds),) * 2))
            shorter /= shorter.sum(axis=1, keepdims=True)
            of_hold = (1 - _UNLIKE) * _normal(np.log(kind.holds), by_hold) + _UNLIKE * shorter
        out.append((of_hold, of_rate))
    return out


def _mixed(chance: Floats, mix: tuple[Floats, Floats]) -> Floats:
    """Holds x rates x more, each hold and rate replaced by its mean over ``mix``."""
    holds, rates = mix
    more = chance.shape[2:]
    by_hold = (holds @ chance.reshape(len(holds), -1)).reshape(len(holds), len(rates), -1)
    return np.asarray((rates @ by_hold).reshape(len(holds), len(rates), *more), np.float64)


def _centres(cycles: Sequence[Cycle], limit: float) -> tuple[Floats, Floats]:
    """Asymptotes to consider, from far below all medians up to the lowest, and the chance of each beforehand.

    Nearer together where they are near the medians. A limit is set where it is passed: above it lies one in sixteen.
    """
    lowest = min(float(c.y.min()) for c in cycles)
    floor = max(min(lowest, limit) - 40.0, 0.0)
    nodes = lowest + 2.0 - (lowest + 2.0 - floor) * (np.arange(_NODES_A) / (_NODES_A - 1)) ** 1.6
    weight = np.abs(np.gradient(nodes))
    above = nodes > limit
    if len(cycles) == 1 and above.any() and not above.all():
        weight[above] *= _ABOVE / weight[above].sum()
        weight[~above] *= (1 - _ABOVE) / weight[~above].sum()
    return np.asarray(nodes, np.float64), np.asarray(weight / weight.sum(), np.float64)


def _beforehand(
    past: Sequence[_Fit], kind: CurveKind, centres: Floats, chance: Floats, sigma: float
) -> tuple[Floats, float]:
    """What past cycles say of the next one's hold and rate, with its asymptote's centre and spread."""
    z = (np.log(RATES) - np.log(_USUAL_RATE)) / _USUAL_RATE_SPREAD
    usual = np.exp(-0.5 * z**2)
    start = (
        usual[None, :, None, None] / usual.sum() * chance[None, None, :, None] * kind.chance / len(kind.holds)
    )
    shape = len(kind.holds), len(RATES), len(centres), len(_BETWEEN_A)
    mixes, log = _mixes(kind), 0.0
    shared = [np.broadcast_to(w * start, shape) for _, _, w in _BETWEEN]
    for one in past:
        own, top = _evidence(one, centres, sigma)
        shared = [s * _mixed(own, mix) for s, mix in zip(shared, mixes, strict=True)]
        largest = max(float(s.max()) for s in shared)
        shared = [np.maximum(s / largest, 1e-40) for s in shared]
        log += top + float(np.log(largest))
    prior = sum(_mixed(s, (holds.T, rates.T)) for s, (holds, rates) in zip(shared, mixes, strict=True))
    return np.asarray(prior, np.float64), log


class _Run(NamedTuple):
    """The running cycle under one kind of curve and weather, turned so, with the chances of all nodes."""

    kind: CurveKind
    weather: Weather
    turned: tuple[float, float]
    fit: _Fit
    sigma: float
    chance: Floats
    log: float


class _Way(NamedTuple):
    """One kind of curve and weather, and all cycles fitted with it; the running one turned or not."""

    kind: CurveKind
    weather: Weather
    past: Sequence[_Fit]
    running: Sequence[_Fit]


def _ways(running: Cycle, past: Sequence[Cycle], turns: Sequence[tuple[float, float, float]]) -> list[_Way]:
    out, last = [], float(running.t[-1])
    whole = [[_whitening(c.t, weather) for c in (running, *past)] for weather in WEATHERS]
    for kind in KINDS:
        nodes = len(kind.holds), len(RATES)
        hold, rate = (g.ravel() for g in np.meshgrid(kind.holds, RATES, indexing="ij"))
        before = [kind.curve(c.t[:, None], rate, hold) for c in past]
        now = [kind.curve(_paced(running.t, last - d, pace)[:, None], rate, hold) for d, pace, _ in turns]
        for weather, white in zip(WEATHERS, whole, strict=True):
            pasts = [_fit(f, c.y, w, nodes) for f, c, w in zip(before, past, white[1:], strict=True)]
            out.append(_Way(kind, weather, pasts, [_fit(f, running.y, white[0], nodes) for f in now]))
    return out


def _runs(running: Cycle, past: Sequence[Cycle], centres: Floats, chance: Floats) -> list[_Run]:
    """All ways there are, the likeliest first; those that come to less than one in 20,000 of the best are left out."""
    turns = _TURNED if len(running.t) >= _LEAST_TURNED else ((0.0, 1.0, 1.0),)
    last = float(running.t[-1])
    every = []
    for way in _ways(running, past, turns):
        for sigma in map(float, _SIGMAS):
            most = sum(_bound(one, sigma) for one in way.past)
            now = [_bound(one, sigma) for one in way.running]
            every.append((most + max(now), most, now, way, sigma))
    every.sort(key=lambda one: -one[0])
    out: list[_Run] = []
    best = -np.inf
    for bound, most, now, way, sigma in every:
        if bound < best - _NOTHING:
            break
        prior, log = _beforehand(way.past, way.kind, centres, chance, sigma=sigma)
        for (days, pace, likely), one, at_most in zip(turns, way.running, now, strict=True):
            if most + at_most < best - _NOTHING:
                continue
            own, top = _evidence(one, centres, sigma)
            whole = prior * own * likely
            out.append(_Run(way.kind, way.weather, (last - days, pace), one, sigma, whole, log + top))
            best = max(best, log + top + float(np.log(whole.sum() + 1e-300)))
    return out


def continuations(
    running: Cycle,
    past: Sequence[Cycle],
    limit: float,
    ahead: Floats,
    draws: int,
    *,
    random: np.random.Generator,
) -> tuple[Floats, float]:
    """Paths (draws, steps) of the daily median at ``ahead`` days after the newest one, and how likely it is that
    the running cycle's fall has not begun."""
    past = past[-MOST_PAST:]
    centres, chance = _centres([running, *past], limit)
    runs = _runs(running, past, centres, chance)
    top = max(run.log for run in runs)
    weights = np.array([np.exp(max(run.log - top, -700.0)) * run.chance.sum() for run in runs])
    edges = np.cumsum(weights)
    at = (np.arange(draws) + random.random()) / draws * edges[-1]
    which = np.minimum(np.searchsorted(edges, at), len(runs) - 1)
    paths, holding = [], 0
    for k in np.unique(which):
        run = runs[k]
        own = np.cumsum(run.chance.ravel())
        mine = int((which == k).sum())
        picks = np.searchsorted(own, (np.arange(mine) + random.random()) / mine * own[-1])
        h, r, c, b = np.unravel_index(np.minimum(picks, own.size - 1), run.chance.shape)
        gone = float(_paced(running.t[-1:], *run.turned)[0])
        left = run.kind.curve(np.array(gone), RATES[r], run.kind.holds[h])
        holding += int((left > STILL_HOLDS).sum())
        paths.append(_paths(running, run, (h, r, centres[c], _BETWEEN_A[b]), ahead=ahead, random=random))
    return np.concatenate(paths), holding / draws


def _paths(
    running: Cycle,
    run: _Run,
    nodes: tuple[Nodes, Nodes, Floats, Floats],
    *,
    ahead: Floats,
    random: np.random.Generator,
) -> Floats:
    """Continuations for draws of hold, rate, asymptote's centre and spread."""
    h, r, centre, spread = nodes
    kind, one, size = run.kind, run.fit, len(r)
    hold, rate = kind.holds[h], RATES[r]
    own = one.var[h, r] * run.sigma**2
    pull = 1 / own + 1 / spread**2
    a = (one.a[h, r] / own + centre / spread**2) / pull + random.normal(size=size) / np.sqrt(pull)
    t = _paced(running.t, *run.turned)
    falls = kind.curve(t[None, :], rate[:, None], hold[:, None])
    weighed = product(falls, np.linalg.inv(run.weather.among(running.t)))
    information = (weighed * falls).sum(axis=1)
    best = (weighed * (running.y - a[:, None])).sum(axis=1) / information
    d = best + run.sigma * random.normal(size=size) / np.sqrt(information)
    left = running.y - a[:, None] - d[:, None] * falls
    walk = kriged(left, running.t, ahead, np.full(size, run.sigma), run.weather, random=random)
    # A room whose heating goes on, or a lid left ajar, dries at another pace from here on.
    far = random.random(size) < _TURNS_FAR_CHANCE
    turn = np.where(
        far, _TURNS_FAR_UP + _TURNS_FAR * random.normal(size=size), _TURNS * random.normal(size=size)
    )
    pace = run.turned[1] * np.exp(turn)
    if kind.slope == 0 and len(kind.holds) > 1:
        # Between the nodes of the grid any hold is as likely.
        apart = hold * np.exp(np.log(HOLDS[1] / HOLDS[0]) * (random.random(size) - 0.5))
        hold = np.where(hold > t[-1], np.maximum(apart, t[-1]), hold)
    fall = kind.curve(t[-1] + pace[:, None] * ahead, rate[:, None], hold[:, None])
    return np.asarray(a[:, None] + d[:, None] * fall + walk, np.float64)
