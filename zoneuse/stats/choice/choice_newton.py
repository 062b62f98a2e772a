"""Newton's method for the conditional logit, on arrays padded over alternatives and moments."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..arrays import Floats
from .choice_layout import NOT_OFFERED, ChoiceLayout, Ints

# A step below this, in standardised terms, is the last: the error left is about its square. The second is for fits
# of which only the likelihood of other moments is wanted.
LAST_STEP, ROUGH_STEP = 1e-6, 1e-3
# Newton's method settles in about as many steps; what has no top grows flat only after them.
_NOT_YET_FLAT = 4
# Linear predictors this far apart are looked at for separation.
FAR_APART = 25.0
# Numbers in one block of moments: keeps a block's arrays within a core's own cache.
BLOCK = 24_576
# Moments whose scores are summed at once: few enough that their products do not double the memory.
MOMENTS_AT_ONCE = 8192
# From so many moments on, one in so many of them is climbed first: all of them then need two steps or three.
MANY, ONE_IN = 50_000, 16


@dataclass(frozen=True, slots=True)
class Climb:
    """Where Newton's method ended: coefficients of the standardised terms, and what became of each."""

    beta: Floats
    probability: Floats
    loglik: float
    loglik_zero: float
    converged: bool
    iterations: int
    separated: np.ndarray[tuple[int], np.dtype[np.bool_]]
    direction: Floats


def climb(
    layout: ChoiceLayout,
    kept: Ints,
    max_iterations: int,
    start: Floats | None = None,
    last_step: float = LAST_STEP,
) -> Climb:
    """Climb to the maximum likelihood with step halving; where it has no finite top, go to its limit.

    ``layout.x`` holds standardised terms, of which ``kept`` are in the model; ``start`` are their coefficients to
    begin from; the likelihood at zero is then not worked out.
    """
    x = of_terms(layout.x, kept)
    beta = np.zeros(kept.size) if start is None else start
    target = np.einsum("kam,am->k", x, layout.y)
    loglik, gradient, information = _derivatives(x, layout, beta, target)
    zero = loglik if start is None else float("nan")
    converged = kept.size == 0
    iterations = 0
    while not converged and iterations < max_iterations:
        iterations += 1
        step = _newton_step(information, gradient)
        taken, new, ahead = 1.0, beta + step, _derivatives(x, layout, beta + step, target)
        while ahead[0] < loglik - 1e-9 * abs(loglik) and taken > 1e-6:
            taken /= 2
            new = beta + taken * step
            ahead = _derivatives(x, layout, new, target)
        beta, (loglik, gradient, information) = new, ahead
        if np.abs(taken * step).max() < last_step:
            converged = True
        elif (
            np.abs(beta).max() > FAR_APART
            or iterations == max_iterations
            or (iterations > _NOT_YET_FLAT and _flat(information))
        ):
            direction = _separation(x, layout, step)
            if direction is not None:
                limit = _limit(layout, kept, x, direction, max_iterations)
                return replace(limit, loglik_zero=zero, iterations=iterations + limit.iterations)
    probability = _probabilities(x, layout.offset, beta)
    none = np.zeros(kept.size, bool)
    return Climb(beta, probability, loglik, zero, converged, iterations, none, np.zeros(kept.size))


def climb_many(layout: ChoiceLayout, kept: Ints, max_iterations: int, last_step: float = LAST_STEP) -> Climb:
    """As ``climb``, begun where a part of the moments leads."""
    part = slice(None, None, ONE_IN)
    some = replace(
        layout, x=np.ascontiguousarray(layout.x[:, :, part]), y=layout.y[:, part], offset=layout.offset[:, part],
        total=layout.total[part], cluster=layout.cluster[part],
    )  # fmt: skip
    sample = climb(some, kept, max_iterations, last_step=ROUGH_STEP)
    if not sample.converged or sample.separated.any():
        return climb(layout, kept, max_iterations, last_step=last_step)
    found = climb(layout, kept, max_iterations, sample.beta, last_step)
    return replace(found, loglik_zero=_loglik_at_zero(layout))


def _loglik_at_zero(layout: ChoiceLayout) -> float:
    loglik = 0.0
    for start in range(0, layout.total.size, MOMENTS_AT_ONCE):
        part = slice(start, start + MOMENTS_AT_ONCE)
        _, log_sum, eta = _chances(layout.x[:0, :, part], layout.offset[:, part], np.zeros(0))
        loglik += float(np.vdot(layout.y[:, part], eta) - layout.total[part] @ log_sum)
    return loglik


def of_terms(x: Floats, kept: Ints) -> Floats:
    """Some of the terms; all of them without a copy, which a million moments would not fit twice."""
    return x if kept.size == x.shape[0] else x[kept]


def _limit(layout: ChoiceLayout, kept: Ints, x: Floats, direction: Floats, max_iterations: int) -> Climb:
    """The fit at the far end of a direction along which the likelihood rises for ever.

    There, whatever lies lower along it than what was chosen has no chance any more; among the rest the
    direction makes no difference, so one of its terms can go and the others keep their limits.
    """
    height = (direction @ x.reshape(direction.size, -1)).reshape(layout.y.shape)
    top = np.where(layout.offset > NOT_OFFERED, height, -np.inf).max(axis=0)
    ruled_out = height < top - _slack(height)
    rest = replace(layout, offset=np.where(ruled_out, NOT_OFFERED, layout.offset))
    gone = int(np.abs(direction).argmax())
    others = np.delete(np.arange(kept.size), gone)
    inner = climb(rest, kept[others], max_iterations)
    beta, separated, along = np.zeros(kept.size), direction != 0, direction.copy()
    beta[others] = inner.beta
    separated[others] |= inner.separated
    along[others] = np.where(direction[others] != 0, direction[others], inner.direction)
    return replace(inner, beta=beta, separated=separated, direction=along)


