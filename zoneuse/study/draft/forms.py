"""What can be declared of each kind of thing: its fields, where each stands in study.toml, and how it is typed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal
from zoneinfo import ZoneInfo

from ..model import MEASURES, METHODS, ONLY, ROLES, SERVES
from ..quantities import QUANTITIES
from ..toml.edits import GONE, NAMED, Edit, Place
from . import written
from .dated import When, end_now, set_end, set_row, set_value, value_now

How = Literal[
    "text", "number", "choice", "choices", "clock", "clocks", "yes", "when", "zone", "timezone", "list"
]  # fmt: skip
Over = Literal["", "value", "row", "end", "span"]


@dataclass(frozen=True, slots=True)
class Thing:
    """Something declared: a zone, an animal, or a part of the study that stands once (``id`` is "" then)."""

    kind: str
    id: str = ""


@dataclass(frozen=True, slots=True)
class FormLine:
    """One line of a form. ``over``: its value may change with time, as a value, in a row, or as a row's end;
    ``span``: one end of the time of one enclosure."""

    label: str
    place: Place
    how: How = "text"
    over: Over = ""
    part: str = ""
    options: Sequence[str] = ()
    hint: str = ""
    required: bool = False


def base(thing: Thing) -> Place:
    """Where a thing stands in study.toml."""
    if thing.kind == "study":
        return ()
    return (thing.kind, thing.id) if thing.kind in NAMED else (thing.kind,)


def fields(values: Mapping[str, Any], thing: Thing) -> list[FormLine]:
    """The form of a thing, in the order in which one asks."""
    several = list(section(values, ("enclosures",)))
    made = [
        f for f in _FORMS[thing.kind] if several or f.place not in (("enclosure",), ("lives",), ("place",))
    ]
    if thing.kind == "phases" and several:
        made += [
            FormLine(
                f"{name} {end}",
                ("spans",),
                "when",
                "span",
                f"{name}:{end}",
                hint="where each had its own dates",
            )
            for name in several
            for end in ("from", "until")
        ]
    return made


_SINCE = "a date, or a date and time; nothing: from the start"
_PRESENT = (
    FormLine("There since", ("present",), "when", "end", "from", hint=_SINCE),
    FormLine("Until", ("present",), "when", "end", "until", hint="only for what is gone"),
)
_LABEL = FormLine("Name", ("label",), required=True)
_HOME = FormLine("Lives in", ("lives",), "text", "row", "enclosure", hint="an enclosure's id")

_FORMS: dict[str, tuple[FormLine, ...]] = {
    "zones": (
        _LABEL,
        FormLine("Key", ("key",), hint="a letter, or two characters"),
        FormLine("In enclosure", ("enclosure",), hint="its id"),
        FormLine("Same place as", ("place",), hint="one word for the like place in every enclosure"),
        FormLine("Amount", ("amount",), "number", "value", hint="how much of it there is"),
        FormLine("Role", ("role",), "choice", options=ROLES),
        FormLine("Serves", ("serves",), "choices", options=SERVES),
        FormLine("Cover", ("cover",), "number", "value", hint="0 exposed to 1 enclosed; may stay empty"),
        FormLine("Only from-to", ("daily",), "clocks", hint="8:00-18:00 for a lit spot"),
        *_PRESENT,
    ),
    "animals": (_LABEL, FormLine("Key", ("key",), hint="a digit or capital"), _HOME, *_PRESENT),
    "groups": (
        _LABEL,
        FormLine("Key", ("key",), hint="a digit or capital"),
        FormLine("How many", ("size",), "number", "value"),
        _HOME,
        *_PRESENT,
    ),
    "behaviours": (
        _LABEL,
        FormLine("Key", ("key",), hint="a letter or digit"),
        FormLine("Means", ("means",), hint="what one must see to call it so"),
        FormLine("It lasts", ("lasts",), "yes", hint="yes: a state; no: a moment, counted"),
        FormLine("It is active", ("active",), "yes", hint="yes, no, or nothing"),
    ),
    "loggers": (
        FormLine("Lies in", ("placed",), "zone", "row", "zone", hint="a room's key or name"),
        FormLine("Where in it", ("placed",), "text", "row", "spot", hint="such as: under the bark"),
        FormLine("There since", ("placed",), "when", "end", "from", hint=_SINCE),
        FormLine("Until", ("placed",), "when", "end", "until", hint="only for what is gone"),
    ),
    "limits": tuple(
        FormLine(f"{quantity.label[:1].upper()}{quantity.label[1:]} {word}", (name,), "number", "value", end, hint=unit)
        for name, quantity in QUANTITIES.items()
        for word, end, unit in (("at least", "low", quantity.unit), ("at most", "high", quantity.unit))
    ),
    "treatments": (_LABEL,),
    "phases": (
        _LABEL,
        FormLine("From", ("from",), "when", hint="a date, or a date and time"),
        FormLine("Until", ("until",), "when", hint="nothing: it goes on"),
    ),
    "study": (
        FormLine("Title", ("title",), required=True),
        FormLine("Species", ("species",), hint="may stay empty"),
        FormLine("Time zone", ("timezone",), "timezone", hint="such as Europe/Vienna", required=True),
        FormLine("A day starts", ("day_starts",), "clock", hint="12:00: a night is one day"),
        FormLine("Show degrees", ("temperature_unit",), "choice", options=("C", "F")),
    ),
    "enclosure": (
        FormLine("Measured in", ("measured_in",), "choice", options=MEASURES, required=True),
        FormLine("Lights on", ("lights",), "clock", "value", "on"),
        FormLine("Lights off", ("lights",), "clock", "value", "off"),
        FormLine("Their clock", ("lights",), "choice", "value", "clock", ("local", "standard"),
              hint="standard: ignores summer time"),
    ),
    "watching": (
        FormLine("Observer", ("observer",), hint="your initials"),
        FormLine("Method", ("method",), "choice", options=METHODS),
        FormLine("Seconds", ("every_s",), "number", hint="from scan to scan"),
        FormLine("Minutes", ("minutes",), "number", hint="how long a session is"),
        FormLine("When you can", ("can",), "list", hint="weekdays 19:00-23:00; sat 12:00-13:00"),
    ),
}  # fmt: skip
_FORMS["enclosures"] = _FORMS["enclosure"]


def section(values: Mapping[str, Any], place: Place) -> Mapping[str, Any]:
    """The section at a place; an empty one where there is none."""
    found: Any = values
    for name in place:
        found = found.get(name) if isinstance(found, Mapping) else None
    return found if isinstance(found, Mapping) else {}


def shown(values: Mapping[str, Any], thing: Thing, field: FormLine) -> str:
    """What a field holds now, as one would type it."""
    raw = section(values, base(thing)).get(str(field.place[0]))
    if field.over == "end":
        raw = end_now(raw, field.part)
    elif field.over == "span":
        where, _, end = field.part.partition(":")
        raw = next((row.get(end) for _, row in _spans(raw, where)), None)
    elif field.over == "row":
        rows = raw if isinstance(raw, list) else [raw] if raw else []
        raw = end_now(rows, field.part)
    elif field.over == "value":
        raw = value_now(raw)
        if field.part:
            raw = raw.get(field.part) if isinstance(raw, Mapping) else raw
    if field.how == "clocks" and isinstance(raw, list):
        return "-".join(map(str, raw))
    if field.how == "list" and isinstance(raw, list):
        return "; ".join(map(str, raw))
    return written.as_typed(raw)


def _spans(raw: Any, enclosure: str) -> list[tuple[int, Mapping[str, Any]]]:
    """The spans of one enclosure, with their numbers."""
    rows = raw if isinstance(raw, list) else []
    return [
        (i, r) for i, r in enumerate(rows)
        if isinstance(r, Mapping) and r.get("enclosure") == enclosure and "animal" not in r
    ]  # fmt: skip


def _typed_span(place: Place, raw: Any, part: str, new: Any) -> list[Edit]:
    """One end of an enclosure's span; a span without any goes."""
    where, _, end = part.partition(":")
    mine = _spans(raw, where)
    if not mine:
        first = {"enclosure": where, end: new}
        if new is GONE:
            return []
        return [Edit((*place, len(raw)), first) if isinstance(raw, list) else Edit(place, [first])]
    i, row = mine[0]
    if new is not GONE or len({"from", "until"} & (set(row) - {end})):
        return [Edit((*place, i, end), new)]
    return [Edit(place if len(raw) == 1 else (*place, i), GONE)]


