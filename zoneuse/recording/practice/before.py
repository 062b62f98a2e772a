"""What a practice says before it begins."""

from __future__ import annotations

from .script import LEGEND

BEFORE = (
    "PRACTICE: nothing of this touches a study. The enclosure and its animals are made up; the records lie in a "
    "temporary folder, which is removed afterwards.",
    "",
    "At each scan press, for each animal, the zone it is in, then what it does.",
    LEGEND,
    "Still is resting, still with the head up is alert. Their own keys, 1 and 2, show where you recorded them.",
)
