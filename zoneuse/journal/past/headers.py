"""Which column of a table is which: by zoneuse's own names, by plain words for them, or as the keeper says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from zoneuse.study import Problem

COLUMNS = (
    "at", "date", "time", "session", "animal", "zone", "behaviour", "observer", "group", "count", "method",
    "treatment", "seconds", "minutes", "hours", "of", "from", "until", "lasted",
)  # fmt: skip
# A column of these says how much of the time was spent so; "of" says of how much, in the same unit.
LASTS = ("seconds", "minutes", "hours")

# What a table with one column for each animal, zone or behaviour says in its cells and headings.
_SPREAD = {"animal": ("animal", "zone"), "zone": ("zone", "count"), "behaviour": ("behaviour", "count")}

# Words keepers head such columns with; each must mean one thing only.
_WORDS: dict[str, tuple[str, ...]] = {
    "at": ("when", "datetime", "date_time", "date and time", "date/time", "timestamp", "zeitpunkt",
           "datum/uhrzeit", "datum und uhrzeit"),
    "date": ("datum", "day", "tag", "fecha", "data", "dato"),
    "time": ("uhrzeit", "zeit", "clock", "hour", "heure", "hora", "tijd"),
    "session": ("sitzung", "session id", "session_id"),
    "animal": ("tier", "name", "individual", "individuum", "animal id", "animal_id", "salamander"),
    "zone": ("ort", "place", "where", "location", "position", "bereich", "platz", "seen in"),
    "behaviour": ("behavior", "verhalten", "doing", "activity"),
    "observer": ("beobachter", "beobachterin", "seen by", "recorded by"),
    "group": ("gruppe",),
    "count": ("anzahl", "number", "n", "how many", "zahl"),
    "method": ("methode",),
    "treatment": ("behandlung",),
    "seconds": ("sekunden",),
    "minutes": ("minuten",),
    "hours": ("stunden",),
    "from": ("start", "begin", "begins", "start time", "von", "beginn"),
    "until": ("end", "end time", "ends", "stop", "bis", "ende"),
    "lasted": ("duration", "dauer"),
    "of": ("of minutes", "of seconds", "of hours", "watched"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class HeaderPlaces:
    """Where each of our columns stands, and what is missing or double."""

    places: Mapping[str, int]
    problems: tuple[Problem, ...]


def find_columns(header: Sequence[str], renamed: Mapping[str, str], wide: str = "") -> HeaderPlaces:
    """``renamed``: our name to the header's, or to a column's number from 1 where no header is called so."""
    names = [cell.strip().casefold() for cell in header]
    places: dict[str, int] = {}
    problems: list[Problem] = []
    for column in COLUMNS:
        found = _found(names, column, renamed)
        if len(found) > 1:
            problems.append(_problem(column, f"{header[found[0]]!r} stands twice in the header"))
        elif found:
            places[column] = found[0]
        elif column in renamed:
            problems.append(_problem(column, f"there is no column {renamed[column]!r}"))
    taken = set(renamed)
    if wide:
        # A column headed "place" or "n" beside one for each zone says something else.
        for column in _SPREAD[wide]:
            if column not in taken:
                places.pop(column, None)
    _stretches(places, names, renamed, wide)
    _join_times(places, problems)
    if not wide and _lacks_zone(places):
        problems.append(_problem("zone", "there is no column 'zone'"))
    if not wide and not {"animal", "group"} & places.keys() and "animal" not in renamed:
        problems.append(_problem("animal", "there is no column 'animal' (nor 'group')"))
    return HeaderPlaces(places, tuple(problems))


def _stretches(places: dict[str, int], names: Sequence[str], renamed: Mapping[str, str], wide: str) -> None:
    """Columns that say from when until when, or how long: they say so in pairs, or by our own names."""
    ends = _ends(places, names, renamed)
    if wide in ("animal", "zone") or not ends:
        for name in ("from", "until", "lasted"):
            places.pop(name, None)
        return
    for name in {"until", "lasted"} - set(ends[:1]):
        places.pop(name, None)
    start = places.pop("from", None)
    if start is not None:
        # With a column of dates beside it, it is a clock time.
        places["time" if "date" in places else "at"] = start
        places.pop("at" if "date" in places else "time", None)


def _ends(places: Mapping[str, int], names: Sequence[str], renamed: Mapping[str, str]) -> list[str]:
    """Of the columns for an end or a length those that are meant as one, the first to be used."""
    both = "from" in places and "until" in places
    ends = [n for n in ("until", "lasted") if n in places and (n in renamed or n in names or both)]
    if "lasted" in places and "until" not in places and ("from" in places or "lasted" in renamed):
        ends.append("lasted")
    return ends


def _lacks_zone(places: Mapping[str, int]) -> bool:
    """Whether nothing says where; so long doing something may have been anywhere."""
    anywhere = "behaviour" in places and any(unit in places for unit in (*LASTS, "until", "lasted"))
    return "zone" not in places and not anywhere


def _found(names: Sequence[str], column: str, renamed: Mapping[str, str]) -> list[int]:
    if column in renamed:
        wanted = renamed[column].strip()
        by_number = wanted.isdecimal() and 1 <= int(wanted) <= len(names)
        return _named(names, wanted.casefold()) or ([int(wanted) - 1] if by_number else [])
    if column in names:
        return _named(names, column)
    # A column the keeper gave another meaning is no candidate for this one.
    given = {value.strip().casefold() for value in renamed.values()}
    words = [word for word in _WORDS[column] if word in names and word not in given]
    return _named(names, words[0]) if words else []


def _named(names: Sequence[str], wanted: str) -> list[int]:
    return [i for i, name in enumerate(names) if name == wanted]


def _join_times(places: dict[str, int], problems: list[Problem]) -> None:
    """One column of times, or a date and a clock time: a lone date or time column holds both."""
    if "at" in places:
        places.pop("date", None)
        places.pop("time", None)
    elif "date" in places and "time" not in places:
        places["at"] = places.pop("date")
    elif "time" in places and "date" not in places:
        places["at"] = places.pop("time")
    elif "date" not in places:
        problems.append(_problem("at", "there is no column 'at' (nor 'date' and 'time')"))


def _problem(column: str, found: str) -> Problem:
    return Problem(
        "column", "", "header", found, f"a column for {column}", f"Name it with --column {column}=HEADER"
    )
