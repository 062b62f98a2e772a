"""What the lines above the table, or its headers, say of the whole file: time zone, unit, start, serial."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, available_timezones

import numpy as np

from ..times.time_shapes import KNOWN, SURE_NAMES
from ..times.time_text import DAY_MS, NO_OFFSET, TimeParts, days_since_1970, take_apart_texts
from .headers import DEGREES, read_header, tokens_of

_OFFSET = re.compile(r"\b(?:GMT|UTC)\s*([-+−])\s*(\d{1,2})(?::?(\d{2}))?\b", re.IGNORECASE)
_BARE = re.compile(r"\b(?:UTC|GMT)\b(?!\s*[-+−]?\d)", re.IGNORECASE)
_ZONE_LINE = re.compile(
    r"time\s*-?zone|zeitzone|fuseau|zona horaria|utc offset|tijdzone|\btz\b", re.IGNORECASE
)
_SIGNED = re.compile(r"([-+−])(\d{1,2}):?(\d{2})?\b")
_START_LINE = re.compile(r"start|launch|begin|gestartet|début|inicio|mission", re.IGNORECASE)
_LIMIT_LINE = re.compile(r"alarm|limit|threshold|schwelle|grenz", re.IGNORECASE)
_IANA = re.compile(r"[A-Za-z]+(?:/[A-Za-z_]+)+")
_NAME = re.compile(r"\b([A-Z]{3,4})\b")
VAGUE_NAMES = frozenset({"CST", "CDT", "EST", "EDT", "MST", "MDT", "PST", "PDT", "IST", "AST", "AEST", "JST"})


def fixed_zone(sign: str, hours: str, minutes: str | None) -> tzinfo | None:
    total = int(hours) * 60 + int(minutes or 0)
    if total > 14 * 60:
        return None
    return timezone(timedelta(minutes=-total if sign in "-−" else total))


def zone_in(text: str) -> tzinfo | None:
    """The zone that a header or a line states as an offset: ``GMT-04:00``, ``UTC+2``, ``(UTC)``.

    >>> print(zone_in("Date Time, GMT-04:00"))
    UTC-04:00
    """
    if found := _OFFSET.search(text):
        return fixed_zone(found[1], found[2], found[3])
    if _BARE.search(text) or re.search(r"(?:^|[\W_])(?:utc|gmt)(?:$|[\W_])", text, re.IGNORECASE):
        return timezone.utc  # noqa: UP017 - the same object as datetime.UTC
    return None


@dataclass(frozen=True, slots=True)
class Told:
    """What a preamble tells. ``zone_name``: an abbreviation that can mean several zones."""

    zone: tzinfo | None = None
    zone_name: str = ""
    unit: str = ""
    start_ms: int | None = None
    start_open: bool = False


def read_preamble(lines: Iterable[str]) -> Told:
    """Zone, temperature unit and start of the recording, where the lines above the table say them."""
    lines = [line.strip(' ,;\t"') for line in lines]
    start_ms, start_name, start_open = _start(lines)
    zone, name = _zone(lines)
    return Told(zone, name or start_name, _unit(lines), start_ms, start_open)


def _zone(lines: list[str]) -> tuple[tzinfo | None, str]:
    for line in lines:
        if found := _OFFSET.search(line):
            return fixed_zone(found[1], found[2], found[3]), ""
        if _ZONE_LINE.search(line):
            if signed := _SIGNED.search(line):
                return fixed_zone(signed[1], signed[2], signed[3]), ""
            if zone := zone_in(line):
                return zone, ""
            for name in _IANA.findall(line):
                if name in available_timezones():
                    return ZoneInfo(name), ""
            for name in _NAME.findall(line):
                if name in SURE_NAMES:
                    return timezone(timedelta(minutes=SURE_NAMES[name])), ""
                if name in VAGUE_NAMES:
                    return None, name
    return None, ""


def _unit(lines: list[str]) -> str:
    """The unit of temperature, where all lines that show one agree; a limit's unit counts only if alone."""
    found: dict[bool, set[str]] = {True: set(), False: set()}
    for line in lines:
        tokens = tokens_of(line)
        words = read_header(line)
        named = words.quantity == "temperature_c" or "unit" in tokens or "units" in tokens
        units = {DEGREES[t] for t in tokens if t in DEGREES and (len(t) > 1 or (named and t == tokens[-1]))}
        if units and (named or _LIMIT_LINE.search(line)):
            found[bool(_LIMIT_LINE.search(line))] |= units
    stated = found[False] or found[True]
    return next(iter(stated)) if len(stated) == 1 else ""


def _start(lines: list[str]) -> tuple[int | None, str, bool]:
    for line in lines:
        if not _START_LINE.search(line):
            continue
        for text in _time_texts(line):
            parts = take_apart_texts([text])
            if not parts.ok[0] or not parts.shapes[0][0].date:
                continue
            name = parts.shapes[0][0].zone_name
            name = name if name in VAGUE_NAMES else ""
            if parts.year[0] != KNOWN:
                return None, name, True
            return _ms(parts), name, False
    return None, "", False


def _ms(parts: TimeParts) -> int:
    days, _ = days_since_1970(parts.first, parts.second, parts.third)
    offset = 0 if parts.offset_min[0] == NO_OFFSET else int(parts.offset_min[0])
    return int(days[0]) * DAY_MS + int(parts.day_ms[0]) - offset * 60_000


def _time_texts(line: str) -> list[str]:
    """What may be a time in ``Start: 3 Apr 2026 14:05``: what follows the label, however it is parted."""
    found = [line]
    for mark in re.finditer(r"[:=;,\t]\s*|\s{2,}", line):
        found.append(line[mark.end() :].strip(' ,;\t"'))
    return found


def abbreviation_fits(zone: tzinfo, name: str, local_ms: np.int64 | int) -> bool:
    """Whether a zone calls itself by this abbreviation at that local time."""
    from datetime import datetime

    at = datetime(1970, 1, 1) + timedelta(milliseconds=int(local_ms))
    return at.replace(tzinfo=zone).tzname() == name
