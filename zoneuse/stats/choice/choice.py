"""The conditional logit of McFadden (1974): which of the places on offer is chosen at each moment.

At moment t the chance of alternative j among those offered then is
``exp(offset_tj + x_tj b) / sum over k of exp(offset_tk + x_tk b)``. The number of alternatives may differ
between moments. Chosen may be counts (a group of animals), and whole clusters of moments (a session, a
day) may repeat each other: the two clustered covariances allow for that.

McFadden D. 1974. Conditional logit analysis of qualitative choice behavior. In: Zarembka P. (ed.),
Frontiers in Econometrics, 105-142.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..intervals.clustered import cr1, cr3
from .choice_layout import ChoiceLayout, Ints, lay_out
from .choice_newton import (
    LAST_STEP,
    MANY,
    ROUGH_STEP,
    Climb,
    climb,
    climb_many,
    of_terms,
    scores_and_informations,
)

# A column whose spread inside moments is below this part of its overall size is constant inside moments.
CONSTANT = 1e-10
# A column of which less than this part is left after the columns before it are taken out is collinear.
COLLINEAR = 1e-7


@dataclass(frozen=True, slots=True)
class Limit:
    """One thing that limits a fit: its ``code``, the ``terms`` it concerns, and what fixes them (``by``).

    Codes: constant (the same for all places on offer at one moment), collinear, separated (the choices follow it
    without exception), moments_left_out (``count`` of them, without a choice or with a single place), not_converged,
    no_information, one_cluster, one_cluster_carries_a_term.
    """

    code: str
    terms: tuple[str, ...] = ()
    by: tuple[str, ...] = ()
    count: int = 0


@dataclass(frozen=True, slots=True)
class ChoiceFit:
    """A fitted conditional logit.

    ``coef`` and the covariances follow the columns of x. A term that cannot be estimated is not given a
    number: its coefficient is NaN (constant or collinear) or plus/minus infinity (separated), its
    variances are NaN, and ``limits`` tell why. Use ``estimable`` to pick the rest.
    ``fitted`` has one probability for each row of x, in the given order (0 where not on offer, and in
    moments that carry no information).
    """

    terms: tuple[str, ...]
    coef: Floats
    cov: Floats
    cov_cr1: Floats
    cov_cr3: Floats
    loglik: float
    loglik_zero: float
    moments: int
    clusters: int
    converged: bool
    iterations: int
    estimable: np.ndarray[tuple[int], np.dtype[np.bool_]]
    limits: tuple[Limit, ...]
    fitted: Floats = field(repr=False)

    @property
    def flags(self) -> tuple[str, ...]:
        """The codes of what limits the fit, each with its term: ``collinear:mix``."""
        return tuple(
            f"{one.code}:{term}" if term else one.code for one in self.limits for term in one.terms or ("",)
        )

    @property
    def se(self) -> Floats:
        """Standard errors from the information matrix: right only if moments are independent."""
        return np.sqrt(np.diag(self.cov))

    @property
    def se_cr1(self) -> Floats:
        """Cluster-robust standard errors (sandwich, G/(G-1))."""
        return np.sqrt(np.diag(self.cov_cr1))

    @property
    def se_cr3(self) -> Floats:
        """Cluster-robust standard errors by the one-step jackknife; the ones to use with few clusters."""
        return np.sqrt(np.diag(self.cov_cr3))


def fit_choice(
    x: ArrayLike,
    moment: ArrayLike,
    chosen: ArrayLike,
    *,
    offset: ArrayLike | None = None,
    cluster: ArrayLike | None = None,
    terms: Sequence[str] | None = None,
    max_iterations: int = 60,
    start: ArrayLike | None = None,
    errors: bool = True,
) -> ChoiceFit:
    """Fit a conditional logit by Newton's method.

    ``x`` is rows x terms, one row for each moment and place on offer; ``moment`` an id for each row (rows
    need not be sorted); ``chosen`` true/false or counts for each row; ``offset`` the log of what is on
    offer (-inf: not on offer); ``cluster`` an id for each row, equal within a moment (default: each moment
    by itself); ``start`` coefficients to begin from, of a fit to much the same moments (``loglik_zero`` is then
    NaN). Without ``errors`` the covariances are left NaN and coefficients are good to about 1e-6. Raises ValueError
    when a column has the wrong length, missing values, or nothing is left to
    fit; everything else that limits the result is in ``limits``.

    >>> moment = np.repeat(np.arange(6), 2)
    >>> warm = np.tile([1.0, 0.0], 6)
    >>> chosen = np.array([1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 1])
    >>> fit = fit_choice(warm[:, None], moment, chosen, terms=["warm"])
    >>> round(float(np.exp(fit.coef[0])), 6)  # chosen 4 times of 6: odds of two
    2.0
    """
    layout = lay_out(x, moment, chosen, offset, cluster)
    if not layout.total.size:
        raise ValueError("no moment has both something chosen and at least two places on offer")
    names = tuple(terms) if terms is not None else tuple(f"x{i}" for i in range(layout.x.shape[0]))
    if len(names) != layout.x.shape[0]:
        raise ValueError(f"terms: expected {layout.x.shape[0]} names, found {len(names)}")
    kept, scale, limits = _estimable(layout, names)
    if layout.moments_left_out:
        limits.append(Limit("moments_left_out", count=layout.moments_left_out))
    # The layout's own array, so that standardising it in place needs no second one.
    terms_kept = of_terms(layout.x, kept)
    terms_kept /= scale[:, None, None]
    layout = replace(layout, x=terms_kept)
    last_step = LAST_STEP if errors else ROUGH_STEP
    every = np.arange(kept.size)
    if start is not None:
        begin = np.nan_to_num(np.asarray(start, np.float64)[kept], posinf=0, neginf=0) * scale
        found = climb(layout, every, max_iterations, begin, last_step)
    elif layout.total.size >= MANY:
        found = climb_many(layout, every, max_iterations, last_step)
    else:
        found = climb(layout, every, max_iterations, last_step=last_step)
    return _result(layout, names, kept, scale, found, limits=limits, errors=errors)


def _estimable(layout: ChoiceLayout, names: tuple[str, ...]) -> tuple[Ints, Floats, list[Limit]]:
    """The columns that can be told apart within moments, their scales, and what keeps the others out."""
    terms = layout.x.shape[0]
    flat = layout.x.reshape(terms, -1)
    scale = np.sqrt(np.einsum("ij,ij->i", flat, flat) / layout.y.size)
    constant = scale <= CONSTANT * np.maximum(layout.largest, 1e-300)
    limits = [Limit("constant", (names[i],)) for i in np.flatnonzero(constant)]
    rest = np.flatnonzero(~constant)
    gram = _gram(flat[rest] if constant.any() else flat) / layout.y.size / np.outer(scale[rest], scale[rest])
    if _all_apart(gram):
        return rest, np.asarray(scale[rest], np.float64), limits
    kept: list[int] = []
    for position, i in enumerate(rest):
        before = [int(p) for p, j in enumerate(rest[:position]) if j in kept]
        left = 1.0
        if before:
            along = np.linalg.solve(gram[np.ix_(before, before)], gram[before, position])
            left = 1.0 - float(along @ gram[before, position])
        if left > COLLINEAR:
            kept.append(int(i))
            continue
        limits.append(Limit("collinear", (names[i],), tuple(names[rest[p]] for p in before)))
    chosen = np.asarray(kept, np.intp)
    return chosen, np.asarray(scale[chosen], np.float64), limits


def _all_apart(gram: Floats) -> bool:
    """Whether something of every column is left beside the columns before it: the squared diagonal of the root."""
    try:
        return bool((np.diag(np.linalg.cholesky(gram)) ** 2 > COLLINEAR).all())
    except np.linalg.LinAlgError:
        return False


def _gram(columns: Floats) -> Floats:
    """Products of all pairs of rows, in blocks that stay in a core's cache."""
    total = np.zeros((columns.shape[0], columns.shape[0]))
    for start in range(0, columns.shape[1], 4096):
        block = columns[:, start : start + 4096]
        # Not block @ block.T: that takes the slow path for a symmetric product of long, thin matrices.
        total += block @ np.ascontiguousarray(block.T)
    return total


