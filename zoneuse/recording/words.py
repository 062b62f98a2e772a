"""Records and times in plain words, the same in every face."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Protocol

from ..study import Declaration, celsius_to_fahrenheit, visible


class RecordLike(Protocol):
    """A record of this session, or of any other."""

    @property
    def kind(self) -> str: ...
    @property
    def fields(self) -> Mapping[str, Any]: ...


def who_words(declared: Declaration, fields: Mapping[str, Any]) -> str:
    """Whom a record is about."""
    if (name := fields.get("group")) is not None:
        label = declared.groups[name].label if name in declared.groups else name
        count = fields.get("count")
        return visible(f"{count} of {label}" if count is not None else label)
    if (name := fields.get("animal")) is not None:
        return visible(declared.animals[name].label if name in declared.animals else name)
    return "one of them, not known which" if fields.get("count", 1) == 1 else f"{fields['count']} of them"


def zone_label(declared: Declaration, zone: str | None) -> str:
    if zone is None:
        return ""
    return visible(declared.zones[zone].label if zone in declared.zones else zone)


def behaviour_label(declared: Declaration, behaviour: str | None) -> str:
    if behaviour is None:
        return ""
    return visible(declared.behaviours[behaviour].label if behaviour in declared.behaviours else behaviour)


def line_words(declared: Declaration, record: RecordLike) -> str:
    """One record in a line, without its time."""
    fields = record.fields
    who = who_words(declared, fields)
    if record.kind == "seen":
        return f"{who}: {state_words(declared, fields)}"
    if record.kind == "unseen":
        return f"{who}: not found"
    if record.kind == "missed":
        return f"{who}: missed"
    if record.kind == "happened":
        where = zone_label(declared, fields.get("zone"))
        label = behaviour_label(declared, fields.get("behaviour"))
        return f"{who}: {label}!" + (f" ({where})" if where else "")
    if record.kind == "checked":
        return _checked_words(declared, fields)
    if record.kind == "spent":
        return f"{who}: {_spent_words(declared, fields)}"
    if record.kind == "adjusted":
        return _adjusted_words(declared, fields)
    about = f" {who}" if fields.get("animal") else ""
    if record.kind == "context":
        return _context_words(declared, fields, about)
    if record.kind == "noted":
        return visible(f"note{about}: {fields['text']}")
    return record.kind


def _checked_words(declared: Declaration, fields: Mapping[str, Any]) -> str:
    done = "not looked into" if fields.get("skipped") else "looked into"
    lifted = ", cover lifted" if fields.get("lifted") else ""
    return f"{zone_label(declared, fields['zone'])}: {done}{lifted}"


def _spent_words(declared: Declaration, fields: Mapping[str, Any]) -> str:
    """``Moss, 45 of 60 min``."""
    said = (zone_label(declared, fields.get("zone")), behaviour_label(declared, fields.get("behaviour")))
    behaviour = declared.behaviours.get(fields.get("behaviour") or "")
    if behaviour is not None and not behaviour.lasts:
        return f"watched for {said[1]}, {float(fields['of_seconds']) / 60:.4g} min"
    minutes, whole = float(fields["seconds"]) / 60, float(fields["of_seconds"]) / 60
    return f"{' '.join(s for s in said if s)}, {minutes:.4g} of {whole:.4g} min"


def _context_words(declared: Declaration, fields: Mapping[str, Any], about: str) -> str:
    value = f" {_value(declared, fields)}" if fields.get("value") is not None else ""
    over = ", over" if fields.get("until") else ""
    return visible(f"{fields['what']}{about}{value}{over}")


def _adjusted_words(declared: Declaration, fields: Mapping[str, Any]) -> str:
    zones = ", ".join(zone_label(declared, str(z)) for z in fields["zones"])
    amount = f" {fields['amount']:g} {fields.get('unit') or ''}".rstrip() if fields.get("amount") else ""
    return visible(f"{fields['what']} {zones}{amount}")


def _value(declared: Declaration, fields: Mapping[str, Any]) -> str:
    """A weight is held as grams, a body temperature as °C and said in the study's degrees."""
    value = fields["value"]
    if not isinstance(value, int | float):
        return str(value)
    if fields["what"] == "temp":
        return f"{celsius_to_fahrenheit(value):.1f} °F" if declared.fahrenheit else f"{round(value, 2):g} °C"
    return f"{value:g} g" if fields["what"] == "weighed" else str(value)


def state_words(declared: Declaration, fields: Mapping[str, Any]) -> str:
    """Where somebody is and what they do: ``Moss end, resting (guess)``."""
    if fields.get("zone") is None:
        return "not found"
    parts = [zone_label(declared, fields["zone"]), behaviour_label(declared, fields.get("behaviour")).lower()]
    return ", ".join(p for p in parts if p) + marks(fields)


def span_words(seconds: float) -> str:
    """A length of time, short: ``12 s``, ``4 min``, ``5 h 12``, ``3 d``.

    >>> [span_words(s) for s in (12, 250, 18720, 260000)]
    ['12 s', '4 min', '5 h 12', '3 d']
    """
    s = max(0, int(seconds))
    if s < 60:
        return f"{s} s"
    if s < 3600:
        return f"{s // 60} min"
    if s < 86400:
        return f"{s // 3600} h {s % 3600 // 60:02d}"
    return f"{s // 86400} d"


def clock_words(at: datetime, declared: Declaration) -> str:
    return f"{at.astimezone(declared.timezone):%H:%M:%S}"


def marks(fields: Mapping[str, Any]) -> str:
    """What stands behind a sighting in words: ``(guess, hidden)``."""
    words = [
        word for word, on in (("guess", fields.get("sure") is False), ("hidden", fields.get("hidden"))) if on
    ]
    return f" ({', '.join(words)})" if words else ""
