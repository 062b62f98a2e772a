"""Times and steps as a person says them."""

from __future__ import annotations

from datetime import tzinfo

from ...study import from_ms


def local(ms: int, zone: tzinfo) -> str:
    """A time as a person writes it: 3 Apr 2026 14:05; seconds only where they are not 0.

    >>> from datetime import UTC
    >>> local(1_775_217_900_000, UTC)
    '3 Apr 2026 12:05'
    """
    at = from_ms(ms).astimezone(zone)
    seconds = f":{at.second:02d}" if at.second else ""
    return f"{at.day} {at:%b %Y %H:%M}{seconds}"


def step_words(ms: int) -> str:
    """A usual step as a person says it: every 10 min."""
    if ms <= 0:
        return "one reading"
    for unit, size in (("h", 3_600_000), ("min", 60_000)):
        if ms >= size and ms % size == 0:
            return f"every {ms // size} {unit}"
    return f"every {ms / 60_000:.1f} min" if ms >= 60_000 else f"every {ms / 1000:g} s"
