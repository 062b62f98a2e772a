"""Where tracks were, as counts over the cells of an enclosure seen from above, and the zone in each cell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...study import Declaration, outlines_of
from .outlines import NOWHERE, Numbers, ZoneMap

_CELLS = 24


@dataclass(frozen=True, slots=True)
class TrackPlan:
    """A camera's enclosure in cells, ``shape`` (rows, columns), from corner ``low`` to ``high`` in the outlines' units.

    ``zones`` holds for each cell, row by row from the top, the id of the zone its middle lies in; "" outside of all.
    """

    low: tuple[float, float]
    high: tuple[float, float]
    shape: tuple[int, int]
    zones: tuple[tuple[str, ...], ...]


def plan_of(declared: Declaration, camera: str, at: datetime) -> TrackPlan | None:
    """A camera's enclosure by its size, else by its outlines, as they were at a time; None without outlines."""
    held = [(zone, one.points) for zone, one in outlines_of(declared, camera) if one.span.holds(at)]
    if not held:
        return None
    known = declared.cameras.get(camera)
    if known is not None and known.size is not None:
        low, high = (0.0, 0.0), known.size
    else:
        every = np.asarray([point for _, points in held for point in points])
        low, high = ((float(p[0]), float(p[1])) for p in (every.min(axis=0), every.max(axis=0)))
    wide, deep = high[0] - low[0], high[1] - low[1]
    per = _CELLS / max(wide, deep)
    rows, columns = max(1, round(deep * per)), max(1, round(wide * per))
    x, y = np.meshgrid(
        low[0] + (np.arange(columns) + 0.5) * wide / columns, low[1] + (np.arange(rows) + 0.5) * deep / rows
    )
    found = ZoneMap([points for _, points in held]).zones(x.ravel(), y.ravel()).reshape(rows, columns)
    names = [zone for zone, _ in held]
    zones = tuple(tuple("" if k == NOWHERE else names[k] for k in row) for row in found.tolist())
    return TrackPlan(low, high, (rows, columns), zones)


def density(x: Numbers, y: Numbers, plan: TrackPlan) -> NDArray[np.int64]:
    """Counts of points (n,) in each cell of a plan; none of those outside, or without a position.

    >>> density(np.array([1.0, 9.0, 9.5]), np.array([1.0, 1.0, 99.0]), TrackPlan((0, 0), (10, 10), (1, 2), (("", ""),)))
    array([[1, 1]])
    """
    there = np.isfinite(x) & np.isfinite(y)
    span: Any = ((plan.low[1], plan.high[1]), (plan.low[0], plan.high[0]))
    found, _, _ = np.histogram2d(y[there], x[there], bins=plan.shape, range=span)
    return found.astype(np.int64)
