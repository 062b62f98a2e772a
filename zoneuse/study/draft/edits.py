"""One change to study.toml as data: a place and what shall stand there. Done to the file's text, and to its values.

The text goes through tomlkit, so that comments and order stay; the values are those tomllib reads. Both are changed
by the same edits and must agree afterwards: a file in which they do not is left alone.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterable, Mapping, Sequence
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
)


class _Gone:
    """What stands where something shall stand no longer."""

    def __repr__(self) -> str:
        return "GONE"


GONE = _Gone()


@dataclass(frozen=True, slots=True)
class Edit:
    """At ``place`` (names of sections and keys, numbers in lists) there shall be ``value``, or nothing: GONE.

    A number that is the length of its list adds to it. Sections on the way are made.
    """

    place: Place
    value: Any


class EditError(Exception):
    """The file is written in a way that cannot be changed without touching what else is in it."""


def edited(text: str, edits: Sequence[Edit]) -> str:
    """The text with these edits done and all else as it was. Raises EditError where that cannot be."""
    # Loaded on use: few sessions change a study, and the recorder must open at once.
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    from .toml_text import change_document

    try:
        wanted = changed_values(tomllib.loads(text), edits)
        document = tomlkit.parse(text if text.endswith("\n") or not text else text + "\n")
        for edit in edits:
            change_document(document, edit)
        after = tomlkit.dumps(document)
        agrees = tomllib.loads(after) == wanted
    except (TOMLKitError, LookupError, TypeError, AttributeError, ValueError) as error:
        raise EditError(str(error)) from error
    if not agrees:
        raise EditError("what would be written is not what was meant")
    return after


def changed_values(values: Mapping[str, Any], edits: Iterable[Edit]) -> dict[str, Any]:
    """The values of the file with these edits done."""
    after = copy.deepcopy(dict(values))
    for edit in edits:
        _change_values(after, edit)
    return after


def _change_values(top: dict[str, Any], edit: Edit) -> None:
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
