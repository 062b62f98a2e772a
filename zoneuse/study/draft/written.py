"""Values as they are typed and as they stand in study.toml. What cannot be read stays text, and check says so."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from ..clock import parse_when
from ..time_zones import time_zone_named
from ..toml.edits import GONE
from .dated import written

_CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?|(\d{2})(\d{2})")


def number(text: str) -> Any:
    """``12,5`` and ``12.5``; a whole number stays one."""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return text
    if value != value or value in (float("inf"), float("-inf")):
        return text
    return int(value) if value == int(value) and abs(value) < 1e15 else value


def choice(text: str, options: Iterable[str]) -> str:
    """The option that begins so, where only one does."""
    names = tuple(options)
    fits = [name for name in names if name.casefold().startswith(text.casefold())]
    return text if text in names or len(fits) != 1 else fits[0]


def choices(text: str, options: Sequence[str]) -> Any:
    """Several, with commas or spaces between."""
    found = [choice(part, options) for part in re.split(r"[,;\s]+", text) if part]
    return found or GONE


def clock(text: str) -> str:
    """``7``, ``7:30``, ``7.30`` and ``0730`` as ``07:30``."""
    found = _CLOCK.fullmatch(text)
    if found is None:
        return text
    hour, minute = (found[1], found[2] or "00") if found[1] else (found[3], found[4])
    return f"{int(hour):02d}:{minute}"


def clock_pair(text: str) -> Any:
    """``8-18`` as two clock times."""
    parts = [clock(p.strip()) for p in re.split(r"\s*(?:-|–|to|,|\s)\s*", text) if p.strip()]
    return parts if len(parts) == 2 else text


def yes(text: str) -> Any:
    folded = text.casefold()
    if folded and "yes".startswith(folded):
        return True
    return False if folded and "no".startswith(folded) else text


def moment(text: str, now: datetime, zone: ZoneInfo) -> Any:
    """A date, a time, ``now``, ``yesterday 21:30`` in the study's zone."""
    try:
        return written(parse_when(text, now, zone), zone)
    except ValueError:
        return text


def timezone(text: str) -> str:
    return time_zone_named(text) or text


def listed(text: str) -> Any:
    """Texts with semicolons or commas between."""
    return [part.strip() for part in re.split(r"[;,]", text) if part.strip()] or GONE


def as_typed(value: Any) -> str:
    """A value of the file as one would type it."""
    if value is None or value is GONE:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}" if value.second == 0 else f"{value:%Y-%m-%d %H:%M:%S}"
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, list):
        return ", ".join(as_typed(v) for v in value)
    return f"{value:g}" if isinstance(value, float) and abs(value) < 1e6 else str(value)
