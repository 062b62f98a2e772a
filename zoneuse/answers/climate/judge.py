"""What the climate answer finds, as data: drying, limits broken, no gradient, zones that do not serve."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...study import DERIVED, Declaration
from .. import reasons
from ..finding import FAIRLY_SURE, LOOKS_LIKE, TOO_EARLY, Finding, Number, numbers
from ..quantities_said import unit
from .drying import DRYING, RECHARGE, STEADY, Drying
from .limits import OutOfLimits
from .series import CHECK_GETS_OLD_DAYS

OUTSIDE, NO_GRADIENT, NOT_SERVING = "outside limits", "no gradient", "not serving"
VERDICTS = (STEADY, DRYING, RECHARGE, OUTSIDE, NO_GRADIENT, NOT_SERVING, TOO_EARLY)
_REASON = {"few": reasons.TOO_FEW_DAYS, "holds": reasons.NOT_FALLING, "unclear": reasons.SPREAD}


def meant_moist(declared: Declaration, zone: str) -> bool:
    """A retreat, or a zone that is said to serve humidity: its drying matters without a limit too."""
    return declared.zones[zone].role == "retreat" or "humidity" in declared.zones[zone].serves


def drying(
    declared: Declaration, one: Drying, held: Sequence[tuple[float, bool]], number: Mapping[str, Any]
) -> Finding | None:
    """What is found of one zone; None for one that neither has a limit nor is meant to stay moist.

    ``held``: how long earlier charges held, days, and whether they ended at the limit or at the next water.
    ``number``: the zone's row of the summary, for its coverage and the sensor's check.
    """
    zone = one.cycles.zone
    if one.limit is None and not meant_moist(declared, zone):
        return None
    days, low, high = one.days
    named = numbers(
        level=(one.level, "%"), lost_per_day=(one.per_day, "points a day"), days_left=(days, "days"),
        days_left_low=(low, "days"), days_left_high=(high, "days"), covered=(number["covered"], "share"),
    )  # fmt: skip
    if one.limit is not None:
        named["limit"] = Number(one.limit, "%")
    if number["check_age_days"] is not None:
        named["check_age"] = Number(number["check_age_days"], "days")
    facts = {"kind": "drying", "drying": one, "held": tuple(held), "quantity": one.cycles.quantity}
    if one.verdict == TOO_EARLY:
        reason = _REASON.get(one.reason, reasons.TOO_FEW_DAYS)
        return Finding((zone,), TOO_EARLY, "", reason, named, unit="day", facts=facts)
    checked = number["check_age_days"] is not None and number["check_age_days"] <= CHECK_GETS_OLD_DAYS
    sure = one.past >= 3 and one.limit is not None and checked and np.isfinite(high)
    return Finding(
        (zone,), one.verdict, FAIRLY_SURE if sure else LOOKS_LIKE, numbers=named, unit="day", facts=facts
    )


def outside(found: OutOfLimits) -> Finding:
    """A zone whose newest reading, or some of the last week, lies outside the keeper's limits."""
    own = unit(found.quantity)
    named = {"newest": Number(found.newest.value, own), "covered": Number(found.covered, "share")}
    for side, hours in found.hours.items():
        named |= numbers(**{f"{side}_h": (hours, "h"), f"{side}_total_h": (found.total_h[side], "h")})
    for side, bound in (("low", found.bounds.low), ("high", found.bounds.high)):
        if bound is not None:
            named[f"limit_{side}"] = Number(bound, own)
    return Finding(
        (found.zone,), OUTSIDE, numbers=named, unit="reading", facts={"kind": "outside", "found": found}
    )


def gradients(declared: Declaration, table: pd.DataFrame, level: Mapping[str, float]) -> list[Finding]:
    """What has no gradient, and where air is warmer rather than drier. ``level``: median humidity by enclosure."""
    found: list[Finding] = []
    for (enclosure, quantity), part in table.groupby(["enclosure", "quantity"], sort=False):
        if quantity in DERIVED:
            continue
        where = str(enclosure) if declared.several else ""
        flat = [slot for slot, rows in part.groupby("slot", sort=False) if not rows["measurable"].any()]
        everywhere = len(flat) == part["slot"].nunique()
        if flat:
            rows = part if everywhere else part[part["slot"].isin(flat)]
            facts = {
                "kind": "flat", "enclosure": where, "slots": () if everywhere else tuple(map(str, flat)),
                "humidity": level.get(str(enclosure), np.nan),
            }  # fmt: skip
            found.append(_no_gradient(rows, facts))
    return [*found, *_warmer_not_drier(table)]


def _no_gradient(part: pd.DataFrame, facts: dict[str, Any]) -> Finding:
    """The pair furthest apart, in units of what its sensors can tell."""
    row = part.iloc[int(np.argmax((part["difference"] / part["sensors_tell"]).to_numpy()))]
    own = unit(str(row["quantity"]))
    named = {name: Number(float(row[name]), own) for name in ("difference", "sensors_tell")}
    told = {**facts, "quantity": str(row["quantity"]), "zone": str(row["zone"]), "other": str(row["other"])}
    about = tuple(dict.fromkeys([*part["zone"], *part["other"]]))
    return Finding(
        about, NO_GRADIENT, numbers=named | numbers(hours=(row["hours"], "h")), unit="reading", facts=told
    )


def _warmer_not_drier(table: pd.DataFrame) -> Iterator[Finding]:
    """Zones whose humidity differs while their dew point does not: the same air, warmer. One finding a zone."""
    told: set[str] = set()
    table = table.sort_values("difference", ascending=False, kind="stable")
    keyed = {
        (r["slot"], r["quantity"], frozenset((r["zone"], r["other"]))): r for r in table.to_dict("records")
    }
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
        yield Finding(
            (warm["zone"], warm["other"]),
            NO_GRADIENT,
            numbers=numbers(
                drier=(moist["difference"], "points"), dew_point_apart=(dew["difference"], "°C"),
                sensors_tell=(dew["sensors_tell"], "°C"),
            ),
            unit="reading",
            facts={"kind": "warmer", "slot": str(slot)},
        )  # fmt: skip


def not_serving(table: pd.DataFrame) -> list[Finding]:
    """A zone that does not serve: in all that was measured where so, else in the last week only.

    A refuge of temperature counts as serving if it differs from the open in any slot.
    """
    found: list[Finding] = []
    for (zone, purpose), part in table.groupby(["zone", "serves"], sort=False):
        for over, rows in part.groupby("over", sort=False):
            bad = rows[~rows["serving"]]
            if not len(bad) or (purpose == "temperature" and len(bad) < len(rows)):
                continue
            worst = bad.iloc[int(np.argmin(bad["difference"].to_numpy()))]
            own = unit(str(worst["quantity"]))
            facts = {
                "kind": "serving", "purpose": str(purpose), "over": str(over), "quantity": str(worst["quantity"]),
                "slot": "" if len(bad) == len(rows) else str(worst["slot"]),
            }  # fmt: skip
            named = {name: Number(float(worst[name]), own) for name in ("difference", "sensors_tell")}
            found.append(Finding((str(zone),), NOT_SERVING, numbers=named, unit="reading", facts=facts))
            break
    return found
