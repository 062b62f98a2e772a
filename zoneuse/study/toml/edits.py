"""One change to study.toml as data: a place and what shall stand there; and what the file's values are then."""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

Place = tuple[str | int, ...]
# Sections that stand once for each thing: [zones.NAME]; the others stand once.
NAMED = (
    "zones",
    "animals",
    "groups",
    "behaviours",
    "loggers",
    "limits",
    "enclosures",
    "treatments",
    "phases",
    "cameras",
    "tracks",
)


class _Gone:
    """What stands where something shall stand no longer."""

    def __repr__(self) -> str:
        return "GONE"


GONE = _Gone()


@dataclass(frozen=True, slots=True)
class MovedTo:
    """What stands there shall stand at another place, with all that is written in it: [enclosure] that gets a name."""

    place: Place


@dataclass(frozen=True, slots=True)
class Edit:
    """At ``place`` (names of sections and keys, numbers in lists) there shall be ``value``, or nothing: GONE.

    A number that is the length of its list adds to it. Sections on the way are made.
    """

    place: Place
    value: Any


def changed_values(values: Mapping[str, Any], edits: Iterable[Edit]) -> dict[str, Any]:
    """The values of the file with these edits done."""
    after = copy.deepcopy(dict(values))
    for edit in edits:
        _change_values(after, edit)
    return after


def _change_values(top: dict[str, Any], edit: Edit) -> None:
    if isinstance(edit.value, MovedTo):
        edit = Edit(edit.value.place, _taken_out(top, edit.place))
    *above, last = edit.place
    values: Any = top
    for i, name in enumerate(above):
        if isinstance(values, dict) and name not in values:
            if edit.value is GONE:
                return
            values[name] = [] if isinstance(edit.place[i + 1], int) else {}
        values = values[name]
    if edit.value is not GONE:
        if isinstance(values, list) and last == len(values):
            values.append(copy.deepcopy(edit.value))
        else:
            values[last] = copy.deepcopy(edit.value)
    elif isinstance(values, list):
        del values[int(last)]
    elif values.pop(last, None) is not None and not values and len(above) == 1 and above[0] in NAMED:
        # With its last thing the kind is gone from the file as well.
        del top[str(above[0])]


def _taken_out(top: dict[str, Any], place: Place) -> Any:
    found: Any = top
    for name in place[:-1]:
        found = found[name]
    return found.pop(place[-1])
