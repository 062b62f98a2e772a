"""What was written down as expected of a change, by what may shift."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...study.model import Declaration
from ...study.quantities import QUANTITIES
from ...tables.phases import Adjustment
from ..quantities_said import label
from .come_and_gone import place_of

SAID = {"active": "Activity", "moves": "Moves an hour"}


def expectations(declared: Declaration, change: Adjustment) -> dict[tuple[str, str], str]:
    """Directions by (what, name); a zone by its place."""
    return {
        (e["what"], place_of(declared, e["name"]) if e["what"] == "zone" else str(e["name"])): str(
            e["direction"]
        )
        for e in change.expects
    }


def expected_label(declared: Declaration, expected: Mapping[str, Any]) -> str:
    """What the keeper calls it."""
    name = str(expected["name"])
    if expected["what"] == "zone":
        return declared.zones[name].label if name in declared.zones else name
    if name in declared.behaviours:
        return declared.behaviours[name].label
    return SAID.get(name) or (label(name) if name in QUANTITIES else name)


def expected_said(expected: str, change: float) -> str:
    """What was written down beforehand, and which way it went."""
    way = "rise" if expected == "up" else "fall"
    if change == 0:
        return f" You expected it to {way}; it did not change."
    if (change > 0) == (expected == "up"):
        return f" You expected it to {way}, and that is the way it went."
    return f" You expected it to {way}; it went the other way."
