"""What was written down as expected of a change, by what may shift."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ...journal import read_expects
from ...study import QUANTITIES, Declaration, UnknownNameError, fault
from ...tables import Adjustment, places_of
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


def asked_for(declared: Declaration, words: Sequence[str]) -> dict[tuple[str, str], str]:
    """Directions by (what, name) from ``hide:up`` and its like; a place may be named for its zones.

    Raises ProblemError for a word that is no expectation.
    """
    found = {}
    for word in words:
        name, _, way = word.strip().rpartition(":")
        if name in places_of(declared) and way in ("up", "down"):
            found["zone", name] = way
            continue
        try:
            one = read_expects(declared, word.strip())
        except (UnknownNameError, ValueError) as error:
            raise fault("expects", "--expects", "", str(error)) from None
        found[one.what, place_of(declared, one.name) if one.what == "zone" else one.name] = one.direction
    return found


def turned(expected: Mapping[tuple[str, str], str]) -> dict[tuple[str, str], str]:
    """The same the other way round."""
    return {key: "down" if way == "up" else "up" for key, way in expected.items()}


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
