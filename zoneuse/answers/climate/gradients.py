"""Do the zones differ, in what, when: differences at the same moments against what the sensors can tell."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...study.clock import ANY_TIME, SLOTS
from ...study.model import Declaration
from ...tables.conditions import DERIVED
from ..finding import Finding
from ..quantities_said import label, said
from .series import Climate
from .summary import quantities_of, told_within

LEAST_HOURS = 12.0
NO_GRADIENT = "no gradient"
COLUMNS = [
    "enclosure", "slot", "quantity", "zone", "other", "difference", "difference_p05", "difference_p95",
    "sensors_tell", "measurable", "hours",
]  # fmt: skip
_WHEN = {"dawn": "around lights-on", "day": "by day", "dusk": "around lights-off", "night": "at night"}


def gradients(declared: Declaration, climate: Climate, keep: NDArray[np.bool_]) -> pd.DataFrame:
    """Every two zones of an enclosure, by slot: the median of zone - other at the same moments, always positive.

    ``sensors_tell``: the accuracies of both in quadrature; below it nothing is ``measurable``.
    """
    rows: list[dict[str, Any]] = []
    for enclosure in declared.enclosures:
        zones = [z for z in climate.zones if declared.zones[z].enclosure == enclosure]
        slots = climate.slots[enclosure]
        for quantity in quantities_of(climate):
            there = [z for z in zones if climate.has(z, quantity)]
            for one, other in combinations(there, 2):
                apart = np.where(keep, climate.of(one, quantity) - climate.of(other, quantity), np.nan)
                tell = _tell(declared, climate, one, other, quantity)
                rows += _by_slot(climate, slots, apart, (enclosure, quantity, one, other), tell)
    return pd.DataFrame(rows, columns=COLUMNS)


def _tell(declared: Declaration, climate: Climate, one: str, other: str, quantity: str) -> float:
    first, second = (told_within(declared, climate, z, quantity)[0] for z in (one, other))
    return float(np.hypot(first, second))


def _by_slot(
    climate: Climate, slots: NDArray[np.str_], apart: NDArray[np.float64], key: tuple[str, str, str, str],
    tell: float,
) -> list[dict[str, Any]]:  # fmt: skip
    enclosure, quantity, one, other = key
    rows = []
    for slot in (*SLOTS, ANY_TIME):
        here = apart[slots == slot]
        here = here[~np.isnan(here)]
        hours = len(here) * climate.step_ms / 3_600_000
        if hours < LEAST_HOURS:
            continue
        low, middle, high = (float(v) for v in np.percentile(here, [5, 50, 95]))
        names, limits = ((one, other), (low, high)) if middle >= 0 else ((other, one), (-high, -low))
        rows.append(
            {
                "enclosure": enclosure, "slot": slot, "quantity": quantity, "zone": names[0], "other": names[1],
                "difference": abs(middle), "difference_p05": limits[0], "difference_p95": limits[1],
                "sensors_tell": tell, "measurable": abs(middle) > tell, "hours": hours,
            }
        )  # fmt: skip
    return rows


def gradient_findings(
    declared: Declaration, table: pd.DataFrame, labels: Mapping[str, str], level: Mapping[str, float]
) -> list[Finding]:
    """What has no gradient, and where air is warmer rather than drier. ``level``: median humidity by enclosure."""
    found: list[Finding] = []
    for (enclosure, quantity), part in table.groupby(["enclosure", "quantity"], sort=False):
        if quantity in DERIVED:
            continue
        where = f"{enclosure}: " if declared.several else ""
        flat = [slot for slot, rows in part.groupby("slot", sort=False) if not rows["measurable"].any()]
        if len(flat) == part["slot"].nunique():
            found.append(_flat(declared, part, where, labels, level.get(str(enclosure), np.nan)))
        elif flat:
            found.append(_flat_at(declared, part[part["slot"].isin(flat)], flat, where, labels))
    found += _warmer_not_drier(declared, table, labels)
    return found


def _widest(part: pd.DataFrame) -> dict[str, Any]:
    """The pair furthest apart, in units of what its sensors can tell."""
    row = part.iloc[int(np.argmax((part["difference"] / part["sensors_tell"]).to_numpy()))]
    return {str(name): value for name, value in row.items()}


def _zones_in(part: pd.DataFrame) -> tuple[str, ...]:
    return tuple(dict.fromkeys([*part["zone"], *part["other"]]))


def _flat(
    declared: Declaration, part: pd.DataFrame, where: str, labels: Mapping[str, str], level: float
) -> Finding:
    row = _widest(part)
    numbers = _apart(declared, row, labels)
    if row["quantity"] == "humidity_pct":
        kind = "One wet box" if level >= 80 else "As to humidity this is one box"
        says = f"{where}{kind}: {numbers}: no gradient measurable. So no humidity preference can be learned here."
    else:
        says = (
            f"{where}{label(row['quantity']).capitalize()}: {numbers}: no gradient measurable. "
            f"So no preference for {label(row['quantity'])} can be learned here."
        )
    return Finding(_zones_in(part), NO_GRADIENT, "", says=says)


def _flat_at(
    declared: Declaration, part: pd.DataFrame, slots: list[Any], where: str, labels: Mapping[str, str]
) -> Finding:
    when = " and ".join(_WHEN.get(s, s) for s in slots)
    numbers = _apart(declared, _widest(part), labels)
    says = f"{where}{label(str(part['quantity'].iloc[0])).capitalize()} {when}: {numbers}: no gradient measurable then."
    return Finding(_zones_in(part), NO_GRADIENT, "", says=says)


def _apart(declared: Declaration, row: Mapping[str, Any], labels: Mapping[str, str]) -> str:
    apart = said(row["quantity"], row["difference"], declared.fahrenheit, difference=True)
    tell = said(row["quantity"], row["sensors_tell"], declared.fahrenheit, difference=True)
    return f"{labels[row['zone']]} and {labels[row['other']]} differ by {apart}, two such sensors agree to {tell}"


def _warmer_not_drier(declared: Declaration, table: pd.DataFrame, labels: Mapping[str, str]) -> list[Finding]:
    """Zones whose humidity differs while their dew point does not: the same air, warmer. One sentence a zone."""
    found: list[Finding] = []
    told: set[str] = set()
    table = table.sort_values("difference", ascending=False, kind="stable")
    keyed = {
        (r["slot"], r["quantity"], frozenset((r["zone"], r["other"]))): r
        for r in table.to_dict("records")
    }  # fmt: skip
    for (slot, quantity, pair), moist in keyed.items():
        warm = keyed.get((slot, "temperature_c", pair))
        dew = keyed.get((slot, "dew_point_c", pair))
        if quantity != "humidity_pct" or warm is None or dew is None or warm["zone"] in told:
            continue
        if not (moist["measurable"] and warm["measurable"]) or dew["measurable"]:
            continue
        if warm["zone"] != moist["other"]:
            continue
        told.add(warm["zone"])
        drier, by = labels[warm["zone"]], said("humidity_pct", moist["difference"], difference=True)
        dew_apart = said("dew_point_c", dew["difference"], declared.fahrenheit, difference=True)
        dew_tell = said("dew_point_c", dew["sensors_tell"], declared.fahrenheit, difference=True)
        when = f"{_WHEN[slot]} " if slot in _WHEN else ""
        says = (
            f"{drier} reads {by} less humid than {labels[warm['other']]} {when}but the dew point is equal "
            f"({dew_apart} apart, the sensors agree to {dew_tell}): it is warmer, not drier."
        )
        found.append(Finding((warm["zone"], warm["other"]), NO_GRADIENT, "", says=says))
    return found


def widest_said(declared: Declaration, table: pd.DataFrame, labels: Mapping[str, str]) -> str:
    """The widest measurable differences in temperature and humidity, in one line."""
    parts = []
    for quantity in ("temperature_c", "humidity_pct"):
        rows = table[(table["quantity"] == quantity) & table["measurable"]]
        if not len(rows):
            continue
        row = rows.iloc[int(np.argmax(rows["difference"].to_numpy()))]
        apart = said(quantity, float(row["difference"]), declared.fahrenheit, difference=True)
        when = _WHEN.get(str(row["slot"]), "")
        more = "warmer" if quantity == "temperature_c" else "more humid"
        parts.append(f"{labels[row['zone']]} is {apart} {more} than {labels[row['other']]} {when}".rstrip())
    return f"Widest gradients: {'; '.join(parts)}." if parts else ""
