"""A curve that may bend as it likes, held against the parabola: a parabola is believed only where it fits as well.

The flexible curve is a natural cubic spline (Hastie, Tibshirani & Friedman 2009, The Elements of Statistical
Learning, 5.2.1), added to the parabola it is compared with. The terms beyond the parabola are tested
together with the clustered covariance (CR3), as Hotelling's T2.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..intervals.quantiles import t_quantile
from ..special import special
from .choice import ChoiceFit, fit_choice
from .natural_spline import natural_spline

KNOTS = 5
POINTS = 41
# Beyond the parabola a direction that varies by less than this part of the first is rounding or wobble.
_LEAST_DIRECTION = 0.05
# One side is avoided where its odds lie surely below half of those of the other side's plateau.
AVOIDED_BELOW = np.log(2.0)
LEVEL_WITHIN = np.log(1.5)
DIP = 0.1


@dataclass(frozen=True, slots=True)
class FlexibleCurve:
    """``p``: chance of a spline that much better by luck. ``x`` (points,) from the 5th to the 95th percentile of
    what was offered; ``curve``, ``low``, ``high``: log odds there against the mean of what was offered, with 90 %
    limits. ``threshold``: the side that is simply avoided, "low" or "high", else "". ``top``: where the curve has
    its one top, None where it has none inside or several. ``beyond``: Hotelling's T2 of the terms beyond the parabola,
    how many there are, and the clusters."""

    beyond: tuple[float, int, int]
    x: Floats
    curve: Floats
    low: Floats
    high: Floats
    threshold: str
    top: float | None

    @property
    def p(self) -> float:
        return self.p_spread(1.0)

    def p_spread(self, spread: float) -> float:
        """The same with variances ``spread`` times larger and clusters as many times fewer, where successive ones
        repeat each other."""
        t2, extra, clusters = self.beyond
        return hotelling_p(t2 / spread, extra, clusters / spread)


def hotelling_p(t2: float, terms: int, clusters: float) -> float:
    """Chance of Hotelling's T2 of so many terms as large by luck; 1 where there are too few clusters to tell.

    >>> round(hotelling_p(4.0, 1, 41), 3)  # one term: Student's t of 2 with 40 degrees of freedom
    0.052
    """
    if clusters <= terms + 1:
        return 1.0
    return float(special.fdtrc(terms, clusters - terms, t2 * (clusters - terms) / (terms * (clusters - 1))))


def flexible_curve(
    values: ArrayLike,
    others: ArrayLike,
    moment: ArrayLike,
    chosen: ArrayLike,
    offset: ArrayLike,
    *,
    cluster: ArrayLike,
    most: int = 3,
) -> FlexibleCurve | None:
    """The spline in ``values`` beside the other terms of the model (``others``: rows x terms); None where the data
    have no room for one (too few clusters or too few different values).

    One row a moment and place on offer, as for ``choice.fit_choice``; at most ``most`` terms beyond the parabola.
    """
    v, ids, groups = np.asarray(values, np.float64), np.asarray(moment), np.unique(np.asarray(cluster))
    most = min(most, groups.size // 5)
    low, high = (float(q) for q in np.quantile(v, [0.05, 0.95]))
    at = np.linspace(low, high, POINTS)
    made = _bends(v, ids, at, most)
    if made is None:
        return None
    bends, bends_at = made
    centre = float(np.median(v))
    parabola = np.column_stack([v - centre, (v - centre) ** 2])
    rows = np.column_stack([parabola, bends, np.asarray(others, np.float64)])
    fit = fit_choice(rows, ids, chosen, offset=offset, cluster=cluster)
    curved = slice(0, 2 + bends.shape[1])
    if not fit.estimable[curved].all() or not np.isfinite(fit.cov_cr3[curved, curved]).all():
        return None
    mean = np.average(rows[:, curved], axis=0, weights=_offered(offset, ids))
    shown = np.column_stack([at - centre, (at - centre) ** 2, bends_at]) - mean
    curve = shown @ fit.coef[curved]
    error = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", shown, fit.cov_cr3[curved, curved], shown), 0.0))
    half = t_quantile(0.95, fit.clusters - 1) * error
    side, top = _threshold(shown, fit, curved), _one_top(at, curve)
    return FlexibleCurve(_beyond(fit, bends.shape[1]), at, curve, curve - half, curve + half, side, top)


def _one_top(at: Floats, curve: Floats) -> float | None:
    """Where a curve that rises to one top inside and falls from it has it; a dip of a tenth in log odds is none."""
    top = int(np.argmax(curve))
    if not 0 < top < curve.size - 1:
        return None
    up, down = curve[: top + 1], curve[top:]
    dips = max(
        float((np.maximum.accumulate(up) - up).max()), float((down - np.minimum.accumulate(down)).max())
    )
    return float(at[top]) if dips < DIP else None


def _offered(offset: ArrayLike, ids: NDArray[np.generic]) -> Floats:
    """Each row's share of what was offered at its moment."""
    _, number = np.unique(ids, return_inverse=True)
    share = np.exp(np.asarray(offset, np.float64))
    return np.asarray(share / np.bincount(number, share)[number], np.float64)


