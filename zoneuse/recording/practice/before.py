"""What a practice says before it begins."""

from __future__ import annotations

from .script import LEGEND, ROUND_LEGEND

_FIRST = (
    "PRACTICE: none of this touches a study. The enclosure and its animals are made up; the records go into a "
    "temporary folder and are deleted afterwards.",
    "",
)
_LAST = "Still is resting, still with the head up is alert. Their own keys show where you recorded them."
_HOW = {
    "focal": "Press a zone's key when it moves, a behaviour's when what it does changes.",
    "scan": "At each scan press, for each animal, the zone it is in, then what it does.",
    "retreat-round": "Retreat by retreat: the key of each animal in it, what it does, then Enter.",
}


def before(method: str) -> tuple[str, ...]:
    """The lines of the first screen of a practice by this method."""
    return (*_FIRST, _HOW.get(method, _HOW["scan"]), legend(method), _LAST)


def legend(method: str) -> str:
    """How the animals are drawn."""
    return ROUND_LEGEND if method == "retreat-round" else LEGEND
