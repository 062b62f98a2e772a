"""Which zone a point lies in: exact by the outlines, fast by a raster of what no edge comes near."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.path import Path as Polygon
from numpy.typing import NDArray

Numbers = NDArray[np.floating[Any]]
Zones = NDArray[np.int16]
NOWHERE = -1
_EDGE = -2
_CELLS = 512


def homography(seen: Sequence[Sequence[float]], are: Sequence[Sequence[float]]) -> Numbers:
    """The projective map (3 x 3) that takes four points of a picture to where they are.

    The direct linear transformation of four pairs (Hartley & Zisserman 2004, Multiple View Geometry, 4.1), its
    last entry 1.

    >>> homography([(0, 0), (2, 0), (2, 2), (0, 2)], [(0, 0), (1, 0), (1, 1), (0, 1)]).round(6) + 0.0
    array([[0.5, 0. , 0. ],
           [0. , 0.5, 0. ],
           [0. , 0. , 1. ]])
    """
    rows, right = [], []
    for (x, y), (u, v) in zip(seen, are, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    found = np.linalg.solve(np.asarray(rows, float), np.asarray(right, float))
    return np.append(found, 1.0).reshape(3, 3)


def mapped(matrix: Numbers, x: Numbers, y: Numbers) -> tuple[Numbers, Numbers]:
    """Points (n,) of the picture, where they are."""
    w = matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2]
    u = (matrix[0, 0] * x + matrix[0, 1] * y + matrix[0, 2]) / w
    return u, (matrix[1, 0] * x + matrix[1, 1] * y + matrix[1, 2]) / w


def edge_distance(outline: Numbers, x: Numbers, y: Numbers) -> Numbers:
    """Distance of points (n,) from the edges of a polygon (m x 2), in its units."""
    nearest = np.full(len(x), np.inf)
    for (ax, ay), (bx, by) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        dx, dy = bx - ax, by - ay
        along = np.clip(((x - ax) * dx + (y - ay) * dy) / max(dx * dx + dy * dy, 1e-300), 0.0, 1.0)
        np.minimum(nearest, (x - ax - along * dx) ** 2 + (y - ay - along * dy) ** 2, out=nearest)
    return np.asarray(np.sqrt(nearest))


def _area(outline: Numbers) -> float:
    x, y = outline.T
    return float(abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2)


class ZoneMap:
    """The outlines of some zones. Where two overlap the smaller one counts: a hide on the moss is the hide.

    A raster of 512 x 512 cells holds what every point of a cell lies in; points of cells that an edge crosses are
    held against the outlines themselves, so the raster changes nothing but the time.
    """

    def __init__(self, outlines: Sequence[Sequence[Sequence[float]]]) -> None:
        self.outlines = [np.asarray(one, float) for one in outlines]
        self.order = sorted(range(len(outlines)), key=lambda k: _area(self.outlines[k]))
        self._paths = [Polygon(np.vstack([one, one[:1]]), closed=True) for one in self.outlines]
        every = np.vstack(self.outlines)
        self._low = every.min(axis=0)
        span = every.max(axis=0) - self._low
        self._per = _CELLS / np.where(span > 0, span, 1.0)
        self._cells = self._raster()

    def _raster(self) -> Zones:
        middle = (np.arange(_CELLS) + 0.5) / _CELLS
        sides = 1 / self._per
        x, y = (a.ravel() for a in np.meshgrid(middle * _CELLS * sides[0], middle * _CELLS * sides[1]))
        cells = self._exact(x + self._low[0], y + self._low[1]).reshape(_CELLS, _CELLS)
        reach = float(np.hypot(*sides))  # more than from a cell's middle to its corner
        for outline in self.outlines:
            for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
                low = np.floor((np.minimum(a, b) - self._low) * self._per).astype(int) - 2
                high = np.ceil((np.maximum(a, b) - self._low) * self._per).astype(int) + 2
                low, high = np.clip(low, 0, _CELLS), np.clip(high, 0, _CELLS)
                inside = slice(low[1], high[1]), slice(low[0], high[0])
                gx, gy = np.meshgrid(
                    self._low[0] + (np.arange(low[0], high[0]) + 0.5) * sides[0],
                    self._low[1] + (np.arange(low[1], high[1]) + 0.5) * sides[1],
                )
                near = edge_distance(np.vstack([a, b]), gx.ravel(), gy.ravel()) <= reach
                cells[inside][near.reshape(gx.shape)] = _EDGE
        return cells

    def _exact(self, x: Numbers, y: Numbers) -> Zones:
        found = np.full(len(x), NOWHERE, np.int16)
        open_ones = np.arange(len(x))
        for k in self.order:
            inside = self._paths[k].contains_points(np.column_stack([x[open_ones], y[open_ones]]))
            found[open_ones[inside]] = k
            open_ones = open_ones[~inside]
        return found

    def zones(self, x: Numbers, y: Numbers) -> Zones:
        """For points (n,) the number of the outline each lies in, NOWHERE outside all of them."""
        cx, cy = (x - self._low[0]) * self._per[0], (y - self._low[1]) * self._per[1]
        # On the upper sides a point may still be on an outline.
        outside = ~((cx >= 0) & (cx <= _CELLS) & (cy >= 0) & (cy <= _CELLS))
        cx[outside], cy[outside] = 0, 0
        column, row = np.minimum(cx.astype(np.int32), _CELLS - 1), np.minimum(cy.astype(np.int32), _CELLS - 1)
        found: Zones = self._cells[row, column]
        found[outside] = NOWHERE
        unsure = np.flatnonzero(found == _EDGE)
        found[unsure] = self._exact(x[unsure], y[unsure])
        return found

    def beyond(self, held: int, raw: Zones, x: Numbers, y: Numbers) -> Numbers:
        """How far points (n,) that lie in ``raw`` are outside the zone ``held``, in units of outlines."""
        if held == NOWHERE:
            return np.full(len(x), np.inf)
        away = edge_distance(self.outlines[held], x, y)
        within = self._paths[held].contains_points(np.column_stack([x, y]))
        # Inside a smaller outline that lies on the held one: as deep as it is in there.
        for k in np.unique(raw[within & (raw >= 0)]):
            deep = within & (raw == k)
            away[deep] = edge_distance(self.outlines[int(k)], x[deep], y[deep])
        return away