@dataclass(frozen=True, slots=True)
class Typing:
    """What reading a typed text needs besides the text: the clock, and the study's zone."""

    now: datetime
    zone: ZoneInfo


def read_typed(values: Mapping[str, Any], field: FormLine, text: str, by: Typing) -> Any:
    """The value a typed text stands for; GONE for nothing, the text itself where it cannot be read."""
    text = text.strip()
    if not text:
        return "" if field.required else GONE
    readers: dict[str, Callable[[], Any]] = {
        "number": lambda: written.number(text),
        "choice": lambda: written.choice(text, field.options),
        "choices": lambda: written.choices(text, field.options),
        "clock": lambda: written.clock(text),
        "clocks": lambda: written.clock_pair(text),
        "yes": lambda: written.yes(text),
        "when": lambda: written.moment(text, by.now, by.zone),
        "zone": lambda: zone_meant(values, text),
        "timezone": lambda: written.timezone(text),
        "list": lambda: written.listed(text),
    }
    return readers[field.how]() if field.how in readers else text


def zone_meant(values: Mapping[str, Any], text: str) -> str:
    """The id of the room of this id, key or name; the text itself where there is none."""
    for name, zone in section(values, ("zones",)).items():
        if isinstance(zone, Mapping) and text in (name, zone.get("key"), zone.get("label")):
            return name
    folded = text.casefold()
    fits = [
        name for name, zone in section(values, ("zones",)).items()
        if isinstance(zone, Mapping) and str(zone.get("label", "")).casefold().startswith(folded)
    ]  # fmt: skip
    return fits[0] if len(fits) == 1 else text


