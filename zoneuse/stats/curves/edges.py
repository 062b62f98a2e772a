"""A condition avoided beyond an edge and used alike before it; and whether a top is one by two straight lines.

A parabola fitted to animals that only avoid what is beyond some value rises at the other end all the same. Two lines
that meet do not (Simonsohn 2018, Adv. Methods Pract. Psychol. Sci. 1:538): a top rises on one and falls on the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..choice.choice import ChoiceFit
from ..intervals.quantiles import t_quantile, t_tail
from .tops import ChoiceRows

TRIED = 13
# How wide the way from alike to avoided may be, as parts of the span offered: at once, soon, or on and on.
WIDTHS = (0.0, 0.2, np.inf)
# Before the edge the odds may drift by this much in all and still count as alike.
ALIKE_WITHIN = np.log(1.5)
# One-sided: by this the side before the edge would have to rise for a top.
NO_RISE = 0.10
BENDS = 0.05
# What lies no further below the best, in twice the log likelihood, is in the 95 % limits of where a curve breaks
# (Hansen 2000, Econometrica 68:575; digits from memory); chi squared, 3.84, is for what moves a curve smoothly.
BREAKS = 7.35


@dataclass(frozen=True, slots=True)
class TwoLines:
    """Slopes of two lines that meet at ``at``; t of a rise before it, of a fall after it, of a bend down between them,
    with their degrees of freedom."""

    at: float
    before: float
    after: float
    t_rise: float
    t_fall: float
    t_bend: float
    degrees: int

    @property
    def p_top(self) -> float:
        """One-sided chance of a rise and then a fall as steep by luck."""
        return self.p(min(self.t_rise, self.t_fall))

    def p(self, t: float, spread: float = 1.0) -> float:
        """One-sided chance of one of its t, with variances ``spread`` times larger."""
        return t_tail(t / np.sqrt(spread), self.degrees) if self.degrees >= 1 else 1.0


def two_lines(values: ArrayLike, rows: ChoiceRows, at: float) -> TwoLines:
    """Two straight lines in ``values`` (rows,) that meet at ``at``."""
    z = np.asarray(values, np.float64) - at
    fit = rows.fit(np.column_stack([np.minimum(z, 0), np.maximum(z, 0)]))
    b, cov, degrees = fit.coef[:2], fit.cov_cr3[:2, :2], fit.clusters - 1
    if not fit.estimable[:2].all() or not np.isfinite(cov).all() or degrees < 1:
        return TwoLines(at, 0.0, 0.0, 0.0, 0.0, 0.0, degrees)
    rise, fall = (float(sign * v / np.sqrt(c)) for sign, v, c in zip((1, -1), b, np.diag(cov), strict=True))
    bend = float((b[0] - b[1]) / np.sqrt(cov[0, 0] + cov[1, 1] - 2 * cov[0, 1]))
    return TwoLines(at, float(b[0]), float(b[1]), rise, fall, bend, degrees)


@dataclass(frozen=True, slots=True)
class Edge:
    """``side`` beyond which it is avoided, "high" or "low"; ``value`` where that begins, with 95 % limits ``low`` to
    ``high`` by the profile of the likelihood (Hansen 2000); ``lines`` the two that meet there."""

    side: str
    value: float
    low: float
    high: float
    lines: TwoLines

    def p(self, spread: float = 1.0) -> float:
        """One-sided chance of a fall beyond it, and of a bend, as clear by luck, for the edges tried together: of so
        many as there are, some three are as good as apart. ``spread`` multiplies variances."""
        return min(1.0, 3 * self.lines.p(min(self.lines.t_fall, self.lines.t_bend), spread))


def edge_of(values: ArrayLike, rows: ChoiceRows, offered: tuple[float, float]) -> Edge | None:
    """The edge beyond which a condition is avoided while the rest of ``offered`` (low, high) is used alike.

    None where there is none on either side, or the side before it rises or drifts. ValueError as for ``fit_choice``.
    """
    v = np.asarray(values, np.float64)
    found = [_one_side(sign * v, rows, sorted((sign * offered[0], sign * offered[1]))) for sign in (1, -1)]
    both = [(e, sign) for e, sign in zip(found, (1, -1), strict=True) if e is not None]
    if not both:
        return None
    edge, sign = min(both, key=lambda pair: pair[0].p())
    if sign == 1:
        return edge
    return Edge("low", -edge.value, -edge.high, -edge.low, edge.lines)


def _one_side(v: Floats, rows: ChoiceRows, offered: list[float]) -> Edge | None:
    low, high = offered
    at = np.linspace(low + 0.15 * (high - low), high - 0.05 * (high - low), TRIED)
    lines = [two_lines(v, rows, float(p)) for p in at[::4]]
    if min(one.p(one.t_fall) for one in lines) > BENDS:
        return None
    fits: list[list[ChoiceFit | None]] = []
    for p in at:
        like = fits[-1] if fits else [None] * len(WIDTHS)
        fits.append([_ramp(v, rows, p, w * (high - low), near) for w, near in zip(WIDTHS, like, strict=True)])
    best = np.array([max(_fits(f) for f in per) for per in fits])
    top = int(np.argmax(best))
    value = float(at[top])
    line = two_lines(v, rows, value)
    width, likest = max(zip(WIDTHS, fits[top], strict=True), key=lambda pair: _fits(pair[1]))
    ramp = _ramp(v, rows, value, width * (high - low), likest, errors=True)
    rises = line.p(line.t_rise) <= NO_RISE
    drifts = abs(line.before) > ALIKE_WITHIN / (value - low)
    if ramp is None or rises or drifts or ramp.coef[0] >= 0:
        return None
    effect = _effect(ramp)
    # As many more as a Student's t is wider than a normal.
    few = (t_quantile(0.975, max(ramp.clusters - 1, 1)) / 1.96) ** 2
    within = 2 * (best.max() - best) / effect <= BREAKS * few
    step = float(at[1] - at[0])
    inside = at[within]
    edge = Edge("high", value, float(inside.min()) - step / 2, float(inside.max()) + step / 2, line)
    return edge if edge.p() <= BENDS else None


def _ramp(
    v: Floats, rows: ChoiceRows, at: float, width: float, like: ChoiceFit | None, *, errors: bool = False
) -> ChoiceFit | None:
    """Level up to ``at``, then a way down of ``width``: at once (0), or on and on (infinite)."""
    beyond = v - at
    if width == 0:
        term = (beyond > 0).astype(float)
    elif np.isinf(width):
        term = np.maximum(beyond, 0)
    else:
        term = np.clip(beyond / width, 0, 1)
    try:
        return rows.fit(term[:, None], errors, like)
    except np.linalg.LinAlgError:  # all of it in one session or day
        return None


def _fits(fit: ChoiceFit | None) -> float:
    return -np.inf if fit is None else fit.loglik


def _effect(fit: ChoiceFit) -> float:
    """How many moments are worth one look, by the clustered variance of the ramp."""
    ratio = fit.cov_cr3[0, 0] / fit.cov[0, 0]
    return float(max(ratio, 1.0)) if np.isfinite(ratio) else 1.0
