"""When will a drying retreat pass its limit: from its running cycle, and from what past cycles share.

Within a cycle the daily median is taken as a + d exp(-k t) plus slow weather (a Gaussian process over days, of the
kind the readings fit best). Asymptote a and log rate of a cycle are drawn around values its enclosure has in common
(random effects; Laird & Ware 1982); how far cycles differ is unknown too. Given rate and weather everything else is
linear and Gaussian and is integrated out in closed form, so that all that is left are sums over small grids: no
start values, no convergence, the same answer each time. The date is read off simulated continuations, weather
included.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..time_series.theil_sen import theil_sen

Floats = NDArray[np.float64]
Nodes = NDArray[np.intp]

RATES = np.geomspace(0.008, 2.0, 48)
"""Per day: time constants from half a day to four months."""
_SIGMAS = np.array([0.5, 0.8, 1.2, 1.8, 2.7, 4.0])
_BETWEEN_A = np.array([1.0, 2.5, 5.0])
_BETWEEN_K = np.array([0.10, 0.22, 0.45])
_NODES_A = 28
# How far the rate may turn within a cycle (sd of its logarithm), set on dry-downs whose rate does (docs).
_TURNS = 0.08


class Weather(NamedTuple):
    """How the slow weather of two days is correlated: over a few days, unevenly or ``smooth``, and what each day
    has to itself (as a share of the variance)."""

    length_d: float
    smooth: bool
    own: float

    def correlation(self, apart_d: Floats) -> Floats:
        """Exponential (an autoregression), or Matern 3/2 (Rasmussen & Williams 2006, eq. 4.17) where smooth."""
        x = np.abs(apart_d) / self.length_d
        if self.smooth:
            x = np.sqrt(3.0) * x
            return np.asarray((1 + x) * np.exp(-x), np.float64)
        return np.asarray(np.exp(-x), np.float64)

    def among(self, t: Floats) -> Floats:
        return np.asarray(self.correlation(t[:, None] - t[None, :]) + self.own * np.eye(len(t)), np.float64)


# From weather that is gone after a day to a room whose heating sets in over weeks; the readings choose.
WEATHERS = (
    Weather(1.2, False, 0.1),
    Weather(3.5, False, 0.1),
    Weather(3.0, True, 0.03),
    Weather(7.0, True, 0.01),
)
_LINE_WEATHER = WEATHERS[1]
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
    running: Cycle, now: float, limit: float, past: Sequence[Cycle] = (), draws: int = 2000, *, seed: int = 1
) -> Forecast | None:
    """The forecast from the daily medians up to ``now`` (days since the recharge); None before three medians
    (one, with a past cycle), or where without a past cycle nothing falls.

    With a past cycle of at least three medians the exponential described above; without one the line of Theil and
    Sen through the last four daily medians, fading, since it knows of no asymptote.

    >>> t = np.arange(1.0, 8.0)
    >>> cycle = Cycle(t, 60 + 35 * np.exp(-t / 9))
    >>> found = forecast(cycle, 7.5, 72.0, [Cycle(t, 60 + 35 * np.exp(-t / 9))])
    >>> truth = 9 * np.log(35 / 12) - 7.5
    >>> bool(found.low < truth < found.high)
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
_LINE_SPREAD = 0.42
# Dry-downs flatten: the slope of today is taken to fade with a time constant of 20 days (half as much to twice).
_LINE_FADES, _LINE_FADES_SPREAD = 0.05, 0.5


