"""Whether a standard method and the answer say the same, and if not, what sets them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...stats.second_opinion import HAC, Opinion

# Below so many clusters or units the theory of clustered and HAC errors does not hold: limits come out too narrow
# (Cameron, Gelbach & Miller 2008, Rev. Econ. Stat. 90:414, simulate 5 to 30).
CLUSTERS_ENOUGH = 40
NO_LIMITS, FEW_CLUSTERS, NARROWER, WIDER, OTHERWISE = (
    "no_limits",
    "few_clusters",
    "narrower",
    "wider",
    "otherwise",
)


@dataclass(frozen=True, slots=True)
class Ours:
    """What the answer says: estimate and 95 % limits, and where nothing would be going on (None: nowhere)."""

    about: Sequence[str]
    estimate: float
    low: float
    high: float
    none_at: float | None
    unit: str = ""


def side(low: float, high: float, none_at: float) -> int:
    """1 above, -1 below, 0 not told: on which side of nothing limits lie.

    >>> side(0.2, 0.3, 0.1), side(0.2, 0.3, 0.25)
    (1, 0)
    """
    return int(low > none_at) - int(high < none_at)


def compare(ours: Ours, other: Opinion) -> tuple[bool, str]:
    """Whether both say the same; else why they may differ, the likeliest first."""
    if np.isnan(other.low):
        return ours.none_at is None or side(ours.low, ours.high, ours.none_at) == 0, NO_LIMITS
    if ours.none_at is not None and not np.isnan(ours.low):
        same = side(ours.low, ours.high, ours.none_at) == side(other.low, other.high, ours.none_at)
    else:
        same = other.low <= ours.estimate <= other.high
    if same:
        return True, ""
    if ours.none_at is None:
        return False, OTHERWISE
    wide, theirs = ours.high - ours.low, other.high - other.low
    if theirs < wide and other.clusters < CLUSTERS_ENOUGH:
        return False, FEW_CLUSTERS
    if theirs < wide:
        return False, NARROWER
    return False, WIDER if theirs > wide and other.method == HAC else OTHERWISE
