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

    def fit(self, terms: Floats, errors: bool = True, like: ChoiceFit | None = None) -> ChoiceFit:
        """The choice model of some terms of the quantity, the others beside them; ``like``: a fit of as many terms
        that should come out much the same, to begin from."""
        return fit_choice(
            np.column_stack([terms, self.others]), self.moment, self.chosen,
            offset=self.offset, cluster=self.cluster, errors=errors, start=None if like is None else like.coef,
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
    fits: list[ChoiceFit] = []
    for p in at:
        fits.append(_bent_at(v, p, rows, fits[-1] if fits else None))
    t = np.array([_slope(fit) for fit in fits])
    degrees = max(fits[0].clusters - 1, 1)
    ends = t_quantile(0.5 + confidence / 2, degrees)
    value, skew = None, 0.0
    down = np.flatnonzero((t[:-1] > 0) & (t[1:] <= 0))
    if down.size:
        i = int(down[np.argmax(t[down] - t[down + 1])])
        value = float(at[i] + (at[i + 1] - at[i]) * t[i] / (t[i] - t[i + 1]))
        skew = _skew(_bent_at(v, value, rows, fits[i]))
    return Top(value, _spans(at, np.abs(t) - ends), skew)


def _bent_at(v: Floats, p: float, rows: ChoiceRows, like: ChoiceFit | None) -> ChoiceFit:
    """A slope at p, and a bend of its own on either side."""
    z = v - p
    return rows.fit(np.column_stack([z, np.minimum(z, 0) ** 2, np.maximum(z, 0) ** 2]), like=like)


def _told(fit: ChoiceFit) -> bool:
    return bool(fit.estimable[0] and fit.cov_cr3[0, 0] > 0)


def _slope(fit: ChoiceFit) -> float:
    """The slope over its error; 0 where it cannot be told."""
    return float(fit.coef[0] / np.sqrt(fit.cov_cr3[0, 0])) if _told(fit) else 0.0


def _skew(fit: ChoiceFit) -> float:
    """How much more the curve bends above than below over its error; 0 where it cannot be told."""
    cov = fit.cov_cr3
    apart = cov[1, 1] + cov[2, 2] - 2 * cov[1, 2]
    if not (_told(fit) and apart > 0 and fit.estimable[:3].all()):
        return 0.0
    return float((fit.coef[1] - fit.coef[2]) / np.sqrt(apart))


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
