"""Which rows of a table lie in a phase that study.toml names."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..study import Phase


def in_phase(phase: Phase, rows: pd.DataFrame) -> NDArray[np.bool_]:
    """(rows,) whether each row of ``moments`` or ``records`` lies in one of the phase's stretches."""
    inside = np.zeros(len(rows), bool)
    who = rows["animal"].fillna(rows["group"])
    for one in phase.spans:
        here = np.ones(len(rows), bool)
        if one.span.start is not None:
            here &= (rows["at"] >= pd.Timestamp(one.span.start)).to_numpy()
        if one.span.until is not None:
            here &= (rows["at"] < pd.Timestamp(one.span.until)).to_numpy()
        if one.enclosure:
            here &= (rows["enclosure"] == one.enclosure).fillna(False).to_numpy(bool)
        if one.animal:
            here &= (who == one.animal).fillna(False).to_numpy(bool)
        inside |= here
    return inside
