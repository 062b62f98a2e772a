"""What a record's values must be besides their JSON types, so that nothing behind the reader has to doubt them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

from ..study import YEARS

_WEEK_S = 7 * 86_400
_TEN_YEARS_H = 10 * 366 * 24


def within_years(at: date) -> bool:
    # A year of room: what was given within them in another zone's time was written too.
    return YEARS[0] - 1 <= at.year <= YEARS[-1] + 1


def _time(value: Any) -> bool:
    try:
        at = datetime.fromisoformat(value)
    except (TypeError, ValueError):
        return False
    return at.tzinfo is not None and within_years(at)


def _day(value: Any) -> bool:
    try:
        return isinstance(value, str) and within_years(date.fromisoformat(value))
    except ValueError:
        return False


def _texts(value: Any) -> bool:
    return all(isinstance(one, str) for one in value)


def _place(value: Any) -> bool:
    """``{session, part, n}`` with its ``file`` where the part has one, or ``{session}`` for a whole one."""
    numbers = [value[name] for name in ("part", "n") if name in value]
    texts = [value.get("session"), *(value[name] for name in ("file",) if name in value)]
    return all(type(n) is int for n in numbers) and all(isinstance(text, str) for text in texts)


def _file(value: Any) -> bool:
    return re.fullmatch("[0-9a-f]{1,32}", value) is not None


def _treatment(value: Any) -> bool:
    """One for the whole session, or one for each enclosure."""
    return isinstance(value, str) or all(isinstance(one, str) for one in value.values())


def _expects(value: Any) -> bool:
    return all(
        isinstance(one, dict)
        and isinstance(one.get("name", one.get("zone")), str)
        and isinstance(one.get("what", "zone"), str)
        and isinstance(one.get("direction"), str)
        for one in value
    )


def _forecast(value: Any) -> bool:
    """``{zone: {share, low, high}, version}``."""
    return all(
        all(type(one.get(k)) in (int, float) for k in ("share", "low", "high"))
        if isinstance(one, dict)
        else isinstance(one, str)
        for one in value.values()
    )


# By name of the field, whatever the kind; only asked where the JSON type fits and there is a value.
FORMS: dict[str, Callable[[Any], bool]] = {
    "every_s": lambda value: 0 < value <= _WEEK_S,
    "minutes": lambda value: 0 <= value <= _WEEK_S,
    "settle_h": lambda value: 0 <= value <= _TEN_YEARS_H,
    "days": lambda value: bool(value) and all(map(_day, value)),
    "day": _day,
    "zones": _texts,
    "expects": _expects,
    "forecast": _forecast,
    "from": _time,
    "until": _time,
    "of": _place,
    "file": _file,
    "treatment": _treatment,
    "replaces": _place,
}


def spent_problem(fields: Mapping[str, Any]) -> str:
    """What is wrong with a time budget: whose, of what, and how much of how much; "" where nothing is."""
    if bool(fields.get("animal")) == bool(fields.get("group")):
        return "needs an animal or a group, and one of them"
    if not fields.get("zone") and not fields.get("behaviour"):
        return "needs a zone or a behaviour"
    seconds, whole = fields["seconds"], fields["of_seconds"]
    return "" if 0 <= seconds <= whole and whole > 0 else f"has {seconds} of {whole} seconds"


def without_half_letters(value: Any) -> Any:
    """A value whose texts hold no half of a surrogate pair, which no table and no file can: it becomes its escape.

    >>> without_half_letters({"text": chr(0xD800) + "a"})
    {'text': '\\\\ud800a'}
    """
    if isinstance(value, str):
        return value.encode("utf-8", "backslashreplace").decode()
    if isinstance(value, dict):
        return {without_half_letters(k): without_half_letters(v) for k, v in value.items()}
    return [without_half_letters(v) for v in value] if isinstance(value, list) else value