def _result(
    layout: ChoiceLayout,
    names: tuple[str, ...],
    kept: Ints,
    scale: Floats,
    found: Climb,
    *,
    limits: list[Limit],
    errors: bool,
) -> ChoiceFit:
    """Map a climb in standardised terms back to the terms given, with its covariances."""
    terms = len(names)
    coef = np.full(terms, np.nan)
    coef[kept] = found.beta / scale
    estimable = np.zeros(terms, bool)
    estimable[kept] = True
    if found.separated.any():
        runaway = kept[found.separated]
        coef[runaway] = np.sign(found.direction[found.separated]) * np.inf
        estimable[runaway] = False
        limits.append(Limit("separated", tuple(names[i] for i in runaway)))
    if not found.converged:
        limits.append(Limit("not_converged"))
    inside = ~found.separated
    nothing = np.full((int(inside.sum()),) * 2, np.nan)
    cov = sandwich = jackknife = nothing
    if errors:
        cov, sandwich, jackknife = _covariances(layout, found, inside, limits)
    back = np.outer(scale[inside], scale[inside])
    if layout.row is None or layout.place is None:
        fitted = found.probability.T.reshape(-1)
    else:
        fitted = np.zeros(layout.rows)
        fitted[layout.row] = found.probability.reshape(-1)[layout.place]
    return ChoiceFit(
        terms=names,
        coef=coef,
        cov=_spread(cov / back, kept[inside], terms),
        cov_cr1=_spread(sandwich / back, kept[inside], terms),
        cov_cr3=_spread(jackknife / back, kept[inside], terms),
        loglik=found.loglik,
        loglik_zero=found.loglik_zero,
        moments=int(layout.total.size),
        clusters=layout.clusters,
        converged=found.converged,
        iterations=found.iterations,
        estimable=estimable,
        limits=tuple(limits),
        fitted=fitted,
    )


def _covariances(
    layout: ChoiceLayout, found: Climb, inside: np.ndarray, limits: list[Limit]
) -> tuple[Floats, Floats, Floats]:
    """Model-based, CR1 and CR3 covariances of the standardised coefficients that are finite."""
    size = int(inside.sum())
    nothing = np.full((size, size), np.nan)
    if not size:
        return nothing, nothing, nothing
    x = of_terms(layout.x, np.flatnonzero(inside))
    scores, informations = scores_and_informations(x, layout, found.probability)
    information = informations.sum(axis=0)
    try:
        cov = np.linalg.inv(information)
    except np.linalg.LinAlgError:
        limits.append(Limit("no_information"))
        return nothing, nothing, nothing
    if layout.clusters < 2:
        limits.append(Limit("one_cluster"))
        return cov, nothing, nothing
    sandwich = cr1(scores, cov)
    jackknife, alone = cr3(scores, informations)
    if alone:
        limits.append(Limit("one_cluster_carries_a_term"))
    return cov, sandwich, jackknife


def _spread(block: Floats, where: Ints, size: int) -> Floats:
    """A block of a covariance in its place in the full one, NaN elsewhere."""
    full = np.full((size, size), np.nan)
    full[np.ix_(where, where)] = block
    return full
