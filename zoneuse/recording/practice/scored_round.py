"""How a practice round went: who was where, and who was recorded where."""

from __future__ import annotations

from ...study import visible
from ..modes.retreats.rounds import Rounding
from ..words import behaviour_label, zone_label
from .script import Practice


def scored_round(mode: Rounding, practice: Practice) -> list[str]:
    """The lines a person reads at the end of a practice round."""
    found, plan = mode.found, mode.sheet.plan
    declared, script = plan.declared, practice.script
    looked = [zone.id for zone in plan.retreats if found.looked_into(zone.id)]
    lines = [f"{len(looked)} of {len(plan.retreats)} retreats looked into."]
    right, wrong, missed, elsewhere = [], [], [], []
    for who in plan.who:
        true, line = script.at(who.id, 0.0), found.seen.get(who.id)
        there = f"{visible(who.label)} in {zone_label(declared, true.zone)}"
        if line is not None:
            zone, doing = line.fields["zone"], line.fields.get("behaviour")
            if (zone, doing) == (true.zone, true.behaviour):
                right.append(who)
            else:
                does = behaviour_label(declared, doing).lower()
                said = ", ".join(filter(None, [zone_label(declared, zone), does]))
                wrong.append(
                    f"{there}, {behaviour_label(declared, true.behaviour).lower()}, recorded as {said}"
                )
        elif true.zone in looked:
            missed.append(there)
        else:
            elsewhere.append(there)
    lines.append(f"Right, zone and behaviour: {len(right)} of {len(plan.who)}.")
    for words, some in (
        ("Wrong", wrong), ("Missed, though looked at", missed), ("Where nobody looked", elsewhere),
    ):  # fmt: skip
        if some:
            lines.append(f"{words}: {'; '.join(some)}.")
    return lines
