"""One column of an exported table."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PackageColumn:
    """A column as the package describes it. ``type`` is a field type of the Data Package standard."""

    name: str
    type: str
    meaning: str
    unit: str = ""


AT = PackageColumn("at", "datetime", "when, local time with its offset from UTC")
AT_UTC = PackageColumn("at_utc", "datetime", "the same instant in UTC")
TIMES = (AT, AT_UTC)