def _by_line(
    running: Cycle, now: float, limit: float, draws: int, random: np.random.Generator
) -> Forecast | None:
    """Theil and Sen on the last daily medians; None where they do not fall.

    How far a line misses comes from calibration on dry-downs (docs/methods/climate.md): a factor on the slope,
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
    # The line goes through the last medians themselves, so the weather starts from nothing left over.
    start = np.zeros((draws, 1))
    walk = _weather(start, t[-1:], ahead, np.full(draws, weather), _LINE_WEATHER, random=random)
    paths = level + slope[:, None] * (-np.expm1(-fades[:, None] * ahead) / fades[:, None]) + walk
    return _read_off(paths, (float(y[-1]), now - float(t[-1])), limit, "the last days only")


def _line_weather(running: Cycle) -> float:
    """Spread of the slow weather, from second differences of the medians, shrunk to 1 point (weight 4)."""
    bends = np.diff(running.y, 2)
    if len(bends) == 0:
        return 1.0
    one, two = (float(_LINE_WEATHER.correlation(np.array(d))) for d in (1.0, 2.0))
    unit = 6 - 8 * one + 2 * two
    return float(np.sqrt((4.0 + (bends**2).sum() / unit) / (4 + len(bends))))


def _weather(
    left: Floats, t: Floats, ahead: Floats, sigma: Floats, weather: Weather, *, random: np.random.Generator
) -> Floats:
    """Continuations (draws, steps) of the slow weather, given what it was: ``left`` (draws, n) at ``t`` (kriging).

    ``ahead``: days after the last of ``t``.
    """
    then = t[-1] + ahead
    across = weather.correlation(t[:, None] - then[None, :])
    gain = np.linalg.solve(weather.among(t), across)
    spare = weather.correlation(then[:, None] - then[None, :]) - across.T @ gain
    root = np.linalg.cholesky(spare + 1e-6 * np.eye(len(then)))
    fresh = _product(random.normal(size=(len(left), len(then))), root.T)
    return np.asarray(_product(left, gain) + sigma[:, None] * fresh, np.float64)


def _product(one: NDArray[np.floating[Any]], other: NDArray[np.floating[Any]]) -> Floats:
    # einsum keeps to one thread: BLAS would wait for a second processor that is busy elsewhere, tenfold as long.
    return np.asarray(np.einsum("ij,jk->ik", one, other), np.float64)


# --- past cycles: random effects ----------------------------------------------------------------------------


class _Fit(NamedTuple):
    """One cycle at every rate: best asymptote, its variance / sigma^2, squares left, log determinant, points."""

    a: Floats
    var: Floats
    rss: Floats
    logdet: Floats
    n: int


def _fit(cycle: Cycle, weather: Weather) -> _Fit:
    root = np.linalg.cholesky(weather.among(cycle.t))
    white_y = np.linalg.solve(root, cycle.y)
    ones = np.linalg.solve(root, np.ones_like(cycle.t))
    falls = np.linalg.solve(root, np.exp(-RATES * cycle.t[:, None]))
    ff, fo, fy = (falls**2).sum(axis=0), falls.T @ ones, falls.T @ white_y
    # With the drop d integrated out (flat), what is left is a parabola in the asymptote.
    oo = np.maximum(ones @ ones - fo**2 / ff, 1e-9)
    oy = ones @ white_y - fo * fy / ff
    yy = white_y @ white_y - fy**2 / ff
    logdet = np.log(ff) + 2 * float(np.log(np.diag(root)).sum())
    return _Fit(oy / oo, 1 / oo, np.maximum(yy - oy**2 / oo, 1e-9), logdet, len(cycle.t))


def _evidence(fit: _Fit, centres: Floats, sigma: float) -> Floats:
    """Log evidence (rates, centres, spreads) of a cycle whose asymptote lies around each centre."""
    own = fit.var[:, None, None] * sigma**2
    total = own + _BETWEEN_A[None, None, :] ** 2
    away = (fit.a[:, None, None] - centres[None, :, None]) ** 2
    base = -0.5 * fit.rss / sigma**2 - 0.5 * fit.logdet - (fit.n - 2) * np.log(sigma) + 0.5 * np.log(fit.var)
    return np.asarray(base[:, None, None] - 0.5 * np.log(total) - 0.5 * away / total, np.float64)


def _exp(log: Floats) -> Floats:
    # Numbers near the smallest a float can hold slow matrix products thirtyfold, and are nothing here.
    return np.asarray(np.exp(np.maximum(log, -120.0)), np.float64)


def _rate_mix() -> Floats:
    """(spreads, centres, rates): the chance of a cycle's rate around its enclosure's."""
    logs = np.log(RATES)
    z = (logs[None, None, :] - logs[None, :, None]) / _BETWEEN_K[:, None, None]
    chance = _exp(-0.5 * z**2)
    return np.asarray(chance / chance.sum(axis=2, keepdims=True), np.float64)


def _centres(cycles: Sequence[Cycle]) -> Floats:
    """Asymptotes to consider: from well below all medians up to the lowest."""
    lowest = min(float(c.y.min()) for c in cycles)
    highest = max(float(c.y.max()) for c in cycles)
    return np.linspace(max(lowest - 1.5 * (highest - lowest) - 10, 0.0), lowest + 2.0, _NODES_A)


def _log_weights(running: _Fit, past: Sequence[_Fit], centres: Floats) -> Floats:
    """Log posterior (sigmas, rates, centres, spreads) of the running cycle's rate and its enclosure's asymptote."""
    mix = _rate_mix()
    out = np.empty((len(_SIGMAS), len(RATES), len(centres), len(_BETWEEN_A)))
    for s, sigma in enumerate(_SIGMAS):
        shared = np.zeros((len(_BETWEEN_K), len(RATES), len(centres), len(_BETWEEN_A)))
        for fit in past:
            log = _evidence(fit, centres, sigma)
            top = log.max()
            mixed = (mix @ _exp(log - top).reshape(len(RATES), -1)).reshape(shared.shape)
            shared += np.log(mixed + 1e-300) + top
        top = shared.max()
        # Products of this size stay in one thread; larger ones wait for a busy machine's other processor.
        prior = sum(
            one.T @ _exp(each - top).reshape(len(RATES), -1) for one, each in zip(mix, shared, strict=True)
        )
        out[s] = np.log(prior + 1e-300).reshape(out.shape[1:]) + top + _evidence(running, centres, sigma)
    return out


def _continuations(
    running: Cycle, past: Sequence[Cycle], ahead: Floats, draws: int, random: np.random.Generator
) -> Floats:
    """Paths (draws, steps) of the daily median at ``ahead`` days after the newest one."""
    centres = _centres([running, *past])
    fits = [_fit(running, weather) for weather in WEATHERS]
    logs = [
        _log_weights(fit, [_fit(c, weather) for c in past], centres)
        for fit, weather in zip(fits, WEATHERS, strict=True)
    ]
    weight = np.exp(np.array(logs) - max(float(log.max()) for log in logs))
    edges = np.cumsum(weight.ravel())
    picks = np.searchsorted(edges, (np.arange(draws) + random.random()) / draws * edges[-1])
    w, s, m, c, b = np.unravel_index(np.minimum(picks, weight.size - 1), weight.shape)
    paths = []
    for k, weather in enumerate(WEATHERS):
        mine = w == k
        if mine.any():
            nodes = s[mine], m[mine], b[mine]
            paths.append(
                _paths(running, fits[k], weather, centres[c[mine]], nodes, ahead=ahead, random=random)
            )
    return np.concatenate(paths)


def _paths(
    running: Cycle, fit: _Fit, weather: Weather, centre: Floats, nodes: tuple[Nodes, Nodes, Nodes], *, ahead: Floats,
    random: np.random.Generator,
) -> Floats:  # fmt: skip
    """Continuations for draws of sigma, rate and spread (``nodes``) under one kind of weather."""
    s, m, b = nodes
    sigma, spread, rate = _SIGMAS[s], _BETWEEN_A[b], RATES[m]
    own = fit.var[m] * sigma**2
    pull = 1 / own + 1 / spread**2
    a = (fit.a[m] / own + centre / spread**2) / pull + random.normal(size=len(m)) / np.sqrt(pull)
    falls = np.exp(-rate[:, None] * running.t)
    inverse = np.linalg.inv(weather.among(running.t))
    weighed = _product(falls, inverse)
    information = (weighed * falls).sum(axis=1)
    best = (weighed * (running.y - a[:, None])).sum(axis=1) / information
    d = best + sigma * random.normal(size=len(a)) / np.sqrt(information)
    left = running.y - a[:, None] - d[:, None] * falls
    walk = _weather(left, running.t, ahead, sigma, weather, random=random)
    # A room whose heating goes on, or a lid left ajar, dries at another rate from here on.
    turned = rate * np.exp(_TURNS * random.normal(size=len(rate)))
    fall = np.exp(-rate * running.t[-1])[:, None] * np.exp(-turned[:, None] * ahead)
    return np.asarray(a[:, None] + d[:, None] * fall + walk, np.float64)
