"""The newest reading of each zone, and which of the keeper's own limits it breaks.

``readings/newest.json`` is derived and disposable: absent, half-written or strange, it is simply not shown.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from math import isfinite
from pathlib import Path
from typing import Any

from ...study import QUANTITIES, Declaration, value_at
from ..words import span_words, zone_label

_MOST_BYTES = 1_000_000
# The unit tells which is meant; the others are named.
_TOLD_BY_UNIT = ("temperature_c", "humidity_pct")


@dataclass(frozen=True, slots=True)
class Newest:
    """One newest value of a quantity in a zone, raw unit as in the name."""

    zone: str
    quantity: str
    value: float
    at: datetime


def read_newest(study: Path) -> tuple[Newest, ...]:
    """The newest readings, zone by zone; empty where there is nothing readable."""
    path = study / "readings" / "newest.json"
    try:
        if path.stat().st_size > _MOST_BYTES:
            return ()
        raw = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return ()
    zones = raw.get("zones", raw) if isinstance(raw, dict) else None
    return tuple(_found(zones)) if isinstance(zones, dict) else ()


def _found(zones: Mapping[str, Any]) -> Iterator[Newest]:
    for zone, values in zones.items():
        if not isinstance(values, dict):
            continue
        common = values.get("at", values.get("at_ms"))
        nested = values.get("values")
        entries: dict[str, Any] = nested if isinstance(nested, dict) else values
        for quantity, entry in entries.items():
            value, at = _value_and_time(entry, common)
            if quantity in QUANTITIES and value is not None and at is not None:
                yield Newest(zone, quantity, value, at)


def _value_and_time(entry: object, common: object) -> tuple[float | None, datetime | None]:
    if isinstance(entry, dict):
        return _number(entry.get("value")), _time(entry.get("at", entry.get("at_ms", common)))
    if isinstance(entry, list) and len(entry) == 2:
        return _number(entry[0]), _time(entry[1])
    return _number(entry), _time(common)


def _number(value: object) -> float | None:
    usable = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
    return float(value) if usable and isinstance(value, int | float) else None


def _time(value: object) -> datetime | None:
    try:
        if isinstance(value, str):
            at = datetime.fromisoformat(value)
            return at.astimezone(UTC) if at.tzinfo else None
        number = _number(value)
        return None if number is None else datetime.fromtimestamp(number / 1000, UTC)
    except (ValueError, OverflowError, OSError):
        return None


def value_words(declared: Declaration, one: Newest) -> str:
    """``14.2°C``, or ``57.6°F`` in a study that speaks Fahrenheit."""
    return _written(declared, one.quantity, one.value)


def _written(declared: Declaration, quantity: str, value: float) -> str:
    q = QUANTITIES[quantity]
    unit = q.unit
    if q.degrees and declared.fahrenheit:
        unit, value = "°F", value * 1.8 + 32
    return f"{value:.{q.brief_digits}f}{' ' if unit.isalpha() else ''}{unit}"


def _named(quantity: str) -> str:
    return "" if quantity in _TOLD_BY_UNIT else f"{QUANTITIES[quantity].label} "


def reading_age(one: Newest, now: datetime) -> str:
    """How old a reading is; one from the future is a clock that is wrong."""
    age = (now - one.at).total_seconds()
    return span_words(age) if age > -120 else "clock?"


def brief_age(one: Newest, now: datetime) -> str:
    """The same where every letter counts: ``4m``, ``2h``, ``3d``."""
    age = (now - one.at).total_seconds()
    if age <= -120:
        return "clock?"
    minutes = max(0, int(age // 60))
    return f"{minutes}m" if minutes < 60 else f"{minutes // 60}h" if minutes < 1440 else f"{minutes // 1440}d"


def broken(declared: Declaration, newest: tuple[Newest, ...], now: datetime) -> list[str]:
    """What the keeper must know before any record: newest readings outside the keeper's own limits."""
    found = []
    for one in newest:
        bounds = value_at(declared.limits.get(one.zone, {}).get(one.quantity, ()), now)
        if bounds is None:
            continue
        for word, limit, outside in (
            ("below", bounds.low, bounds.low is not None and one.value < bounds.low),
            ("above", bounds.high, bounds.high is not None and one.value > bounds.high),
        ):
            if outside and limit is not None:
                found.append(
                    f"{zone_label(declared, one.zone)} {_named(one.quantity)}"
                    f"{value_words(declared, one)}, {word} {_written(declared, one.quantity, limit)} "
                    f"({reading_age(one, now)} ago)"
                )
    return found
