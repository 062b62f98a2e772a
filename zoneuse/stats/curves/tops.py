"""Where a curve of choice has its top when its two sides need not fall off alike.

Animals often fall off faster on the hot side than on the cold one, and the top of a parabola then lies degrees
from the true one. Here each value is held to be the top in turn: beside a parabola's half on either side of it, each
with a bend of its own, a slope at the value itself is tested; what is not ruled out is the set. With equal bends it is
Fieller's set of the parabola's top (``peaks.fieller_peak``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..choice.choice import ChoiceFit, fit_choice
from ..choice.peaks import Span
from ..intervals.quantiles import t_quantile

TRIED = 17


@dataclass(frozen=True, slots=True)
class ChoiceRows:
    """A choice table with what stands beside the quantity in question: ``others`` rows x terms (may be none)."""

    others: Floats
    moment: NDArray[np.generic]
    chosen: Floats
    offset: Floats
    cluster: NDArray[np.generic]

    def fit(self, terms: Floats, errors: bool = True) -> ChoiceFit:
        """The choice model of some terms of the quantity, the others beside them."""
        return fit_choice(
            np.column_stack([terms, self.others]), self.moment, self.chosen,
            offset=self.offset, cluster=self.cluster, errors=errors,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Top:
    """``value``: where the slope turns from up to down, None where it does not inside what was offered. ``spans``:
    the set of tops that are not ruled out. ``skew``: how much sharper it bends above the top than below, over its
    standard error; above zero it falls off faster above."""

    value: float | None
    spans: tuple[Span, ...]
    skew: float


def top_set(values: ArrayLike, rows: ChoiceRows, confidence: float = 0.95) -> Top:
    """The top of a curve in ``values`` (rows,) with its confidence set, cut to what was offered.

    ValueError as for ``choice.fit_choice``.
    """
    v = np.asarray(values, np.float64)
    at = np.linspace(v.min(), v.max(), TRIED)
    told = [_slope(v, p, rows) for p in at]
    t = np.array([one[0] for one in told])
    degrees = max(told[0][2], 1)
    ends = t_quantile(0.5 + confidence / 2, degrees)
    value, skew = None, 0.0
    down = np.flatnonzero((t[:-1] > 0) & (t[1:] <= 0))
    if down.size:
        i = int(down[np.argmax(t[down] - t[down + 1])])
        value = float(at[i] + (at[i + 1] - at[i]) * t[i] / (t[i] - t[i + 1]))
        skew = _slope(v, value, rows)[1]
    return Top(value, _spans(at, np.abs(t) - ends), skew)


def _slope(v: Floats, p: float, rows: ChoiceRows) -> tuple[float, float, int]:
    """The slope at p over its error, how much more the curve bends above than below over its error, and degrees."""
    z = v - p
    fit = rows.fit(np.column_stack([z, np.minimum(z, 0) ** 2, np.maximum(z, 0) ** 2]))
    cov = fit.cov_cr3[:3, :3]
    if not fit.estimable[0] or not cov[0, 0] > 0:
        return 0.0, 0.0, fit.clusters - 1
    apart = cov[1, 1] + cov[2, 2] - 2 * cov[1, 2]
    skew = (fit.coef[1] - fit.coef[2]) / np.sqrt(apart) if apart > 0 and fit.estimable[:3].all() else 0.0
    return float(fit.coef[0] / np.sqrt(cov[0, 0])), float(skew), fit.clusters - 1


def _spans(at: Floats, over: Floats) -> tuple[Span, ...]:
    """Where ``over`` is not above zero, on the line between the values tried."""
    found: list[Span] = []
    start = float(at[0]) if over[0] <= 0 else None
    for i in range(at.size - 1):
        if (over[i] <= 0) == (over[i + 1] <= 0):
            continue
        crossing = float(at[i] + (at[i + 1] - at[i]) * over[i] / (over[i] - over[i + 1]))
        if start is None:
            start = crossing
        else:
            found.append((start, crossing))
            start = None
    if start is not None:
        found.append((start, float(at[-1])))
    return tuple(found)
