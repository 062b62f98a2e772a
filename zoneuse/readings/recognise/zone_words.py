"""Which time zone a header, a line above the table or a time itself names: one, a vague one, or none."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, available_timezones

from ..times.time_shapes import SURE_NAMES

_OFFSET = re.compile(r"\b(?:GMT|UTC)\s*([-+−])\s*(\d{1,2})(?::?(\d{2}))?\b", re.IGNORECASE)
_ALONE = re.compile(r"[(\[]\s*([-+−])(\d{1,2}):?(\d{2})?\s*[)\]]")
_BARE = re.compile(r"(?:^|[\W_])(?:UTC|GMT)(?:$|[\W_])(?!\s*[-+−]?\d)", re.IGNORECASE)
_IANA = re.compile(r"\b[A-Z][A-Za-z]+(?:/[A-Za-z_+-]+)+")
_LETTERS = re.compile(r"(?<![A-Za-z])[A-Z]{3,5}(?![A-Za-z])")
_WORDS = re.compile(
    r"(?:[A-Za-z.]+ )*(?:standard|daylight|summer|european|eastern|central|mountain|pacific|atlantic) time"
    r"|(?:normal|sommer|winter)zeit|heure d['’](?:été|hiver)|hora de (?:verano|invierno)|ora (?:legale|solare)",
    re.IGNORECASE,
)
# Letters that more than one zone goes by, or whose clocks are put forward under the same letters.
VAGUE_NAMES = frozenset({
    "ACDT", "ACST", "ADT", "AEDT", "AEST", "AKDT", "AKST", "AMT", "AST", "AWST", "BDT", "BRT", "BST", "CAT",
    "CDT", "CST", "EAT", "EDT", "EST", "HKT", "HST", "ICT", "IRST", "IST", "JST", "KST", "MDT", "MSK", "MST",
    "NDT", "NST", "NZDT", "NZST", "PDT", "PHT", "PKT", "PST", "SAST", "SGT", "SST", "WAT", "WIB", "WIT", "WITA",
    "ET", "PT", "MT", "CT", "OEZ",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class ZoneSaid:
    """``zone``: the one that is meant for certain; ``vague``: words that name a zone and may mean several."""

    zone: tzinfo | None = None
    vague: str = ""

    def __bool__(self) -> bool:
        return self.zone is not None or bool(self.vague)


def fixed_zone(sign: str, hours: str, minutes: str | None) -> tzinfo | None:
    total = int(hours) * 60 + int(minutes or 0)
    if total > 14 * 60:
        return None
    return timezone(timedelta(minutes=-total if sign in "-−" else total))


def zone_said(text: str) -> ZoneSaid:
    """The zone a header or a line names, if any.

    >>> print(zone_said("Date Time, GMT-04:00").zone, zone_said("Time (MEZ)").zone, zone_said("Time (PST)").vague)
    UTC-04:00 UTC+01:00 PST
    """
    for pattern in (_OFFSET, _ALONE):
        if found := pattern.search(text):
            return ZoneSaid(fixed_zone(found[1], found[2], found[3]))
    for name in _IANA.findall(text):
        if name in available_timezones():
            return ZoneSaid(ZoneInfo(name))
    for name in _LETTERS.findall(text):
        if name in SURE_NAMES:
            return ZoneSaid(timezone(timedelta(minutes=SURE_NAMES[name])))
        if name in VAGUE_NAMES:
            return ZoneSaid(None, name)
    if found := _WORDS.search(text):
        return ZoneSaid(None, found[0].strip())
    return ZoneSaid(UTC) if _BARE.search(text) else ZoneSaid()
