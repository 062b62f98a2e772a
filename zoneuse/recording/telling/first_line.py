"""The first line: what the keeper would otherwise work out, and before all else what the animal needs."""

from __future__ import annotations

from ..modes.focal import Focal
from ..modes.recorder import Recorder
from ..modes.retreats.prompt import place_words
from ..modes.retreats.rounds import Rounding
from ..modes.scanning import Scanning
from ..session.beat import Beat
from ..session.instant import Instant
from ..session.recall import Recall
from ..words import span_words
from .care import care_words


def first_line(core: Recorder, known: Recall, instant: Instant) -> list[str]:
    """The pieces of the first line, the most pressing first; a narrow screen shows as many as fit."""
    pieces = ["CONTINUED ELSEWHERE"] if core.ledger.continued_elsewhere() else []
    pieces += _beat_words(core, instant)
    waiting = len(core.ledger.waiting)
    pieces.append(f"{core.saved} saved" + (f", {waiting} NOT YET" if waiting else ""))
    pieces += care_words(core.plan.declared, core.here, known, core, instant.at)
    return pieces


def _beat_words(core: Recorder, instant: Instant) -> list[str]:
    if core.closed:
        return ["finished"]
    if core.paused:
        return ["PAUSED"]
    if isinstance(core.mode, Scanning):
        return [_scan_words(core.mode.beat, instant)]
    if isinstance(core.mode, Focal):
        left = span_words(core.mode.beat.left_s(instant.mono))
        return [f"watching, {left} left" if core.mode.ready else f"settling {left}"]
    if isinstance(core.mode, Rounding):
        return place_words(core.mode)
    return ["in passing"]


def _scan_words(beat: Beat, instant: Instant) -> str:
    scan, left = beat.scan_at(instant.mono), span_words(beat.left_s(instant.mono))
    if scan < beat.first_scan:
        return f"settling {left}"
    if scan > beat.scans:
        return f"all {beat.scans} scans over"
    following = "over" if scan == beat.scans else "next"
    return f"scan {scan} of {beat.scans}, {following} in {left}"
