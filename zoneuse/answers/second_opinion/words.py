"""What a second opinion says, in a sentence for each row and one for the answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ...stats.second_opinion import Opinion
from ..phrases import counted, listed
from ..showing.said import points, signed
from .judge import CLUSTERS_ENOUGH, Ours

# More of them stand in JSON only.
_TOLD = 4
_WHY = {
    "no_limits": "it has no limits where everything or nothing was seen there",
    "few_clusters": f"it needs some {CLUSTERS_ENOUGH} clusters or units and has fewer here, so its limits come out too "
    "narrow; it also looks at each row alone",
    "narrower": "it takes each unit as independent of the next, while the answer's limits allow for animals that stay "
    "or sit together",
    "wider": "its limits allow for neighbours in time that repeat each other, of which the answer finds no sign",
    "otherwise": "it weighs moments where the answer weighs units alike",
}


def row_said(ours: Ours, other: Opinion, agrees: bool, why: str, names: Mapping[str, str]) -> str:
    """``Moss end: 35 % (26 to 45) by cluster-robust binomial over 35 clusters; agrees.``"""
    about = ", ".join(names.get(a, a) for a in ours.about)
    told = f"{about}: {_number(other.estimate, ours.unit)}"
    if not np.isnan(other.low):
        told += f" ({_number(other.low, ours.unit, False)} to {_number(other.high, ours.unit, False)})"
    told += f" by {other.method} over {counted(other.clusters, 'cluster')}"
    return f"{told}; agrees." if agrees else f"{told}; differs: {_WHY[why]}."


def _number(value: float, unit: str, with_unit: bool = True) -> str:
    if unit in ("share", "points"):
        return points(value) if unit == "points" else f"{100 * value:.0f}" + (" %" if with_unit else "")
    return signed(value, ".2f") + (f" {unit}" if with_unit else "")


def whole_said(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """The opinion as a whole, and each row that differs."""
    if not rows:
        return ["Second opinion: nothing here can be held against a standard method."]
    methods = listed(sorted({str(r["method"]) for r in rows}))
    differing = [r for r in rows if not r["agrees"]]
    more = f" The first {_TOLD} of {len(differing)} that differ:" if len(differing) > _TOLD else ""
    return [
        f"Second opinion ({methods}): agrees on {len(rows) - len(differing)} of {len(rows)}.{more}",
        *(f"Second opinion: {r['says']}" for r in differing[:_TOLD]),
    ]
