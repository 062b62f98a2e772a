"""What stands however often one asks: the level a verdict must pass at each number of units.

Whoever looks after every session gets many chances to be fooled. Holding each look to a stricter level, so
chosen that all looks together err seldom, spends the error over the study (Lan & DeMets 1983, Biometrika
70:659); between looks that share nearly all their data little is spent, so what counts is the logarithm of
the number of units (Siegmund 1985, Sequential Analysis, section 4.8).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats

# Units (sessions or days) and the level there; between them along the logarithm. Strict at first, where few units
# tell little; loosest where most studies end; then closing. Chosen by simulation (docs: however often one looks).
UNITS = (15, 30, 60, 100, 200)
LEVELS = (0.002, 0.004, 0.010, 0.010, 0.005)
# A two-sample comparison runs through far less of that logarithm, since the side before the change stands still:
# one level for all its looks, as a part of the single look's.
PART_OF_LEVEL = 0.2
# What one answer asks beside each other shares the level, most of it to what is asked most (house rule): of retreats,
# whether animals seek company, keep apart, keep to their own, and go where it is moist.
COMPANY_PART, APART_PART, KEEPING_PART, DRY_PART = 0.35, 0.10, 0.35, 0.20


def level_any_time(units: ArrayLike) -> Floats:
    """The level at which a verdict on so many units must stand to be safe from looking often.

    Held from the 15th unit to the 200th: below, the level of the 15th; above, that of the 200th shrinking
    with 1/units.

    >>> level_any_time([15, 60, 200, 400])
    array([0.002 , 0.01  , 0.005 , 0.0025])
    """
    n = np.asarray(units, np.float64)
    inside = np.interp(np.log(np.maximum(n, 1.0)), np.log(UNITS), LEVELS)
    return np.asarray(inside * np.minimum(UNITS[-1] / np.maximum(n, 1.0), 1.0), np.float64)