def typed(
    values: Mapping[str, Any], thing: Thing, field: FormLine, new: Any, since: When | None = None
) -> list[Edit]:
    """The edits by which a field gets a new value, from ``since`` on where it changes with time."""
    place = (*base(thing), *field.place)
    raw = section(values, base(thing)).get(str(field.place[0]))
    if field.over == "end":
        return set_end(place, raw, field.part, new)
    if field.over == "span":
        return _typed_span(place, raw, field.part, new)
    if field.over == "row":
        return set_row(place, raw, {**_others(raw, field, since), field.part: new}, since)
    if field.over == "value":
        return _typed_value(place, raw, field, new, since)
    return [Edit(place, new)]


def _others(raw: Any, field: FormLine, since: When | None) -> dict[str, Any]:
    """A row that begins anew says nothing of the old one's spot; a new spot is in the same zone."""
    if since is None or field.part != "spot":
        return {}
    rows = raw if isinstance(raw, list) else [raw] if raw else []
    zone = end_now(rows, "zone")
    return {} if zone is None else {"zone": zone}


def _typed_value(place: Place, raw: Any, field: FormLine, new: Any, since: When | None) -> list[Edit]:
    if not field.part:
        return set_value(place, raw, new, since)
    old = value_now(raw)
    whole = dict(old) if isinstance(old, Mapping) else {}
    whole.pop(field.part, None)
    if new is not GONE:
        whole[field.part] = new
    if since is None and isinstance(raw, Mapping) and whole:
        return [Edit((*place, field.part), new)]
    ordered = {k: whole[k] for k in (*("on", "off", "low", "high"), *whole) if k in whole}
    return set_value(place, raw, ordered or GONE, since)


def dated_now(field: FormLine) -> bool:
    """Whether a new value of this field is true since some date, which must be asked."""
    return field.over in ("value", "row")


def enclosure_of(values: Mapping[str, Any], zone: str) -> str:
    """The enclosure a zone stands in."""
    return str(section(values, ("zones", zone)).get("enclosure", ONLY)) if values.get("enclosures") else ONLY
