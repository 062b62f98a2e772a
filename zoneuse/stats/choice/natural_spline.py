"""The natural cubic spline through values at knots, as a basis of one curve a knot."""

from __future__ import annotations

import numpy as np

from ..arrays import Floats


def natural_spline(x: Floats, knots: Floats) -> Floats:
    """Rows x knots: at each ``x`` the curves that are 1 at one knot and 0 at the others, straight at both ends.

    ``knots`` ascend, three or more; ``x`` lies between the first and the last. The second derivatives at the knots
    follow from the values there (Wood 2006, Generalized Additive Models, 4.1.2).
    """
    apart = np.diff(knots)
    inner = knots.size - 2
    at = np.arange(inner)
    steps = np.zeros((inner, knots.size))
    steps[at, at], steps[at, at + 2] = 1 / apart[:-1], 1 / apart[1:]
    steps[at, at + 1] = -steps[at, at] - steps[at, at + 2]
    joined = (
        np.diag((apart[:-1] + apart[1:]) / 3) + np.diag(apart[1:-1] / 6, 1) + np.diag(apart[1:-1] / 6, -1)
    )
    bends = np.zeros((knots.size, knots.size))
    bends[1:-1] = np.linalg.solve(joined, steps)
    before = np.clip(np.searchsorted(knots, x) - 1, 0, knots.size - 2)
    width, left, right = apart[before], x - knots[before], knots[before + 1] - x
    values = np.eye(knots.size)
    return np.asarray(
        (right / width)[:, None] * values[before]
        + (left / width)[:, None] * values[before + 1]
        + (right**3 / (6 * width) - width * right / 6)[:, None] * bends[before]
        + (left**3 / (6 * width) - width * left / 6)[:, None] * bends[before + 1],
        np.float64,
    )
