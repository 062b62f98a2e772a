"""The event marks loggers kept (a button pressed at a recharge, a logger attached), newest first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo

import numpy as np

from ...study import Logger, from_ms
from ..store.taken import Intake, Mark
from ..times.spoken import local
from .calibration import correct_clock


def marks_of(intaken: Iterable[Intake]) -> list[Mark]:
    """Every mark of the intakes that count, each once, newest first; ``at_ms`` as the logger's clock showed it."""
    found = {
        Mark(m.at_ms, m.logger or one.parts[0].logger, m.says)
        for one in intaken
        for m in one.marks
        if m.logger or one.parts
    }
    return sorted(found, key=lambda m: (-m.at_ms, m.logger, m.says))


def mark_named(marks: Sequence[Mark], text: str, zone: tzinfo) -> Mark:
    """The mark meant by ``L1`` (that logger's newest) or ``L1:3`` (its third newest).

    Raises ValueError with the marks there are.
    """
    logger, colon, number = text.rpartition(":")
    name, nth = (logger, number) if colon else (text, "1")
    own = [m for m in marks if m.logger == name]
    if nth.isdecimal() and 1 <= int(nth) <= len(own):
        return own[int(nth) - 1]
    known = "; ".join(mark_lines(marks, zone)[:8]) or "none; event marks come with zoneuse readings FILE"
    raise ValueError(f"--mark {text}: there is no such mark. Marks: {known}")


def mark_lines(marks: Sequence[Mark], zone: tzinfo) -> list[str]:
    """Each mark with the name it is asked for by: ``L1:2  15 Mar 2026 20:30  Button``."""
    counts: dict[str, int] = {}
    lines = []
    for mark in marks:
        counts[mark.logger] = counts.get(mark.logger, 0) + 1
        lines.append(f"{mark.logger}:{counts[mark.logger]}  {local(mark.at_ms, zone)}  {mark.says}")
    return lines


def time_of(mark: Mark, logger: Logger) -> datetime:
    """When it was set, in UTC, with what the study knows of that logger's clock put right."""
    (ms,) = correct_clock(np.array([mark.at_ms], np.int64), logger.clock).tolist()
    return from_ms(int(ms))
