"""Dry-downs: daily medians of a falling humidity, the exponential through them, and rises that end them."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats


class DryDown(NamedTuple):
    """y = asymptote + drop exp(-rate x), with standard errors; ``identified``: the asymptote is in the data."""

    asymptote: float
    drop: float
    rate: float
    asymptote_se: float
    rate_se: float
    rss: float
    identified: bool

    @property
    def half_life(self) -> float:
        return math.log(2) / self.rate


def fit_dry_down(x: ArrayLike, y: ArrayLike, from_zero: bool = False) -> DryDown:
    """Least squares of y = a + d exp(-r x); ``from_zero`` holds y(0) = 0, so d = -a (warming, wetting up).

    For each rate the best a and d are a linear problem (variable projection, Golub & Pereyra 1973), so only the
    rate is searched: a grid over all rates the data can show, golden section around its best node, and
    Gauss-Newton steps for the last digits. ``x``, ``y`` (n,), n at least 3 (2 with ``from_zero``). The asymptote is
    held to be identified where the data span at least one time constant 1/r. Raises ValueError for too few points.

    >>> t = np.arange(13.0)
    >>> found = fit_dry_down(t, 55 + 35 * np.exp(-t / 4))
    >>> round(found.asymptote, 6), round(found.drop, 6), round(found.half_life, 6), found.identified
    (55.0, 35.0, 2.772589, True)
    """
    xs, ys = np.asarray(x, np.float64), np.asarray(y, np.float64)
    free = 2 if from_zero else 3
    span = float(np.ptp(xs)) if len(xs) else 0.0
    if len(xs) < free or span == 0:
        raise ValueError(f"a dry-down needs at least {free} points at different times")
    # Exponentials of large numbers would overflow, so time counts from the first point, and back again below.
    begins = 0.0 if from_zero else float(xs.min())
    xs = xs - begins
    rates = np.geomspace(0.02 / span, 60 / span, 120)
    misfit = [_project(xs, ys, r, from_zero)[1] for r in rates]
    best = int(np.argmin(misfit))
    rate = _golden(xs, ys, from_zero, rates[max(best - 1, 0)], rates[min(best + 1, len(rates) - 1)])
    rate = _polish(xs, ys, rate, from_zero)
    linear, rss = _project(xs, ys, rate, from_zero)
    asymptote, drop = (linear[0], -linear[0]) if from_zero else (linear[0], linear[1])
    errors = _standard_errors(xs, asymptote, drop, rate, rss, from_zero=from_zero)
    at_zero = float(drop) * math.exp(min(rate * begins, 700.0))
    return DryDown(
        float(asymptote), at_zero, float(rate), errors[0], errors[1], float(rss), bool(rate * span >= 1)
    )


def _design(xs: Floats, rate: float, from_zero: bool) -> Floats:
    fall = np.exp(-rate * xs)
    return (1 - fall)[:, None] if from_zero else np.column_stack([np.ones_like(xs), fall])


def _project(xs: Floats, ys: Floats, rate: float, from_zero: bool) -> tuple[Floats, float]:
    """The best linear parts for a rate, and the squares left."""
    design = _design(xs, rate, from_zero)
    linear = np.linalg.lstsq(design, ys, rcond=None)[0]
    left = ys - design @ linear
    return np.asarray(linear, np.float64), float(left @ left)


def _golden(xs: Floats, ys: Floats, from_zero: bool, low: float, high: float) -> float:
    ratio = (math.sqrt(5) - 1) / 2
    a, b = math.log(low), math.log(high)
    for _ in range(60):
        c, d = b - ratio * (b - a), a + ratio * (b - a)
        if _project(xs, ys, math.exp(c), from_zero)[1] < _project(xs, ys, math.exp(d), from_zero)[1]:
            b = d
        else:
            a = c
    return math.exp((a + b) / 2)


def _jacobian(xs: Floats, asymptote: float, drop: float, rate: float, from_zero: bool) -> Floats:
    fall = np.exp(-rate * xs)
    slope = -xs * drop * fall
    if from_zero:
        return np.column_stack([1 - fall, slope])
    return np.column_stack([np.ones_like(xs), fall, slope])


def _polish(xs: Floats, ys: Floats, rate: float, from_zero: bool) -> float:
    """Gauss-Newton on all parameters, keeping only steps that fit better."""
    rss = _project(xs, ys, rate, from_zero)[1]
    for _ in range(20):
        linear, _ = _project(xs, ys, rate, from_zero)
        a, d = (linear[0], -linear[0]) if from_zero else (linear[0], linear[1])
        left = ys - a - d * np.exp(-rate * xs)
        step = np.linalg.lstsq(_jacobian(xs, a, d, rate, from_zero), left, rcond=None)[0][-1]
        new = rate + float(step)
        fits = _project(xs, ys, new, from_zero)[1] if new > 0 else math.inf
        if fits > rss or not math.isfinite(new):
            break
        rate, rss = new, fits
    return rate


def _standard_errors(
    xs: Floats, asymptote: float, drop: float, rate: float, rss: float, *, from_zero: bool
) -> tuple[float, float]:
    jacobian = _jacobian(xs, asymptote, drop, rate, from_zero)
    spare = len(xs) - jacobian.shape[1]
    if spare < 1:
        return math.nan, math.nan
    spread = np.sqrt(np.maximum(np.diag(np.linalg.pinv(jacobian.T @ jacobian)), 0.0) * rss / spare)
    return float(spread[0]), float(spread[-1])


def centred_medians(
    t_days: ArrayLike, values: ArrayLike, at: ArrayLike, width_days: float = 1.0, least: float = 0.5
) -> Floats:
    """The median of what lies within half a width of each time ``at``; NaN where too little lies there.

    ``t_days`` (n,) increasing and evenly spaced, ``values`` (n,) with NaN where absent. ``least``: the share of the
    window that must be covered, so that half a day does not stand for a day.

    >>> t = np.arange(0, 3, 0.25)
    >>> centred_medians(t, 100 - t, [1.0, 2.0, 9.0]).tolist()
    [99.125, 98.125, nan]
    """
    ts, vs = np.asarray(t_days, np.float64), np.asarray(values, np.float64)
    centres = np.asarray(at, np.float64)
    out = np.full(len(centres), np.nan)
    if len(ts) < 2:
        return out
    needed = max(least * width_days * (len(ts) - 1) / float(ts[-1] - ts[0]), 1)
    low = np.searchsorted(ts, centres - width_days / 2, "left")
    high = np.searchsorted(ts, centres + width_days / 2, "left")
    if not len(centres):
        return out
    # Only the piece that is asked about is looked at: a year is asked about day by day.
    first = int(low.min())
    vs, low, high = vs[first : int(high.max())], low - first, high - first
    known = np.concatenate([[0], np.cumsum(~np.isnan(vs))])
    covered = known[high] - known[low]
    for size in np.unique(high - low):
        # Windows of one length without a gap are sorted as one array; only those with one go one by one.
        whole = np.flatnonzero((high - low == size) & (covered == size) & (covered >= needed))
        if whole.size and size:
            out[whole] = np.median(vs[low[whole][:, None] + np.arange(size)], axis=1)
    for i in np.flatnonzero((covered < high - low) & (covered >= needed)):
        out[i] = np.nanmedian(vs[low[i] : high[i]])
    return out


def days_back(start: float, now: float, settle: float = 0.5) -> Floats:
    """Centres of whole days counted back from ``now``, oldest first, none reaching into the first ``settle`` days.

    >>> days_back(0.0, 4.2).tolist()
    [1.7000000000000002, 2.7, 3.7]
    """
    count = max(math.floor(now - start - settle), 0)
    return np.asarray(now - 0.5 - np.arange(count)[::-1], np.float64)


def find_rises(
    t_days: ArrayLike, values: ArrayLike, least: float = 4.0, noise: float = 3.0, apart_days: float = 2.0
) -> list[float]:
    """Times at which a humidity rose and stayed up: what water put in looks like in the readings.

    The median of the day after is above that of the day before by ``least`` and by ``noise`` times the usual
    difference between neighbouring days, and two days later more than half of the rise is still there, so that a
    misting is none. Returned: the middle of the steepest six hours. ``t_days`` (n,) evenly spaced, ``values`` with NaN.
    """
    ts, vs = np.asarray(t_days, np.float64), np.asarray(values, np.float64)
    if len(ts) < 2 or ts[-1] - ts[0] < 3:
        return []
    at = np.arange(ts[0] + 1, ts[-1] - 1, 1 / 8)
    daily = centred_medians(ts, vs, np.arange(ts[0] + 0.5, ts[-1] - 0.5 + 1 / 16, 1 / 8))
    # Index i of ``daily`` is centred at ts[0] + .5 + i/8: half a day either side of at[k] are k and k + 8.
    before, after = daily[: len(at)], daily[8 : 8 + len(at)]
    later = np.full(len(at), np.nan)
    later[: max(len(daily) - 20, 0)] = daily[20 : 20 + len(at)]
    size = min(len(before), len(after), len(at))
    rise = after[:size] - before[:size]
    kept = later[:size] - before[:size]
    usual = float(np.nanmedian(np.abs(rise))) if np.isfinite(rise).any() else 0.0
    with np.errstate(invalid="ignore"):
        good = (rise >= max(least, noise * usual)) & ((kept > rise / 2) | np.isnan(kept))
    found: list[float] = []
    for k in np.argsort(np.where(good, -rise, np.inf)):
        if not good[k]:
            break
        if all(abs(at[k] - other) > apart_days for other in found):
            found.append(float(at[k]))
    return sorted(_steepest(ts, vs, one) for one in found)


def _steepest(ts: Floats, vs: Floats, near: float) -> float:
    """Within 18 hours of a rise, where the six hours after are most above the six hours before."""
    at = np.arange(near - 0.75, near + 0.75, 1 / 24)
    halves = centred_medians(ts, vs, np.r_[at - 0.125, at + 0.125], 0.25, 0.3)
    step = halves[len(at) :] - halves[: len(at)]
    return near if np.isnan(step).all() else float(at[int(np.nanargmax(step))])


def median_held(days: ArrayLike, ended: ArrayLike) -> float:
    """How long half of all charges hold, where some were not waited out.

    Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457.

    ``days`` (n,) each charge held, ``ended`` (n,) False where water came before the end. inf where it is not reached.

    >>> median_held([6, 9, 7, 12], [True, True, False, True])
    9.0
    """
    length, over = np.asarray(days, np.float64), np.asarray(ended, np.bool_)
    left = 1.0
    for day in np.unique(length[over]):
        left *= 1 - (over & (length == day)).sum() / (length >= day).sum()
        if left <= 0.5:
            return float(day)
    return math.inf
