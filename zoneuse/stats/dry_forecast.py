"""When will a drying retreat pass its limit: from its running cycle, and from what past cycles share.

Within a cycle the daily median is taken as a + d exp(-k t) plus slow weather (a first-order autoregression over
days). Asymptote a and log rate of a cycle are drawn around values its enclosure has in common (random effects;
Laird & Ware 1982); how far cycles differ is unknown too. Given the rate everything else is linear and Gaussian and
is integrated out in closed form, so that all that is left are sums over small grids: no start values, no
convergence, the same answer each time. The date is read off simulated continuations, weather included.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .quantiles import normal_quantile
from .theil_sen import theil_sen

Floats = NDArray[np.float64]

RATES = np.geomspace(0.008, 2.0, 56)
"""Per day: time constants from half a day to four months."""
_SIGMAS = np.array([0.5, 0.8, 1.2, 1.8, 2.7, 4.0])
_BETWEEN_A = np.array([1.0, 2.5, 5.0])
_BETWEEN_K = np.array([0.10, 0.22, 0.45])
_NODES_A = 32
# Weather of one day is left over on the next by this much (half is gone in two days); common practice, no source.
_KEPT = 0.72
_NUGGET = 0.1
HORIZON_D = 60
LEAST_DAYS, LEAST_WITH_PAST, LEAST_PAST = 3, 1, 3
_STEPS = np.arange(0.0, HORIZON_D + 1.0)


class Cycle(NamedTuple):
    """Daily medians of one cycle: ``t`` days since the recharge, ``y`` the medians, no NaN."""

    t: Floats
    y: Floats


class Forecast(NamedTuple):
    """Days from now until the centred 24-hour median passes the limit, with 80 % limits; inf: not in 60 days.

    ``chance_by`` days ahead: in how many continuations it has passed by then. ``path`` (days, 3): 10, 50, 90 % of
    the daily median 0, 1, 2 … days from now. ``method``: what it rests on.
    """

    days: float
    low: float
    high: float
    chance_by: Floats
    path: Floats
    method: str


def forecast(
    running: Cycle, now: float, limit: float, past: Sequence[Cycle] = (), draws: int = 2000, seed: int = 1
) -> Forecast | None:
    """The forecast from the daily medians up to ``now`` (days since the recharge); None before three medians
    (one, with a past cycle), or where without a past cycle nothing falls.

    With a past cycle of at least three medians the exponential described above; without one the line of Theil and
    Sen through the last four daily medians, fading, since it knows of no asymptote.

    >>> t = np.arange(1.0, 8.0)
    >>> cycle = Cycle(t, 60 + 35 * np.exp(-t / 9))
    >>> found = forecast(cycle, 7.5, 72.0, [Cycle(t, 60 + 35 * np.exp(-t / 9))])
    >>> truth = 9 * np.log(35 / 12) - 7.5
    >>> found.low < truth < found.high
    True
    """
    usable = [c for c in past if len(c.t) >= LEAST_PAST]
    if len(running.t) < (LEAST_WITH_PAST if usable else LEAST_DAYS):
        return None
    random = np.random.default_rng(seed)
    if not usable:
        return _by_line(running, now, limit, draws, random)
    ahead = now - float(running.t[-1]) + _STEPS
    paths = _continuations(running, usable, ahead, draws, random)
    last = float(running.y[-1]), now - float(running.t[-1])
    return _read_off(paths, last, limit, f"{len(usable)} past cycle{'s' * (len(usable) > 1)}")


def _read_off(paths: Floats, last: tuple[float, float], limit: float, method: str) -> Forecast:
    """Quantiles of the first passing of the limit. ``paths`` (draws, steps); ``last``: newest median and its age."""
    start, age = last
    whole = np.column_stack([np.full(len(paths), start), paths])
    times = np.r_[-age, _STEPS]
    below = whole < limit
    first = below.argmax(axis=1)
    crosses = below.any(axis=1)
    before = np.maximum(first - 1, 0)
    rows = np.arange(len(whole))
    high, low = whole[rows, before], whole[rows, first]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(first > 0, (high - limit) / (high - low), 1.0)
    at = np.where(crosses, times[before] + part * (times[first] - times[before]), np.inf)
    days = [float(np.sort(at)[int(q * (len(at) - 1))]) for q in (0.1, 0.5, 0.9)]
    chance = np.array([(at <= d).mean() for d in _STEPS])
    path = np.quantile(paths, (0.1, 0.5, 0.9), axis=0).T
    return Forecast(max(days[1], 0.0), max(days[0], 0.0), max(days[2], 0.0), chance, path, method)


# --- no past cycle: a line ----------------------------------------------------------------------------------

_LINE_DAYS = 4
_LINE_SPREAD = 0.5
# Dry-downs flatten: the slope of today is taken to fade with a time constant of 20 days (half as much to twice).
_LINE_FADES, _LINE_FADES_SPREAD = 0.05, 0.5


def _by_line(
    running: Cycle, now: float, limit: float, draws: int, random: np.random.Generator
) -> Forecast | None:
    """Theil and Sen on the last daily medians; None where they do not fall.

    How far a line misses comes from calibration on dry-downs (docs/methods-climate.md): a factor on the slope,
    and the weather's own steps.
    """
    t, y = running.t[-_LINE_DAYS:], running.y[-_LINE_DAYS:]
    line = theil_sen(t, y)
    if line.slope >= 0:
        return None
    level = line.intercept + line.slope * (t[-1])
    weather = _line_weather(running)
    slope = line.slope * np.exp(_LINE_SPREAD * random.normal(size=draws))
    fades = _LINE_FADES * np.exp(_LINE_FADES_SPREAD * random.normal(size=draws))
    ahead = now - t[-1] + _STEPS
    walk = _weather(np.zeros(draws), ahead, weather, random)
    paths = level + slope[:, None] * (-np.expm1(-fades[:, None] * ahead) / fades[:, None]) + walk
    return _read_off(paths, (float(y[-1]), now - float(t[-1])), limit, "the last days only")


def _line_weather(running: Cycle) -> float:
    """Spread of the slow weather, from second differences of the medians, shrunk to 1 point (weight 4)."""
    bends = np.diff(running.y, 2)
    if len(bends) == 0:
        return 1.0
    # The variance of a second difference of an autoregression with unit variance.
    unit = 6 - 8 * _KEPT + 2 * _KEPT**2
    return float(np.sqrt((4.0 + (bends**2).sum() / unit) / (4 + len(bends))))


def _weather(start: Floats, ahead: Floats, sigma: Floats | float, random: np.random.Generator) -> Floats:
    """Continuations (draws, steps) of the slow weather from where it stood at the newest median."""
    out = np.empty((len(start), len(ahead)))
    state, before = start, 0.0
    for i, at in enumerate(ahead):
        keep = _KEPT ** (at - before)
        state = keep * state + sigma * np.sqrt(1 - keep**2) * random.normal(size=len(start))
        out[:, i], before = state, at
    return out


# --- past cycles: random effects ----------------------------------------------------------------------------


class _Fit(NamedTuple):
    """One cycle at every rate: best asymptote, its variance / sigma^2, squares left / sigma^2, log determinant."""

    a: Floats
    var: Floats
    rss: Floats
    logdet: Floats
    n: int


def _correlation(t: Floats) -> Floats:
    apart = np.abs(t[:, None] - t[None, :])
    return np.asarray(_KEPT**apart + _NUGGET * np.eye(len(t)), np.float64)


def _fit(cycle: Cycle) -> _Fit:
    root = np.linalg.cholesky(_correlation(cycle.t))
    white_y = np.linalg.solve(root, cycle.y)
    ones = np.linalg.solve(root, np.ones_like(cycle.t))
    falls = np.linalg.solve(root, np.exp(-RATES * cycle.t[:, None]))
    ff, fo, fy = (falls**2).sum(axis=0), falls.T @ ones, falls.T @ white_y
    # With the drop d integrated out (flat), what is left is a parabola in the asymptote.
    oo = ones @ ones - fo**2 / ff
    oy = ones @ white_y - fo * fy / ff
    yy = white_y @ white_y - fy**2 / ff
    oo = np.maximum(oo, 1e-9)
    a = oy / oo
    return _Fit(a, 1 / oo, np.maximum(yy - oy**2 / oo, 1e-9), np.log(ff), len(cycle.t))


def _evidence(fit: _Fit, centres: Floats, sigma: float) -> Floats:
    """Log evidence (rates, centres, spreads) of a cycle whose asymptote lies around each centre."""
    own = fit.var[:, None, None] * sigma**2
    total = own + _BETWEEN_A[None, None, :] ** 2
    away = (fit.a[:, None, None] - centres[None, :, None]) ** 2
    base = -0.5 * fit.rss / sigma**2 - 0.5 * fit.logdet - (fit.n - 2) * np.log(sigma)
    return np.asarray(
        base[:, None, None] + 0.5 * np.log(fit.var)[:, None, None] - 0.5 * np.log(total) - 0.5 * away / total,
        np.float64,
    )


def _rate_mix() -> Floats:
    """(spreads, centres, rates): the chance of a cycle's rate around its enclosure's."""
    logs = np.log(RATES)
    z = (logs[None, None, :] - logs[None, :, None]) / _BETWEEN_K[:, None, None]
    chance = np.exp(-0.5 * z**2)
    return np.asarray(chance / chance.sum(axis=2, keepdims=True), np.float64)


def _centres(cycles: Sequence[Cycle]) -> Floats:
    """Asymptotes to consider: from well below all medians up to the lowest."""
    lowest = min(float(c.y.min()) for c in cycles)
    highest = max(float(c.y.max()) for c in cycles)
    return np.linspace(max(lowest - 1.5 * (highest - lowest) - 10, 0.0), lowest + 2.0, _NODES_A)


def _weights(running: _Fit, past: Sequence[_Fit], centres: Floats) -> Floats:
    """Posterior (sigmas, rates, centres, spreads) of the running cycle's rate and its enclosure's asymptote."""
    mix = _rate_mix()
    out = np.empty((len(_SIGMAS), len(RATES), len(centres), len(_BETWEEN_A)))
    scale = np.empty(len(_SIGMAS))
    for s, sigma in enumerate(_SIGMAS):
        shared = np.zeros((len(_BETWEEN_K), len(RATES), len(centres), len(_BETWEEN_A)))
        for fit in past:
            log = _evidence(fit, centres, sigma)
            top = log.max()
            shared += np.log(np.einsum("skm,mab->skab", mix, np.exp(log - top)) + 1e-300) + top
        top = shared.max()
        prior = np.einsum("skm,skab->mab", mix, np.exp(shared - top))
        own = _evidence(running, centres, sigma)
        out[s] = np.log(prior + 1e-300) + own
        scale[s] = top
    out += scale[:, None, None, None]
    weight = np.exp(out - out.max())
    return np.asarray(weight / weight.sum(), np.float64)


def _continuations(
    running: Cycle, past: Sequence[Cycle], ahead: Floats, draws: int, random: np.random.Generator
) -> Floats:
    """Paths (draws, steps) of the daily median at ``ahead`` days after the newest one."""
    centres = _centres([running, *past])
    fit = _fit(running)
    weight = _weights(fit, [_fit(c) for c in past], centres)
    edges = np.cumsum(weight.ravel())
    picks = np.searchsorted(edges, (np.arange(draws) + random.random()) / draws * edges[-1])
    s, m, c, b = np.unravel_index(np.minimum(picks, weight.size - 1), weight.shape)
    sigma, spread = _SIGMAS[s], _BETWEEN_A[b]
    own = fit.var[m] * sigma**2
    pull = 1 / own + 1 / spread**2
    a = (fit.a[m] / own + centres[c] / spread**2) / pull + random.normal(size=draws) / np.sqrt(pull)
    d, left = _drops(running, RATES[m], a, sigma, random)
    walk = _weather(left, ahead, sigma, random)
    at = running.t[-1] + ahead
    return np.asarray(a[:, None] + d[:, None] * np.exp(-RATES[m][:, None] * at) + walk, np.float64)


def _drops(
    running: Cycle, rate: Floats, a: Floats, sigma: Floats, random: np.random.Generator
) -> tuple[Floats, Floats]:
    """The drop of each draw given its rate and asymptote, and where the weather stands at the newest median."""
    inverse = np.linalg.inv(_correlation(running.t))
    falls = np.exp(-rate[:, None] * running.t)
    information = ((falls @ inverse) * falls).sum(axis=1)
    best = ((falls @ inverse) * (running.y - a[:, None])).sum(axis=1) / information
    d = best + sigma * random.normal(size=len(a)) / np.sqrt(information)
    left = running.y - a[:, None] - d[:, None] * falls
    # Kriging of the weather at the newest time from all that is left over.
    kept = _KEPT ** np.abs(running.t - running.t[-1])
    gain = inverse @ kept
    spare = max(1.0 - float(kept @ gain), 0.0)
    return d, left @ gain + sigma * np.sqrt(spare) * random.normal(size=len(a))


def half_width_80(spread: float) -> float:
    """Half an 80 % interval of a normal error with standard deviation ``spread``.

    >>> round(half_width_80(1.5), 2)
    1.92
    """
    return normal_quantile(0.9) * spread
