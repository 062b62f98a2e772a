"""What the watching screen says, line by line, for the width there is. Nothing that matters is ever cut."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import datetime

from ...recording import (
    Code,
    Focal,
    Instant,
    Newest,
    Recorder,
    Rounding,
    Scanning,
    brief_age,
    broken,
    reading_age,
    value_words,
)
from ...recording.words import clock_words
from ...study import Declaration, visible

NARROW = 60


def first_lines(pieces: Sequence[str], width: int, most: int) -> list[str]:
    """As many pieces as fit into ``most`` lines, the most pressing first, none of them cut."""
    rows: list[str] = []
    line = ""
    for piece in pieces:
        wanted = f"{line} · {piece}" if line else piece
        if len(wanted) <= width:
            line = wanted
        elif line and len(rows) + 1 < most and len(piece) <= width:
            rows.append(line)
            line = piece
    return [*rows, line]


def warning_lines(warnings: Sequence[str], width: int) -> list[str]:
    """Limits that are broken, each with its zone and whole: as many as fit into two lines, the rest as a number."""
    if not warnings:
        return []
    for shown in range(len(warnings), 0, -1):
        rest = len(warnings) - shown
        more = f"; and {rest} more: F5" if rest else ""
        lines = textwrap.wrap(f"! {'; '.join(warnings[:shown])}{more}", width, break_long_words=True)
        if len(lines) <= 2 or shown == 1:
            return lines
    return []


def bar(core: Recorder, now: Instant, width: int) -> str:
    """The beat, to be seen from the corner of an eye."""
    mode = core.mode
    filled = 0
    if isinstance(mode, Scanning | Focal):
        filled = round(mode.beat.passed(now.mono) * width)
    elif isinstance(mode, Rounding):
        filled = width - round(len(mode.left()) / len(core.plan.retreats) * width)
    return "━" * filled + "─" * (width - filled)


def banner(core: Recorder) -> str:
    """What nobody may overlook: records that are not on the disk."""
    waiting = len(core.ledger.waiting)
    if not waiting:
        return ""
    return (
        f"NOT SAVED: {core.ledger.trouble}. {waiting} record{'s' if waiting > 1 else ''} kept in memory, "
        "tried again every 3 s. F6, or a touch here, writes to another folder."
    )


def said(core: Recorder) -> str:
    """What came of the last key."""
    if not core.notice:
        return ""
    last = core.acts[-1].lines[-1] if core.acts else None
    if last is not None and core.told.code is Code.RECORDED:
        state = "saved" if last.saved else "NOT SAVED YET"
        return f"{state} {clock_words(last.instant.at, core.plan.declared)}  {visible(core.notice)}"
    return visible(core.notice)


def readings(declared: Declaration, newest: Sequence[Newest], zone: str, now: datetime) -> tuple[str, ...]:
    """A room's newest values and their age, the longest way of saying it first; a value is whole or not there.

    A value without its age is offered last, and only while it is young.
    """
    mine = [one for one in newest if one.zone == zone][:3]
    if not mine:
        return ()
    values = [value_words(declared, one) for one in mine]
    last = max(mine, key=lambda one: one.at)
    age, short = reading_age(last, now), brief_age(last, now)
    forms = [f"{' '.join(values)} {age} ago"]
    forms += [f"{' '.join(values[:count])} {short}" for count in range(len(values), 0, -1)]
    if (now - last.at).total_seconds() < _YOUNG_S:
        forms.append(values[0])
    return tuple(forms)


# A value this young may stand alone where its age finds no room.
_YOUNG_S = 1800.0


def broken_now(core: Recorder, newest: tuple[Newest, ...], now: Instant) -> list[str]:
    return broken(core.plan.declared, newest, now.at)
