"""What a second opinion says, in a sentence for each row and one for the answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ...stats.second_opinion import Opinion
from ..phrases import counted, listed
from ..quantities_said import said, span_of
from ..showing.said import in_points, points, signed
from .judge import CLUSTERS_ENOUGH, Ours

# More of them stand in JSON only.
_TOLD = 4


def row_said(
    ours: Ours, other: Opinion, agrees: bool, why: str, names: Mapping[str, str], *, fahrenheit: bool = False
) -> str:
    """``Moss end: 35 % (26 to 45) by cluster-robust binomial over 35 days; agrees.``"""
    about = ", ".join(names.get(a, a) for a in ours.about)
    told = _with_limits(ours.unit, (other.estimate, other.low, other.high), fahrenheit)
    told = f"{about}: {told} by {other.method} over {counted(other.clusters, ours.each)}"
    if agrees:
        return f"{told}; agrees."
    here = _with_limits(ours.unit, (ours.estimate, ours.low, ours.high), fahrenheit)
    return f"{told}, here {here}; differs: {_why(why, ours.each)}."


def _why(why: str, each: str) -> str:
    return {
        "no_limits": "it has no limits where everything or nothing was seen there",
        "weighed": "it lets "
        + (f"every session of an {each}" if each == "animal" else "every moment")
        + " weigh alike, however unevenly they fall; weighed as they are here, it agrees",
        "few_clusters": f"it needs some {CLUSTERS_ENOUGH} {each}s and has fewer here, so its limits come out too "
        "narrow; it also looks at each row alone",
        "narrower": f"it takes each {each} as independent of the next, while the limits here allow for animals that "
        "stay or sit together, and for all rows at once",
        "wider": "its limits allow for neighbours in time that repeat each other, of which there is no sign here",
        "otherwise": "for no single reason that could be found; both stand in --json",
    }[why]


def _with_limits(unit: str, three: tuple[float, float, float], fahrenheit: bool) -> str:
    """``35 % (26 to 45)``, ``+8 points (−6 to +21)``, ``0.4 °C (0.1 to 0.7 °C)``."""
    middle, low, high = three
    if unit == "share":
        # A linear method's limits of a share may lie below nothing.
        at, least, most = (f"{100 * v:.0f}".replace("-", "−") for v in three)
        told, ends = f"{at} %", f"{least} to {most}"
    elif unit in ("points", "lead"):
        told = in_points(middle)
        ends = "" if np.isnan(low) else f"{points(low)} to {points(high)}"
        told = told if unit == "points" else f"{told} ahead of the next"
    elif unit.startswith("1/h"):
        at, least, most = (f"{v:.2g}" if unit == "1/h" else signed(v, ".2g") for v in three)
        told, ends = f"{at} an hour", f"{least} to {most}"
    else:
        told = said(unit, middle, fahrenheit, True)
        ends = span_of(unit, low, high, fahrenheit, True)
    return told if np.isnan(low) else f"{told} ({ends})"


def whole_said(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """The opinion as a whole, and each row that differs."""
    if not rows:
        return ["Second opinion: nothing here can be compared with a standard method."]
    methods = listed(sorted({str(r["method"]) for r in rows}))
    differing = [r for r in rows if not r["agrees"]]
    more = f" The first {_TOLD} of {len(differing)} that differ:" if len(differing) > _TOLD else ""
    return [
        f"Second opinion ({methods}): agrees on {len(rows) - len(differing)} of {len(rows)}.{more}",
        *(f"Second opinion: {r['says']}" for r in differing[:_TOLD]),
    ]
