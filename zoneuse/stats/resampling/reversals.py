"""A change made, taken back and perhaps made again (A-B-A-B): all its phases judged together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..intervals.quantiles import t_quantile

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Reversal:
    """With the change minus without it, by column; ``alike`` where every step went the same way.

    ``without`` and ``with_it`` are the means the difference is made of, ``phases`` the mean of each phase.
    """

    without: Floats
    with_it: Floats
    change: Floats
    low: Floats
    high: Floats
    p: Floats
    alike: NDArray[np.bool_]
    phases: Floats


def step_weights(states: ArrayLike) -> Floats:
    """What each phase adds to the mean of all steps, each turned so that it says what the change does.

    A drift that goes on through all phases mostly cancels out of it, which it does not in one step.

    >>> step_weights([False, True, False, True]).round(3)
    array([-0.333,  0.667, -0.667,  0.333])
    """
    on = np.asarray(states).astype(bool)
    if on.size < 3 or (on[1:] == on[:-1]).any():
        raise ValueError("states: expected at least three phases, by turns without and with the change")
    turn = np.where(on[1:], 1.0, -1.0) / (on.size - 1)
    weights = np.zeros(on.size)
    weights[1:] += turn
    weights[:-1] -= turn
    return weights


def reversal(
    values: ArrayLike,
    phase: ArrayLike,
    states: ArrayLike,
    stratum: ArrayLike | None = None,
    *,
    confidence: float = 0.95,
    draws: int = 9_999,
    seed: int = 1,
) -> Reversal:
    """Mean of all steps of a reversal design, tested by dealing units anew over the phases within strata.

    ``values`` (units x columns), ``phase`` (units,) 0, 1, 2 … in time, ``states`` (phases,) whether the change
    held, ``stratum`` (units,) a code of the slot; each phase needs units. Means are over units of a phase with
    the slots' own levels taken off. p is two-sided, (b + 1)/(m + 1) over ``draws`` (Phipson & Smyth 2010);
    limits by t from what levels of phases and of slots leave.

    >>> y = np.array([.1, .2, .1, .5, .6, .5, .2, .1, .2, .6, .5, .5])[:, None]
    >>> found = reversal(y, np.repeat(np.arange(4), 3), [0, 1, 0, 1])
    >>> found.change.round(2), bool(found.alike[0]), bool(found.p[0] < 0.01)
    (array([0.38]), True, True)
    """
    v, when = np.asarray(values, np.float64), np.asarray(phase, np.int64)
    code = np.zeros(when.size, np.int64) if stratum is None else np.unique(stratum, return_inverse=True)[1]
    weights = step_weights(states)
    if v.ndim != 2 or when.shape != (v.shape[0],) or code.shape != when.shape:
        raise ValueError("values, phase, stratum: expected one row or value for each unit")
    if set(np.unique(when)) != set(range(weights.size)):
        raise ValueError(f"phase: expected units in each of {weights.size} phases")
    pull = _pull(when, code, weights)
    change = pull @ v
    random = np.random.default_rng(seed)
    # Adding the stratum to random numbers shuffles the pulls of a stratum among its own units only.
    home = np.argsort(code, kind="stable")
    order = np.argsort(code[None, :] + random.random((draws, code.size)), axis=1)
    dealt = np.empty((draws, code.size))
    np.put_along_axis(dealt, order, np.broadcast_to(pull[home], dealt.shape), axis=1)
    centred = v - v.mean(axis=0)
    reached = (np.abs(dealt @ centred) >= np.abs(change) - 1e-12).sum(axis=0)
    means = _phase_means(v, when, code, weights.size)
    inside, free = _spread(v, when, code)
    half = t_quantile(0.5 + confidence / 2, free) * np.sqrt(inside * float((pull**2).sum()))
    on = weights > 0
    steps = np.diff(means, axis=0) * np.where(on[1:], 1.0, -1.0)[:, None]
    return Reversal(
        -(weights[~on] @ means[~on]), weights[on] @ means[on], change, change - half, change + half,
        np.asarray((reached + 1) / (draws + 1), np.float64),
        np.asarray((steps > 0).all(axis=0) | (steps < 0).all(axis=0), bool), means,
    )  # fmt: skip


def _pull(phase: Ints, code: Ints, weights: Floats) -> Floats:
    """What each unit adds to the mean of all steps: its phase's weight, shared by the slots watched in all phases."""
    counts = np.zeros((weights.size, int(code.max()) + 1))
    np.add.at(counts, (phase, code), 1)
    if (counts == 0).any():
        raise ValueError("stratum: expected units of each slot in every phase")
    # As for two phases: a slot counts by what its thinnest phases let it tell.
    telling = 1 / (1 / counts).sum(axis=0)
    return np.asarray(weights[phase] * (telling / telling.sum())[code] / counts[phase, code], np.float64)


def _phase_means(v: Floats, phase: Ints, code: Ints, phases: int) -> Floats:
    slots = int(code.max()) + 1
    counts, sums = np.zeros((phases, slots)), np.zeros((phases, slots, v.shape[1]))
    np.add.at(counts, (phase, code), 1)
    np.add.at(sums, (phase, code), v)
    telling = 1 / (1 / counts).sum(axis=0)
    return np.asarray(np.einsum("s,psk->pk", telling / telling.sum(), sums / counts[:, :, None]), np.float64)


def _spread(v: Floats, phase: Ints, code: Ints) -> tuple[Floats, int]:
    """Variance around phase and slot levels added together, and its degrees of freedom."""
    marks = [phase[:, None] == np.arange(phase.max() + 1), code[:, None] == np.arange(1, code.max() + 1)]
    design = np.hstack(marks).astype(np.float64)
    free = v.shape[0] - design.shape[1]
    if free < 1:
        return np.full(v.shape[1], np.inf), 1
    residual = v - design @ np.linalg.lstsq(design, v, rcond=None)[0]
    return np.asarray((residual**2).sum(axis=0) / free, np.float64), free