def _bends(values: Floats, ids: NDArray[np.generic], at: Floats, most: int) -> tuple[Floats, Floats] | None:
    """What a natural spline can do and a parabola cannot, in few directions: at the rows, and at ``at``."""
    levels = np.unique(np.round((values - values.min()) / max(np.ptp(values), 1e-12), 2))
    knots = min(KNOTS, levels.size - 1)
    if knots < 3 or most < 1:
        return None
    inner = np.quantile(levels, np.linspace(0, 1, knots + 1)[1:-1]) * np.ptp(values) + values.min()
    design = natural_spline(np.r_[values, at], np.unique(np.r_[values.min(), inner, values.max()]))
    basis, basis_at = np.split(design, [values.size])
    centre, spread = float(np.median(values)), max(float(values.std()), 1e-12)

    def power(x: Floats) -> Floats:
        scaled = (x - centre) / spread
        return np.column_stack([np.ones(x.size), scaled, scaled**2])

    known = np.linalg.lstsq(power(values), basis, rcond=None)[0]
    left, left_at = basis - power(values) @ known, basis_at - power(at) @ known
    _, number = np.unique(ids, return_inverse=True)
    count = np.bincount(number)
    inside = left - np.column_stack([(np.bincount(number, c) / count)[number] for c in left.T])
    _, size, directions = np.linalg.svd(inside, full_matrices=False)
    if size[0] <= 1e-9 * np.sqrt(values.size):
        return None
    kept = directions[: min(most, int((size > _LEAST_DIRECTION * size[0]).sum()))].T
    scale = np.maximum((left @ kept).std(axis=0), 1e-12)
    return left @ kept / scale, left_at @ kept / scale


def _beyond(fit: ChoiceFit, extra: int) -> tuple[float, int, int]:
    """Hotelling's T2 of the terms beyond the parabola, by clusters; 0 where it cannot be told."""
    which = slice(2, 2 + extra)
    b, v = fit.coef[which], fit.cov_cr3[which, which]
    try:
        t2 = float(b @ np.linalg.solve(v, b))
    except np.linalg.LinAlgError:
        t2 = 0.0
    return max(t2, 0.0), extra, fit.clusters


def _threshold(shown: Floats, fit: ChoiceFit, curved: slice) -> str:
    """The side that is avoided while the rest is level: "low", "high", or ""."""
    coef, cov = fit.coef[curved], fit.cov_cr3[curved, curved]
    curve, parts = shown @ coef, np.array_split(np.arange(POINTS), 6)
    surely = t_quantile(0.95, fit.clusters - 1)
    for side, end, plateau in (("low", 0, slice(POINTS // 3, None)), ("high", -1, slice(0, -(POINTS // 3)))):
        level = curve[plateau]
        apart = shown[plateau].mean(axis=0) - shown[parts[end]].mean(axis=0)
        error = float(np.sqrt(max(apart @ cov @ apart, 0.0)))
        steps = np.diff(curve[parts[end]]) * (1 if side == "low" else -1)
        if (
            float(apart @ coef) - surely * error > AVOIDED_BELOW
            and np.ptp(level) <= 2 * LEVEL_WITHIN
            and (steps > -0.02).all()
        ):
            return side
    return ""


def tested_together(p: Sequence[float]) -> list[float]:
    """Holm's p over the curves of one answer (Holm 1979, Scand. J. Stat. 6:65).

    >>> tested_together([0.01, 0.04])
    [0.02, 0.04]
    """
    order = np.argsort(p)
    held, top = [0.0] * len(p), 0.0
    for rank, i in enumerate(order):
        top = max(top, min(1.0, (len(p) - rank) * p[i]))
        held[int(i)] = top
    return held
