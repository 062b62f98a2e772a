"""What there is to be seen in a practice at a moment: for the map, and in words for the line mode."""

from __future__ import annotations

from collections.abc import Container

from ...study import SketchFigure
from ..modes.recorder import Recorder
from ..modes.retreats.rounds import Rounding
from ..session.instant import Instant
from ..words import zone_label
from .script import Practice

_LOOKS = {"resting": "still", "alert": "still, head up", "moving": "walks"}


def figures_now(core: Recorder, practice: Practice, now: Instant) -> dict[str, tuple[SketchFigure, ...]]:
    """Zone id to what is to be drawn in its room."""
    return practice.script.figures(now.mono - core.ledger.started, _covered(core))


def seen_words(core: Recorder, practice: Practice, now: Instant) -> str:
    """The same for who does not see the map: ``1 in Hide, still, head up; 2 in Water, walks``."""
    covered, words = _covered(core), []
    for animal in practice.script.stays:
        stay = practice.script.at(animal, now.mono - core.ledger.started)
        if stay.zone not in covered:
            declared = core.plan.declared
            key, zone = declared.animals[animal].key, zone_label(declared, stay.zone)
            words.append(f"{key} in {zone}, {_LOOKS[stay.behaviour]}")
    return "; ".join(words) or "nobody"


def _covered(core: Recorder) -> Container[str]:
    """In a round only the retreat that is looked into shows who is in it."""
    if not isinstance(core.mode, Rounding):
        return ()
    return {zone.id for zone in core.plan.retreats if zone != core.mode.place}
