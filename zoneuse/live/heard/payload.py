"""What an MQTT message says, by the paths of study.toml: ``$.air.temperature``, ``$.values[0]``, ``$['a b']``."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from datetime import UTC, datetime
from math import isfinite
from typing import Any

from ...study import FAHRENHEIT, QUANTITIES, Heard, fahrenheit_to_celsius

_STEP = re.compile(r"\.([^.\[\]\s]+)|\[(\d{1,4})\]|\['([^']+)'\]")
# Seconds since 1970 stay below this until 5138; milliseconds are beyond it since 1973.
_SECONDS = 1e11
_MOST_BYTES = 65_536


def at_path(value: Any, path: str) -> Any:
    """What stands at a path; None where nothing does.

    >>> at_path({"a": {"b": [7, 8]}}, "$.a.b[1]")
    8
    """
    for name, index, quoted in _STEP.findall(path):
        if index and isinstance(value, list):
            value = value[int(index)] if int(index) < len(value) else None
        elif not index and isinstance(value, dict):
            value = value.get(quoted or name)
        else:
            return None
    return value


def values_of(heard: Heard, payload: bytes) -> tuple[dict[str, float], datetime | None, str]:
    """Values by quantity, the payload's own time if it has one, and what could not be read of it."""
    if len(payload) > _MOST_BYTES:
        return {}, None, "longer than a reading is"
    try:
        said = json.loads(payload)
    except (ValueError, RecursionError):
        return {}, None, "no JSON and no number"
    values: dict[str, float] = {}
    strange = []
    for quantity, path in heard.values.items():
        number = _number(at_path(said, path))
        if number is None:
            strange.append(path)
        elif quantity == FAHRENHEIT:
            values["temperature_c"] = fahrenheit_to_celsius(number)
        elif _possible(quantity, number):
            values[quantity] = number
        else:
            strange.append(f"{path} = {number:g}")
    at = None
    if heard.at:
        at = _time(at_path(said, heard.at))
        if at is None:
            return {}, None, f"no time at {heard.at}"
    return values, at, "" if not strange else f"no value at {', '.join(strange)}"


def _possible(quantity: str, number: float) -> bool:
    return quantity in QUANTITIES and abs(number) < 1e7


def _number(value: Any) -> float | None:
    if isinstance(value, str):
        try:
            value = float(value)
        except ValueError:
            return None
    usable = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
    return float(value) if usable else None


def _time(value: Any) -> datetime | None:
    try:
        if isinstance(value, str):
            at = datetime.fromisoformat(value)
            return at.astimezone(UTC) if at.tzinfo else None
        number = _number(value)
        return (
            None
            if number is None
            else datetime.fromtimestamp(number / (1 if number < _SECONDS else 1000), UTC)
        )
    except (ValueError, OverflowError, OSError):
        return None


def fits(filter_: str, topic: str) -> bool:
    """Whether a topic fits a filter with + and # (MQTT 3.1.1, 4.7)."""
    wanted, has = filter_.split("/"), topic.split("/")
    for i, part in enumerate(wanted):
        if part == "#":
            return True
        if i >= len(has) or part not in ("+", has[i]):
            return False
    return len(wanted) == len(has)


def heard_as(topics: Iterable[Heard], topic: str) -> Heard | None:
    """How a topic is to be read: one named in full goes before those with wildcards."""
    found = [h for h in topics if fits(h.topic, topic)]
    return min(found, key=lambda h: (h.topic != topic, not h.logger), default=None)
