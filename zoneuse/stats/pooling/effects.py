"""Estimates of many studies with known errors: their mean, its limits, and the interval of the next study."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import trapezoid

from ..arrays import Floats
from ..intervals import t_quantile

_DRAWS = 50_000
# Spreads at which their confidence distribution is worked out: over all, and where it rises.
_FIRST_LOOK, _SPREADS = 24, 40
_CERTAIN = 1e-4
# Imhof's integrand oscillates ever faster and falls off: these reach four digits for up to forty studies.
_U = np.concatenate([[1e-9], np.geomspace(1e-5, 1.0, 300), np.linspace(1.0, 60.0, 3000)[1:]])

_STRIDE, _GONE = 25, 35.0


@dataclass(frozen=True, slots=True)
class PooledEffects:
    """Mean over studies with limits, the spread between studies, and the next study's interval (None: under three)."""

    mean: float
    low: float
    high: float
    tau: float
    next_low: float | None
    next_high: float | None


def paule_mandel(estimates: ArrayLike, variances: ArrayLike) -> float:
    """The spread between studies squared, at least 0.

    ``estimates``, ``variances`` (k). Source: Paule & Mandel 1982, J. Res. Natl. Bur. Stand. 87:377-385; by statsmodels.
    """
    from statsmodels.stats.meta_analysis import combine_effects

    # Studies that are all alike have a Q of none, which the library divides by for a figure that is not used here.
    with np.errstate(divide="ignore", invalid="ignore"):
        combined = combine_effects(np.asarray(estimates, float), np.asarray(variances, float), method_re="pm")
    return max(float(combined.tau2), 0.0)


def pool_effects(
    estimates: ArrayLike, variances: ArrayLike, *, level: float = 0.95, seed: int = 1
) -> PooledEffects:
    """Random-effects mean by Paule-Mandel with Hartung-Knapp-Sidik-Jonkman limits; the next study's interval from 3.

    ``estimates``, ``variances`` (k from 2), one for each keeper. Sources: Hartung & Knapp 2001, Stat. Med.
    20:3875-3889; Sidik & Jonkman 2002, Stat. Med. 21:3153-3159 (from memory); `next_interval`.
    """
    y, v = np.asarray(estimates, np.float64), np.asarray(variances, np.float64)
    if len(y) < 2 or len(y) != len(v) or np.any(v <= 0):
        raise ValueError("at least two estimates, each with a variance above 0")
    tau2 = paule_mandel(y, v)
    mean, error = _hartung_knapp(y, v, tau2)
    half = t_quantile((1 + level) / 2, len(y) - 1) * error
    following = next_interval(y, v, level=level, seed=seed) if len(y) >= 3 else (None, None)
    return PooledEffects(mean, mean - half, mean + half, float(np.sqrt(tau2)), *following)


def _hartung_knapp(y: Floats, v: Floats, tau2: float) -> tuple[float, float]:
    w = 1 / (v + tau2)
    mean = float(w @ y / w.sum())
    return mean, float(np.sqrt(w @ (y - mean) ** 2 / ((len(y) - 1) * w.sum())))


def next_interval(
    estimates: ArrayLike, variances: ArrayLike, *, level: float = 0.95, seed: int = 1
) -> tuple[float, float]:
    """Where the next study's true value is expected, with the doubt about the spread itself in it.

    The spread is drawn from its confidence distribution (Cochran's Q as a weighted sum of chi-squares), the mean from
    its t distribution. Source: Nagashima, Noma & Furukawa 2019, Stat. Methods Med. Res. 28:1689-1702. ``seed``: of the
    draws; 50,000 of them are exact to about .01 of the interval's length.
    """
    y, v = np.asarray(estimates, np.float64), np.asarray(variances, np.float64)
    chance = np.random.default_rng(seed)
    tau2 = _spreads_drawn(y, v, chance.uniform(size=_DRAWS))
    w = 1 / (v[None, :] + tau2[:, None])
    mean = (w @ y) / w.sum(axis=1)
    error = np.sqrt((w * (y - mean[:, None]) ** 2).sum(axis=1) / ((len(y) - 1) * w.sum(axis=1)))
    redrawn = (
        mean + np.sqrt(tau2) * chance.standard_normal(_DRAWS) - error * chance.standard_t(len(y) - 1, _DRAWS)
    )
    low, high = np.quantile(redrawn, [(1 - level) / 2, (1 + level) / 2])
    return float(low), float(high)


def _spreads_drawn(y: Floats, v: Floats, chances: Floats) -> Floats:
    """Spreads squared at which the observed Q stands at given places of its distribution; 0 where none does."""
    w = 1 / v
    observed = float(w @ (y - w @ y / w.sum()) ** 2)
    largest = max(4 * float(np.var(y, ddof=1)), float(v.max())) * 25
    coarse = np.concatenate([[0.0], np.geomspace(largest * 1e-7, largest, _FIRST_LOOK)])
    # P(Q > observed) grows with the spread: the confidence distribution. It is looked at closely where it does.
    seen = [_beyond(observed, _eigenvalues(w, v + tau2)) for tau2 in coarse]
    first = int(np.searchsorted(seen, _CERTAIN))
    last = int(np.searchsorted(seen, 1 - _CERTAIN))
    low, high = coarse[max(first - 1, 0)], coarse[min(last, len(coarse) - 1)]
    close = np.linspace(np.sqrt(low), np.sqrt(high), _SPREADS + 2)[1:-1] ** 2
    grid = np.concatenate([coarse, close])
    order = np.argsort(grid)
    beyond = np.array([*seen, *(_beyond(observed, _eigenvalues(w, v + tau2)) for tau2 in close)])[order]
    grid = grid[order]
    beyond = np.maximum.accumulate(beyond)
    return np.asarray(np.interp(chances, beyond, grid, left=0.0, right=largest), np.float64)


def _eigenvalues(w: Floats, total: Floats) -> Floats:
    """Of Cochran's Q with weights ``w`` where estimates vary by ``total``: Q is such a sum of chi-squares."""
    a = np.diag(w) - np.outer(w, w) / w.sum()
    root = np.sqrt(total)
    values = np.linalg.eigvalsh(root[:, None] * a * root[None, :])
    return np.asarray(values[values > values.max() * 1e-12], np.float64)


def _beyond(q: float, weights: Floats) -> float:
    """The chance that a weighted sum of chi-squares on one degree of freedom exceeds ``q``.

    Source: Imhof 1961, Biometrika 48:419-426 (from memory; held against simulation in the tests).
    """
    scale = weights.max()
    lam, x = weights / scale, q / scale
    u = _U / max(1.0, np.sqrt((lam**2).sum()))
    # With many studies the integrand is gone long before the last node.
    falls = 0.25 * np.log1p((lam[:, None] * u[::_STRIDE]) ** 2).sum(axis=0)
    u = u[: _STRIDE * (int(np.searchsorted(falls, _GONE)) + 1)]
    angle = 0.5 * np.arctan(lam[:, None] * u).sum(axis=0) - 0.5 * x * u
    fall = np.exp(0.25 * np.log1p((lam[:, None] * u) ** 2).sum(axis=0))
    return float(np.clip(0.5 + trapezoid(np.sin(angle) / (u * fall), u) / np.pi, 0.0, 1.0))
