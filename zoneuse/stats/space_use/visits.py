"""Visits of followed animals to zones, from states at even ticks: how often, how long, how soon, and with whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats

Ints = NDArray[np.integer[Any]]
# A state that is none of the zones, and one that is not known.
ELSEWHERE, UNKNOWN = -1, -2


@dataclass(frozen=True, slots=True)
class Visits:
    """Stays in zones, sorted by track and time: ``track`` and ``zone`` (n,), ``start_s`` since the track's first tick
    and ``length_s``; ``entered`` and ``left``: whether its beginning and its end were seen."""

    track: Ints
    zone: Ints
    start_s: Floats
    length_s: Floats
    entered: NDArray[np.bool_]
    left: NDArray[np.bool_]


def visits(track: Ints, at_s: Floats, state: Ints, step_s: Floats) -> Visits:
    """Stays from states (n,) at times (n,): zones 0 and up, ELSEWHERE, or UNKNOWN; ``step_s`` (n,) between its ticks.

    A state holds until the next tick. A track (an animal in one session) that skips ticks is unknown between. A visit
    shorter than a step may be missed, and every length is known to a step (Altmann 1974, Behaviour 49:227, on
    instantaneous sampling).

    >>> found = visits(np.zeros(5, int), np.arange(5.0), np.array([0, 0, 1, 1, -2]), np.ones(5))
    >>> found.zone.tolist(), found.length_s.tolist(), found.entered.tolist(), found.left.tolist()
    ([0, 1], [2.0, 2.0], [False, True], [True, False])
    """
    n = len(state)
    if not n:
        none = np.empty(0)
        return Visits(none.astype(int), none.astype(int), none, none, none.astype(bool), none.astype(bool))
    order = np.lexsort((at_s, track))
    track, at_s, state, step_s = track[order], at_s[order], state[order], step_s[order]
    joined = (track[1:] == track[:-1]) & (np.diff(at_s) <= 1.5 * step_s[1:])
    begins = np.concatenate([[True], ~joined | (state[1:] != state[:-1])])
    start = np.flatnonzero(begins)
    last = np.append(start[1:], n) - 1
    known_before = np.concatenate([[False], joined & (state[:-1] != UNKNOWN)])[start]
    known_after = np.append(joined & (state[1:] != UNKNOWN), False)[last]
    first = np.concatenate([[True], track[1:] != track[:-1]])
    origin = at_s[np.maximum.accumulate(np.where(first, np.arange(n), 0))]
    inside = state[start] >= 0
    return Visits(
        track[start][inside], state[start][inside], (at_s - origin)[start][inside],
        (at_s[last] - at_s[start] + step_s[last])[inside], known_before[inside], known_after[inside],
    )  # fmt: skip


def joint_share(one: Ints, other: Ints, zones: int) -> tuple[int, int, float]:
    """Two animals' states at the same ticks: ticks at which both were in a zone, those in the same zone, and how many
    of them would be by each one's own use alone (the product of their shares, summed over
    zones: common practice, no source).

    >>> joint_share(np.array([0, 0, 1, 1]), np.array([0, 1, 1, 1]), 2)
    (4, 3, 2.0)
    """
    both = (one >= 0) & (other >= 0)
    n = int(both.sum())
    if not n:
        return 0, 0, float("nan")
    mine, theirs = (np.bincount(s[both], minlength=zones) / n for s in (one, other))
    return n, int((one[both] == other[both]).sum()), float(mine @ theirs * n)


def busier_part(counts: Ints) -> Floats:
    """For each cell (n,) the part of all counts that lies in cells with more than it, 0 to 1.

    The cells at which it is below 0.5 are the fewest that hold half of the time: the core of a range (Worton 1989,
    Ecology 70:164), here of a raster and without smoothing.

    >>> busier_part(np.array([1, 6, 0, 3])).round(2).tolist()
    [0.9, 0.0, 1.0, 0.6]
    """
    total = counts.sum()
    if not total:
        return np.zeros(len(counts))
    falling = -np.sort(-counts)
    before = np.concatenate([[0], np.cumsum(falling)])
    return np.asarray(before[np.searchsorted(-falling, -counts, "left")] / total)
