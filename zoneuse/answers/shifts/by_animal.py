"""A change of a place taken apart by animal: whether all of them moved, or one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...tables import Adjustment
from ..watched import one_of
from .phases import Sides


def by_animal(change: Adjustment, found: Sides, places: Sequence[str]) -> list[dict[str, Any]]:
    """Each animal's mean share of each place over its own units, before and after."""
    if not len(found.late):
        return []
    told = []
    for animal, rows in found.rows[found.rows["place"].notna()].groupby("animal", sort=True):
        units = found.unit[rows.index]
        total = pd.Series(rows["weight"].to_numpy(float)).groupby(units).sum()
        late = found.late[total.index.to_numpy()]
        if not late.any() or late.all():
            continue
        spent = (
            pd.Series(rows["weight"].to_numpy(float))
            .groupby([units, rows["place"].to_numpy()])
            .sum()
            .unstack()
        )
        for place in places:
            share = (spent[place].fillna(0.0) / total).to_numpy() if place in spent else np.zeros(len(total))
            before, after = float(share[~late].mean()), float(share[late].mean())
            told.append(
                {"adjustment": change.id, "zone": place, "animal": animal, "before": before, "after": after,
                 "change": after - before, "units_before": int((~late).sum()), "units_after": int(late.sum())}
            )  # fmt: skip
    return told


def one_of_several(rows: Sequence[dict[str, Any]], place: str) -> tuple[str, int] | None:
    """The one animal whose own change makes up the whole of a place's, and how many there are; else None."""
    return one_of({str(r["animal"]): float(r["change"]) for r in rows if r["zone"] == place})
