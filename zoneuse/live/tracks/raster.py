"""Where tracks were, as counts over the cells of a sketch."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .outlines import Numbers


def density(x: Numbers, y: Numbers, size: tuple[float, float], shape: tuple[int, int]) -> NDArray[np.int64]:
    """Counts of points (n,) over the rows and columns of a raster from (0, 0) to ``size``; none of those outside.

    >>> density(np.array([1.0, 9.0, 9.5]), np.array([1.0, 1.0, 99.0]), (10.0, 10.0), (1, 2))
    array([[1, 1]])
    """
    there = np.isfinite(x) & np.isfinite(y)
    found, _, _ = np.histogram2d(y[there], x[there], bins=shape, range=((0, size[1]), (0, size[0])))
    return found.astype(np.int64)
