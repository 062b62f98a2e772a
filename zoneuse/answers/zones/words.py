"""What the zones answer says: a sentence for each place, the headline, and the cautions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from ...stats.intervals.zone_use import ZoneUse
from ...stats.intervals.zone_verdict import AVOIDED, FAVOURED, IN_PROPORTION, TOO_EARLY
from ...study.model import Declaration
from ..effort import Effort
from ..finding import Caution, Finding, standing
from ..phrases import counted, speaks_for

MEASURE_SAID = {
    "floor_cm2": "floor area",
    "surface_cm2": "surface, walls and tops included",
    "volume_l": "volume",
    "places": "the number of places",
}


def finding(row: dict[str, Any], did: Effort, use: ZoneUse | None, labels: Mapping[str, str]) -> Finding:
    name, zone, verdict = labels[row["zone"]], row["zone"], row["verdict"]
    used, offered = f"{100 * row['used']:.0f} %", f"{100 * row['available']:.0f} %"
    evidence = f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}"
    numbers = (
        f"{used} of the time against {offered} offered, {row['ratio']:.2f} times its share "
        f"({row['ratio_low']:.2f} to {row['ratio_high']:.2f}; {evidence})"
    )
    grade = standing(did.sessions, did.days)
    if row["available"] >= 1:
        return Finding((zone,), TOO_EARLY, "", says=f"{name} is all there is, so there is nothing to choose.")
    if not grade:
        says = f"{name}: used in {row['sessions']} of {evidence}. At least 5 sessions on 3 days are needed to say more."
        return Finding((zone,), TOO_EARLY, "", says=says)
    said = {
        AVOIDED: f"{name} is used less than its share: {numbers}.",
        FAVOURED: f"{name} is used more than its share: {numbers}.",
        IN_PROPORTION: f"{name} is used in proportion to its share: {numbers}.{_even(use, row)}",
    }
    if verdict in said:
        return Finding((zone,), verdict, grade, says=said[verdict])
    return Finding((zone,), TOO_EARLY, "", says=f"{name}: {numbers}. {_held_back(row, use)}")


def _even(use: ZoneUse | None, row: dict[str, Any]) -> str:
    """What "in proportion" rests on: the zone's own 90 % interval, not the wider one of all zones at once."""
    if use is None:
        return ""
    low, high = row["even_low"], row["even_high"]
    return f" By itself (90 %) it lies between {low:.2f} and {high:.2f}, within 0.67 to 1.5."


def _held_back(row: dict[str, Any], use: ZoneUse | None) -> str:
    """Why a zone has no verdict yet."""
    if row["reason"] == "unseen":
        return (
            "The moments in which nobody was found decide it: counted elsewhere or there, it lies between "
            f"{100 * row['unseen_low']:.0f} and {100 * row['unseen_high']:.0f} %."
        )
    if row["reason"] == "few_moves" and use is not None:
        return f"Too early: only {counted(use.moves or 0, 'move')} between zones were seen."
    return f"More or less than its share: cannot be told yet.{_settles(row, use)}"


def _settles(row: dict[str, Any], use: ZoneUse | None) -> str:
    """What would settle it: the number of further units that probably would, and the chance."""
    if use is None or row.get("chance") is None:
        return ""
    unit = "session" if row["unit"] == "session" else "day"
    if row.get("more") is None:
        return f" Even {row['most']} more {unit}s would settle it with a chance of only {100 * row['chance']:.0f} %."
    return f" {counted(int(row['more']), f'more {unit}')} would settle it with a chance of {100 * row['chance']:.0f} %."


def headline(did: Effort, use: ZoneUse | None) -> str:
    unseen = f", {did.unseen:,} not found" if did.unseen else ""
    missed = f", {did.missed:,} missed" if did.missed else ""
    moves = f", {use.moves:,} moves between zones" if use is not None and use.moves is not None else ""
    return (
        f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {did.moments:,} moments seen"
        f"{unseen}{missed}{moves}. Each {did.cluster} counts once."
    )


def cautions(
    declared: Declaration, rows: pd.DataFrame, did: Effort, availability: str
) -> tuple[Caution, ...]:
    measure = "every zone alike" if availability == "equal" else MEASURE_SAID[declared.measured_in]
    cautions = [Caution("availability", f"What is offered is measured by {measure}.")]
    if did.cluster == "moment":
        cautions.append(
            Caution(
                "moments-as-units",
                "Every record is taken as independent here, as the published method does. Animals stay put, so these "
                "intervals are too short: leave --cluster moment out to count sessions.",
            )
        )
    if did.guesses:
        cautions.append(Caution("guesses", f"{counted(did.guesses, 'record')} are guesses and are counted."))
    slots = rows.groupby("slot")["session"].nunique()
    if len(slots) > 1:
        told = ", ".join(f"{slot} {number}" for slot, number in slots.items())
        cautions.append(Caution("slots", f"Times of day are mixed (sessions by slot: {told}); see --slot."))
    cautions.append(Caution("speaks-for", speaks_for(declared, rows)))
    return tuple(cautions)
