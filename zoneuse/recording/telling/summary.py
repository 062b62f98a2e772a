"""What a session was, in plain words, and what it adds to the study."""

from __future__ import annotations

from collections import Counter

from ...study import ANY_TIME, visible
from ..modes.focal import Focal
from ..modes.recorder import Recorder
from ..modes.retreats.rounds import Rounding
from ..modes.scanning import Scanning
from ..session.instant import Instant
from ..session.recall import Recall, session_slot
from ..words import span_words
from .round_summary import round_summary


def summary(core: Recorder, known: Recall, instant: Instant) -> list[str]:
    """The lines a person reads at the end."""
    in_force = [line for line in core.ledger.lines if not line.void]
    counts = Counter(line.kind for line in in_force)
    lines = []
    mode = core.mode
    if isinstance(mode, Scanning):
        lines.append(_scans(mode))
        lines.append(_gaps(mode, counts))
    elif isinstance(mode, Rounding):
        lines += round_summary(mode)
    elif isinstance(mode, Focal):
        first = core.ledger.lines[0].instant if core.ledger.lines else instant
        *most, last = [visible(one.label) for one in mode.animals]
        names = f"{', '.join(most)} and {last}" if most else last
        were = "was" if len(mode.animals) == 1 else "were"
        lines.append(f"{names} {were} followed for {span_words(instant.mono - first.mono)}.")
        lines.append(f"{_n(counts['seen'], 'change')} of zone or behaviour recorded.")
    else:
        lines.append(f"{_n(counts['seen'], 'sighting')} in passing, kept but never counted in shares.")
    if counts["happened"]:
        lines.append(f"{_n(counts['happened'], 'momentary event')}.")
    guesses = sum(line.kind == "seen" and line.fields.get("sure") is False for line in in_force)
    if guesses:
        lines.append(
            f"{_n(guesses, 'guess', 'guesses')} among them; answers also say what changes without guesses."
        )
    lines += _adds(core, known, counts)
    lines += _where(core)
    return lines


def _n(count: int, one: str, many: str = "") -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"


def _scans(core: Scanning) -> str:
    who = core.sheet.plan.who
    done = sum(all(core.has(s, w) for w in who) for s in range(1, core.beat.scans + 1))
    touched = sum(any(core.has(s, w) for w in who) for s in range(1, core.beat.scans + 1))
    part = f", {touched - done} in part" if touched > done else ""
    return f"{done} of {_n(core.beat.scans, 'scan')} done{part}."


def _gaps(core: Scanning, counts: Counter[str]) -> str:
    missed = sum(
        (scan, who.id) in core.misses and not core.has(scan, who)
        for scan in range(1, core.beat.scans + 1)
        for who in core.sheet.plan.who
    )
    if not counts["seen"] and not counts["unseen"]:
        return f"Nobody was recorded; {_n(missed, 'answer')} missed."
    gaps = f"{_n(missed, 'answer')} missed" if missed else "No answer missed"
    unseen = f"looked for and not found: {counts['unseen']}" if counts["unseen"] else "everyone found"
    return f"{gaps}; {unseen}."


def _adds(core: Recorder, known: Recall, counts: Counter[str]) -> list[str]:
    if core.plan.method == "ad-libitum":
        return []
    if not counts["seen"] and not counts["unseen"] and not counts["checked"]:
        return ["Nothing was recorded, so this session adds nothing to the study."]
    opened = core.ledger.lines[0].instant.at
    slot = session_slot(core.plan.declared, opened)
    # A session that was cut off and continued is among those read before.
    others = known.slots.get(slot, 0) - (known.slot_of.get(core.ledger.journal.session) == slot)
    number = others + 1
    which = "" if slot == ANY_TIME else f" of the {slot} slot"
    made = counts["seen"] + counts["unseen"] + counts["checked"]
    said = [f"This session adds {_n(made, 'record')}; it is session {number}{which} in this study."]
    answer = "retreats" if core.plan.method == "retreat-round" else "zones"
    said.append(f"One session settles nothing; zoneuse {answer} says what all of them show.")
    return said


def _where(core: Recorder) -> list[str]:
    ledger = core.ledger
    if ledger.waiting:
        return [f"{_n(len(ledger.waiting), 'record')} NOT SAVED: {ledger.trouble}."]
    if ledger.elsewhere is not None:
        return [f"Part of it lies in {ledger.journal.path}: copy that file into the study's journal folder."]
    return ["Everything is on the disk."]