def scores_and_informations(x: Floats, layout: ChoiceLayout, probability: Floats) -> tuple[Floats, Floats]:
    """Score (clusters x terms) and information (clusters x terms x terms) of every cluster, in blocks of moments."""
    terms, count, moments = x.shape[0], layout.clusters, x.shape[2]
    scores = np.zeros((terms, count))
    informations = np.zeros((terms, terms, count))
    for start in range(0, moments, MOMENTS_AT_ONCE):
        part = slice(start, start + MOMENTS_AT_ONCE)
        block, total, cluster = x[:, :, part], layout.total[part], layout.cluster[part]
        weighted = block * probability[:, part]
        mean = weighted.sum(axis=1)
        score = (block * layout.y[:, part]).sum(axis=1) - total * mean
        inside = -mean[:, None] * mean
        for place in range(x.shape[1]):
            inside += weighted[:, None, place] * block[:, place]
        inside *= total
        # One cluster after another, so that each is one stretch to sum.
        order = np.argsort(cluster, kind="stable")
        first = np.flatnonzero(np.r_[True, np.diff(cluster[order]) > 0])
        here = cluster[order[first]]
        scores[:, here] += np.add.reduceat(score[:, order], first, axis=1)
        informations[:, :, here] += np.add.reduceat(inside[:, :, order], first, axis=2)
    return scores.T, np.ascontiguousarray(informations.transpose(2, 0, 1))


def _derivatives(
    x: Floats, layout: ChoiceLayout, beta: Floats, target: Floats
) -> tuple[float, Floats, Floats]:
    """Log likelihood, gradient and information at beta, summed over blocks of moments."""
    terms, _, moments = x.shape
    step = _moments_a_block(x)
    loglik = 0.0
    reached = np.zeros(terms)
    information = np.zeros((terms, terms))
    for start in range(0, moments, step):
        part = slice(start, start + step)
        block = np.ascontiguousarray(x[:, :, part])
        total = layout.total[part]
        p, log_sum, eta = _chances(block, layout.offset[:, part], beta)
        loglik += float(np.vdot(layout.y[:, part], eta) - total @ log_sum)
        weighted = block * p
        mean = weighted.sum(axis=1)
        weighted *= total
        reached += mean @ total
        flat = (terms, p.size)
        information += weighted.reshape(flat) @ block.reshape(flat).T - (mean * total) @ mean.T
    return loglik, target - reached, information


def _moments_a_block(x: Floats) -> int:
    return int(max(1, BLOCK // max(1, x.shape[0] * x.shape[1])))


def _probabilities(x: Floats, offset: Floats, beta: Floats) -> Floats:
    """As ``_chances``' first, in blocks: as a whole each term would take new memory of the size of all moments."""
    found = np.empty(offset.shape)
    step = _moments_a_block(x)
    for start in range(0, offset.shape[1], step):
        part = slice(start, start + step)
        found[:, part] = _chances(x[:, :, part], offset[:, part], beta)[0]
    return found


def _chances(x: Floats, offset: Floats, beta: Floats) -> tuple[Floats, Floats, Floats]:
    """Probabilities, log of the sum, and linear predictor; the largest is taken out before exp()."""
    # Term by term: a matrix product this long and thin wakes the linear algebra's threads and waits for them.
    eta = offset.copy()
    for term, size in zip(x, beta, strict=True):
        eta += size * term
    top = eta.max(axis=0)
    p = eta - top
    np.exp(p, out=p)
    total = p.sum(axis=0)
    p /= total
    return p, top + np.log(total), eta


def _newton_step(information: Floats, gradient: Floats) -> Floats:
    """Solve for the step; where the information is all but singular, go along what is known."""
    try:
        return np.asarray(np.linalg.solve(information, gradient), np.float64)
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.lstsq(information, gradient, rcond=1e-12)[0], np.float64)


def _flat(information: Floats) -> bool:
    """Whether the likelihood has become all but flat in some direction."""
    return bool(np.linalg.eigvalsh(information)[0] < 1e-7 * np.trace(information))


def _separation(x: Floats, layout: ChoiceLayout, step: Floats) -> Floats | None:
    """The last step as a direction along which the likelihood rises for ever, or None if it is not one.

    It is one when at every moment everything chosen lies at least as far along it as everything else on
    offer (Albert & Anderson 1984, Biometrika 71:1-10). Terms that have settled hardly move any more.
    """
    along = np.where(np.abs(step) > 1e-3 * np.abs(step).max(), step, 0.0)
    height = (along @ x.reshape(step.size, -1)).reshape(layout.y.shape)
    on_offer = layout.offset > NOT_OFFERED
    highest = np.where(on_offer, height, -np.inf).max(axis=0)
    lowest = np.where(on_offer, height, np.inf).min(axis=0)
    lowest_chosen = np.where(layout.y > 0, height, np.inf).min(axis=0)
    slack = _slack(height)
    if (lowest_chosen < highest - slack).any() or not (highest - lowest > slack).any():
        return None
    return along


def _slack(height: Floats) -> float:
    """Heights nearer than this count as equal."""
    return 1e-6 * max(1.0, float(np.abs(height).max()))
