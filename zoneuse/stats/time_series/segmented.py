"""A step in a series whose neighbours repeat each other, and a trend that may only look like one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..intervals.quantiles import t_tail


def lag_one(values: ArrayLike) -> float:
    """Autocorrelation of neighbours: sum of products of deviations over the sum of squares of all.

    >>> round(lag_one([1.0, 2.0, 3.0, 4.0]), 3)
    0.25
    """
    v = np.asarray(values, np.float64)
    d = v - v.mean()
    total = float((d**2).sum())
    return float((d[1:] * d[:-1]).sum() / total) if total > 0 else 0.0


def lag_one_within(series: list[Floats]) -> float:
    """Lag-1 autocorrelation of deviations from each part's own mean, pooled, corrected for its bias.

    Short series show less of it than there is, by about (1 + 4r)/n (Marriott & Pope 1954, Biometrika 41:390).
    """
    parts = [p - p.mean() for p in series if p.size > 1]
    total = sum(float((d**2).sum()) for d in parts)
    if total <= 0:
        return 0.0
    r = sum(float((d[1:] * d[:-1]).sum()) for d in parts) / total
    n = sum(d.size for d in parts) / len(parts)
    return float(np.clip((r * n + 1) / (n - 4) if n > 6 else r, -0.95, 0.95))


def variance_inflation(phi: ArrayLike, n: float) -> Floats:
    """How many times more the mean of ``n`` neighbours varies than that of as many independent values.

    ``phi`` is their lag-1 dependence (values below 0 count as 0, above .9 as .9): 1 + 2 sum (1 - k/n) phi^k
    (Bayley & Hammersley 1946, J. R. Stat. Soc. Suppl. 8:184).

    >>> variance_inflation([0.0, 0.5], 12).round(2)
    array([1.  , 2.67])
    """
    r = np.clip(np.asarray(phi, np.float64), 0.0, 0.9)
    lags = np.arange(1, max(round(n), 1))
    return np.asarray(1 + 2 * ((1 - lags / n) * r[..., None] ** lags).sum(axis=-1), np.float64)


@dataclass(frozen=True, slots=True)
class Segmented:
    """Coefficients with errors: level and trend before, ``step`` at the change, ``bend`` of the trend after it."""

    coef: Floats
    se: Floats
    r_squared: float
    residual_lag_one: float


def segmented(values: ArrayLike, start: int) -> Segmented:
    """Least squares of level, trend, step and bend; the bend counts from the first value after the change.

    Columns: constant, time 1, 2, 3 …, step, (time - time of the first value after) after it (Wagner et al.
    2002, J. Clin. Pharm. Ther. 27:299).

    >>> t = np.arange(1, 25)
    >>> y = 10 + 0.5 * t + (t > 12) * (3 - 0.25 * (t - 13))
    >>> segmented(y, 12).coef.round(6)
    array([10.  ,  0.5 ,  3.  , -0.25])
    """
    y = np.asarray(values, np.float64)
    t = np.arange(1.0, y.size + 1)
    late = t > start
    x = np.column_stack([np.ones(y.size), t, late, late * (t - start - 1)])
    coef, *_ = np.linalg.lstsq(x, y, rcond=None)
    residual = y - x @ coef
    free = y.size - 4
    sigma2 = float(residual @ residual) / free if free > 0 else float("nan")
    se = np.sqrt(np.diag(np.linalg.pinv(x.T @ x)) * sigma2)
    total = float(((y - y.mean()) ** 2).sum())
    r2 = 1 - float(residual @ residual) / total if total > 0 else 0.0
    return Segmented(coef, se, r2, lag_one(residual))


@dataclass(frozen=True, slots=True)
class Step:
    """A step with its error allowing for lag-1 dependence ``phi``; two-sided p by t."""

    level: float
    step: float
    se: float
    phi: float
    degrees: float
    p: float


def ar_step(values: ArrayLike, after: ArrayLike, phi: float, trend: bool = False) -> Step:
    """The step between phases by generalised least squares with errors of lag-1 dependence ``phi``.

    ``values`` in order of time, evenly spaced; ``trend`` lets a straight line run through both phases
    (segmented regression without a bend). Degrees of freedom are their number less the terms.

    >>> round(ar_step(np.arange(20.0), np.arange(20) >= 10, 0.0, trend=True).step, 6)
    0.0
    """
    y, x = np.asarray(values, np.float64), np.asarray(after, np.float64)
    columns = [np.ones(y.size), x, np.arange(y.size) - (y.size - 1) / 2]
    design = np.column_stack(columns if trend else columns[:2])
    lagged, outcome = _whiten(design, phi), _whiten(y[:, None], phi)[:, 0]
    inverse = np.linalg.pinv(lagged.T @ lagged)
    coef = inverse @ lagged.T @ outcome
    residual = outcome - lagged @ coef
    se = float(np.sqrt(inverse[1, 1] * float(residual @ residual) / max(y.size - design.shape[1], 1)))
    degrees = max(float(y.size - design.shape[1]), 1.0)
    p = 2 * t_tail(abs(float(coef[1])) / se, degrees) if se > 0 else (1.0 if coef[1] == 0 else 0.0)
    return Step(float(coef[0]), float(coef[1]), se, phi, degrees, float(min(p, 1.0)))


def ar_step_ml(values: ArrayLike, after: ArrayLike) -> Step:
    """The same with ``phi`` of greatest likelihood (as gls with corAR1 fits it)."""
    y, x = np.asarray(values, np.float64), np.asarray(after, np.float64)
    design = np.column_stack([np.ones(y.size), x])

    def deviance(phi: float) -> float:
        lagged, outcome = _whiten(design, phi), _whiten(y[:, None], phi)[:, 0]
        coef, *_ = np.linalg.lstsq(lagged, outcome, rcond=None)
        residual = outcome - lagged @ coef
        return float(y.size * np.log(residual @ residual) - np.log1p(-(phi**2)))

    low, high = -0.99, 0.99
    for _ in range(6):
        grid = np.linspace(low, high, 41)
        best = int(np.argmin([deviance(float(g)) for g in grid]))
        low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, 40)])
    return ar_step(y, x, (low + high) / 2)


def _whiten(columns: Floats, phi: float) -> Floats:
    """Prais & Winsten's transformation: each row less phi times the one before, the first scaled."""
    out = columns.copy()
    out[1:] -= phi * columns[:-1]
    out[0] *= np.sqrt(1 - phi**2)
    return out


