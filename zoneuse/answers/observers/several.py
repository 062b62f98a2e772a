"""Three or more observers on the same moments: which of their records are of one moment, and how well all agree."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ...stats.agreement import agreement_of_several
from ...study import Declaration
from ...tables import places_of
from .matched import NOT_FOUND, Matched


def several(declared: Declaration, matched: Sequence[Matched]) -> list[dict[str, Any]]:
    """Three or more observers on the same moments: Krippendorff's alpha, with gaps where one recorded nothing."""
    pairs = [m for m in matched if not m.again and len(m.rows)]
    names = sorted({name for m in pairs for name in m.observers})
    if len(names) < 3:
        return []
    units, sessions = _units(pairs, names)
    zones = [*places_of(declared), NOT_FOUND]
    lasting = [b.id for b in declared.behaviours.values() if b.lasts]
    told = []
    for what, kinds in (("zone", zones), ("behaviour", lasting)):
        number = {kind: k for k, kind in enumerate(kinds)}
        codes = np.array([[number.get(unit[what].get(n), -1) for unit in units] for n in names], np.int64)
        found = agreement_of_several(codes, np.array(sessions))
        if found.n:
            told.append(
                {"observers": " + ".join(names), "what": what, "moments": found.n, "agreement": found.agreement,
                 "alpha": found.alpha, "alpha_low": found.alpha_low, "alpha_high": found.alpha_high,
                 "kappa": found.kappa, "ac1": found.ac1}
            )  # fmt: skip
    return told


def _units(pairs: Sequence[Matched], names: list[str]) -> tuple[list[dict[str, Any]], list[str]]:
    """Records that meet, directly or through a third observer's, are one moment; an observer counts once in it."""
    parent: dict[int, int] = {}
    said: dict[int, tuple[str, Any, Any]] = {}
    where: dict[int, str] = {}

    def root(k: int) -> int:
        while parent.setdefault(k, k) != k:
            k = parent[k]
        return k

    for m in pairs:
        names_of = ("i", "j", "together", "zone", "behaviour", "zone_other", "behaviour_other")
        for i, j, together, *told in zip(*(m.rows[name].tolist() for name in names_of), strict=True):
            said[i] = m.observers[0], told[0], told[1]
            said[j] = m.observers[1], told[2], told[3]
            for k in (i, j):
                where[k] = min(where.get(k, together), together)
            parent[root(j)] = root(i)
    units: dict[int, dict[str, Any]] = {}
    sessions: dict[int, str] = {}
    for k in sorted(said):
        unit = units.setdefault(root(k), {"zone": {}, "behaviour": {}})
        name, zone, behaviour = said[k]
        unit["zone"].setdefault(name, zone)
        unit["behaviour"].setdefault(name, behaviour)
        sessions[root(k)] = min(sessions.get(root(k), where[k]), where[k])
    return list(units.values()), [sessions[k] for k in units]
