"""Whether a standard method and the answer say the same, and if not, what sets them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...stats.second_opinion import HAC, Opinion

# Below so many clusters or units the theory of clustered and HAC errors does not hold: limits come out too narrow
# (Cameron, Gelbach & Miller 2008, Rev. Econ. Stat. 90:414, simulate 5 to 30).
CLUSTERS_ENOUGH = 40
NO_LIMITS, WEIGHED, FEW_CLUSTERS, NARROWER, WIDER, OTHERWISE = (
    "no_limits",
    "weighed",
    "few_clusters",
    "narrower",
    "wider",
    "otherwise",
)


@dataclass(frozen=True, slots=True)
class Ours:
    """What the answer says: estimate and 95 % limits, and where nothing would be going on (None: nowhere).

    ``unit`` is share, points, lead, 1/h, 1/h more or the quantity, ``each`` what the method takes as independent.
    """

    about: Sequence[str]
    estimate: float
    low: float
    high: float
    none_at: float | None
    unit: str = ""
    each: str = "unit"


def side(low: float, high: float, none_at: float) -> int:
    """1 above, -1 below, 0 not told: on which side of nothing limits lie.

    >>> side(0.2, 0.3, 0.1), side(0.2, 0.3, 0.25)
    (1, 0)
    """
    return int(low > none_at) - int(high < none_at)


def compare(ours: Ours, other: Opinion, evened: Opinion | None = None) -> tuple[bool, str]:
    """Whether both say the same; else why they may differ, the likeliest first.

    ``evened`` is what the method says where it weighs as the answer does: where that agrees, the weights are why.
    """
    if np.isnan(other.low):
        return ours.none_at is None or side(ours.low, ours.high, ours.none_at) == 0, NO_LIMITS
    if _same(ours, other):
        return True, ""
    if evened is not None and _same(ours, evened):
        return False, WEIGHED
    wide, theirs = ours.high - ours.low, other.high - other.low
    if ours.none_at is None or np.isnan(wide):
        return False, OTHERWISE
    if theirs < wide and other.clusters < CLUSTERS_ENOUGH:
        return False, FEW_CLUSTERS
    if theirs < wide:
        return False, NARROWER
    return False, WIDER if theirs > wide and other.method == HAC else OTHERWISE


def _same(ours: Ours, other: Opinion) -> bool:
    """Whether both lie on one side of nothing; where there is no nothing, whether each limit holds the other's
    estimate."""
    if ours.none_at is not None and not np.isnan(ours.low):
        return side(ours.low, ours.high, ours.none_at) == side(other.low, other.high, ours.none_at)
    inside = other.low <= ours.estimate <= other.high
    return bool(inside or ours.low <= other.estimate <= ours.high)
