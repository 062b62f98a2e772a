"""What the lines above the table, or its headers, say of the whole file: time zone, unit, start, serial."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta, tzinfo
from zoneinfo import ZoneInfo

import numpy as np

from ..times.time_shapes import KNOWN
from ..times.time_text import DAY_MS, NO_OFFSET, TimeParts, days_since_1970, take_apart_texts
from .headers import DEGREES, read_header, tokens_of
from .zone_words import VAGUE_NAMES, ZoneSaid, fixed_zone, zone_said

_ZONE_LINE = re.compile(
    r"time\s*-?zone|zeitzone|fuseau|zona horaria|utc offset|tijdzone|\btz\b", re.IGNORECASE
)
# Elsewhere only an offset with its letters, or a time's own UTC, is the statement of a zone.
_STATED = re.compile(r"\b(?:GMT|UTC)\b", re.IGNORECASE)
_SUMMER_TIME = re.compile(
    r"(?:daylight[ -]?saving[s]?(?: time)?|\bdst\b|summer ?time|sommerzeit|heure d['’]été|hora de verano|ora legale)"
    r"[^:=;,\t]{0,20}[:=;,\t]\s*(on|yes|true|1|enabled|active|auto|automatic|ja|ein|aktiv|oui|sí|si|off|no|false|0|disabled|"
    r"inactive|nein|aus|non)\b",
    re.IGNORECASE,
)
_OFF = re.compile(r"off|no|false|0|disabled|inactive|nein|aus|non", re.IGNORECASE)
_LOCAL = re.compile(r"local|local time|ortszeit|auto|default|system|n/?a|-*|none", re.IGNORECASE)
_SIGNED = re.compile(r"([-+−])(\d{1,2}):?(\d{2})?\b")
_START_LINE = re.compile(r"start|launch|begin|gestartet|début|inicio|mission", re.IGNORECASE)
_LIMIT_LINE = re.compile(r"alarm|limit|threshold|schwelle|grenz", re.IGNORECASE)


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
    """The zone the lines state, None and words where two differ or summer time leaves it in doubt: then it is asked."""
    found = _zones(lines)
    told = list(dict.fromkeys(said.vague or str(said.zone) for said in found))
    if len(told) > 1:
        return None, " and ".join(told[:3])
    summer = next((on[1] for line in lines if (on := _SUMMER_TIME.search(line))), "")
    if summer and (doubt := _of_summer_time(summer, found)):
        return None, doubt
    return (found[0].zone, found[0].vague) if found else (None, "")


def _zones(lines: list[str]) -> list[ZoneSaid]:
    """The zones that the lines state which speak of a zone; where none does, the offsets in any."""
    about = [line for line in lines if _ZONE_LINE.search(line)]
    if found := [said for said in map(_zone_named, about) if said]:
        return found
    other = [line for line in lines if _STATED.search(line) and line not in about]
    return [said for said in map(zone_said, other) if said.zone is not None]


def _of_summer_time(said: str, found: list[ZoneSaid]) -> str:
    """What is in doubt where a line says that summer time is on, beside a fixed zone, or off, beside none."""
    off = _OFF.fullmatch(said) is not None
    if off:
        return "" if found else "a clock without summer time"
    fixed = bool(found) and not isinstance(found[0].zone, ZoneInfo)
    return f"{found[0].vague or found[0].zone} with summer time on" if fixed else ""


def _zone_named(line: str) -> ZoneSaid:
    """The zone that a line about a zone states."""
    if signed := _SIGNED.search(line):
        return ZoneSaid(fixed_zone(signed[1], signed[2], signed[3]))
    if said := zone_said(line):
        return said
    told = re.split(r"[:=;,\t]", line, maxsplit=1)
    # A zone is named in words nobody here knows: asked, never passed over.
    if len(told) == 2 and (words := told[1].strip(' ,;"')) and not _LOCAL.fullmatch(words):
        return ZoneSaid(None, words[:40])
    return ZoneSaid()


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
