"""One comparison to be made: two sides, what it is about, and what bears on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...finding import Caution, Confounder


@dataclass(frozen=True, slots=True)
class TwoSides:
    """Moments of two sides (``late`` marks the second), what they are about, and what bears on it.

    ``homes``: pairs of enclosures, where animals moved from one to the other; ``enclosure`` in ``rows`` then names
    the move, whose animals are held against themselves. ``controls``: who was left alone meanwhile.
    """

    rows: pd.DataFrame
    late: NDArray[np.bool_]
    names: tuple[str, str]
    labels: tuple[str, str]
    about: tuple[str, ...] = ()
    adjustment: str | None = None
    expected: Mapping[tuple[str, str], str] = field(default_factory=dict)
    others: tuple[Confounder, ...] = ()
    dated: bool = False
    homes: tuple[tuple[str, str], ...] = ()
    controls: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
