"""Find what a person means: an id, a key or a label, in the enclosure and at the time in question."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import Protocol, TypeVar

from .clock import zone_offered
from .model import Animal, Behaviour, Declaration, Group, Zone, value_at


class Named(Protocol):
    @property
    def id(self) -> str: ...
    @property
    def key(self) -> str: ...
    @property
    def label(self) -> str: ...


N = TypeVar("N", bound=Named)
# How many names a message lists.
_MOST_TOLD = 40


class UnknownNameError(ValueError):
    """A name nobody bears, or that several bear; the message says which names there are."""


def home(one: Animal | Group, at: datetime) -> str | None:
    """The enclosure an animal or group lives in at a moment; None while it is not there."""
    if not any(span.holds(at) for span in one.present):
        return None
    return value_at(one.lives, at)


def here(declared: Declaration, enclosure: str, at: datetime) -> tuple[list[Animal], list[Group]]:
    """The animals and groups that live in an enclosure at a moment, in the file's order."""
    return (
        [a for a in declared.animals.values() if home(a, at) == enclosure],
        [g for g in declared.groups.values() if home(g, at) == enclosure],
    )


def zones_of(declared: Declaration, enclosure: str, at: datetime | None = None) -> list[Zone]:
    """The zones of an enclosure, in the file's order; with a time, those that are there then."""
    zones = [z for z in declared.zones.values() if z.enclosure == enclosure]
    return zones if at is None else [z for z in zones if zone_offered(declared, z, at)]


def zones_known(declared: Declaration, at: datetime) -> list[str]:
    """The ids a session opened at a moment knows of: every zone declared by now that was not gone by then.

    When a zone begins, and when its lamp is lit, stays study.toml's to say.
    """
    return [
        z.id
        for z in declared.zones.values()
        if any(p.span.until is None or p.span.until > at for p in z.present)
    ]


def find_who(declared: Declaration, name: str, at: datetime | None = None) -> Animal | Group:
    """An animal or group by id, key or label; a key may be shared by animals that never meet.

    With a time, whoever is there then is meant where several could be.
    """
    everyone: list[Animal | Group] = [*declared.animals.values(), *declared.groups.values()]
    return _find(name, everyone, "animal or group", lambda one: at is None or home(one, at) is not None)


def find_zone(declared: Declaration, name: str, enclosure: str | None, at: datetime | None = None) -> Zone:
    """A zone of an enclosure by id, key, place or label; any enclosure's where none is given."""
    zones = [z for z in declared.zones.values() if enclosure in (None, z.enclosure)]
    places = [z for z in zones if z.place == name]
    if len(places) == 1 and name not in declared.zones:
        return places[0]
    try:
        return _find(name, zones, "zone", lambda z: at is None or zone_offered(declared, z, at))
    except UnknownNameError:
        # A place as a header spells it: Hide for hide.
        places = [z for z in zones if _same_letters(z.place) == _same_letters(name.strip())]
        if len(places) != 1:
            raise
        return places[0]


def find_behaviour(declared: Declaration, name: str) -> Behaviour:
    """The behaviour of an id, a key or a label. Raises UnknownNameError with the nearest names."""
    return _find(name, list(declared.behaviours.values()), "behaviour", lambda _: True)


def _find(name: str, all_of_them: Sequence[N], kind: str, likely: Callable[[N], bool]) -> N:
    wanted = unicodedata.normalize("NFC", name.strip())
    sames: tuple[Callable[[N], bool], ...] = (
        lambda one: one.id == wanted,
        lambda one: bool(wanted) and one.key == wanted,
        lambda one: _same_letters(one.label) == _same_letters(wanted),
        lambda one: one.id.casefold() == wanted.casefold(),
    )
    for same in sames:
        found = [one for one in all_of_them if same(one)]
        if len(found) > 1:
            found = [one for one in found if likely(one)] or found
        if len(found) == 1:
            return found[0]
        if found:
            raise UnknownNameError(
                f"{_short(name)} could be {' or '.join(one.id for one in found)}; give the id of the {kind} meant"
            )
    raise UnknownNameError(f"{_short(name)} is no {kind} here; {_known(wanted, all_of_them)}")


def _same_letters(text: str) -> str:
    """A text for comparing: one Unicode form, small letters."""
    return unicodedata.normalize("NFC", text.casefold())


def _short(name: str) -> str:
    return repr(name if len(name) <= 60 else name[:59] + "…")


def _known(wanted: str, all_of_them: Iterable[Named]) -> str:
    names = {one.id: one.key for one in all_of_them}
    close = difflib.get_close_matches(wanted, names, 1)
    if close:
        # A statement, not a question: whoever shows it ends the sentence.
        return f"the nearest name is {close[0]!r}"
    if not names:
        return "none is declared in study.toml"
    told = [f"{key} = {name}" if key else name for name, key in names.items()]
    more = f" … {len(told) - _MOST_TOLD} more" if len(told) > _MOST_TOLD else ""
    return "known (key = id): " + ", ".join(told[:_MOST_TOLD]) + more