@dataclass(frozen=True, slots=True)
class Break:
    """Where a series breaks: ``first`` values lie before it; ``k`` is the largest imbalance of ranks; p is rough."""

    first: int
    k: float
    p: float


def pettitt_test(values: ArrayLike) -> Break:
    """Pettitt's change point (1979, Appl. Stat. 28:126): where ranks before and after differ most.

    p = 2 exp(-6 K^2 / (n^3 + n^2)), at most 1, takes values as independent.

    >>> pettitt_test([1, 2, 1, 2, 8, 9, 8, 9]).first
    4
    """
    v = np.asarray(values, np.float64)
    n = v.size
    u = np.cumsum(np.sign(v[:, None] - v[None, :]).sum(axis=1))[:-1]
    if not u.size:
        raise ValueError("values: expected at least two")
    first = int(np.argmax(np.abs(u))) + 1
    k = float(abs(u[first - 1]))
    return Break(first, k, float(min(2 * np.exp(-6 * k**2 / (n**3 + n**2)), 1.0)))


def trend_explains(values: ArrayLike, start: int, ratio: float = 0.95) -> bool:
    """Whether a straight line through both phases fits nearly as well as a step between them.

    >>> trend_explains(np.arange(20.0), 10), trend_explains(np.repeat([0.0, 1.0], 10), 10)
    (True, False)
    """
    y = np.asarray(values, np.float64)
    t = np.arange(y.size, dtype=float)
    step = float(((y[:start] - y[:start].mean()) ** 2).sum() + ((y[start:] - y[start:].mean()) ** 2).sum())
    slope, level = np.polyfit(t, y, 1)
    line = float(((y - level - slope * t) ** 2).sum())
    return step > ratio * line
