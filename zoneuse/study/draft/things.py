"""The things of a study: which there are, how one is added with an id and a free key, and how one goes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..ids import new_id
from ..keys import ANIMALS, free_key
from ..model import ONLY
from ..toml.edits import GONE, Edit
from ..toml.starter import BEHAVIOURS
from .dated import When, set_end
from .forms import Thing, base, section
from .painting import repainted

# The pages of the screen, and the kinds of things on each.
PAGES: dict[str, tuple[str, ...]] = {
    "Rooms": ("zones",),
    "Animals": ("animals", "groups"),
    "Behaviours": ("behaviours",),
    "Loggers": ("loggers",),
    "Limits": ("limits",),
    "Compare": ("treatments", "phases"),
    "Study": ("study", "enclosure", "enclosures", "watching"),
}
ADDED = {
    "zones": "a room", "animals": "an animal", "groups": "a group not told apart",
    "behaviours": "a behaviour of your own", "loggers": "a logger", "treatments": "a treatment", "phases": "a phase",
}  # fmt: skip
# What is begun in another way than by a name and a key.
BEGUN = {"enclosures": "another enclosure"}
# An enclosure of fewer rooms offers no choice.
_LEAST_ROOMS = 2
_ONCE = {"study": "The study", "enclosure": "The enclosure", "watching": "How you watch"}
_ID = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_-]{0,63}")
# What has dates of its own, and under which key.
_DATED = {"zones": "present", "animals": "present", "groups": "present", "loggers": "placed"}


@dataclass(frozen=True, slots=True)
class Listed:
    """A thing as a list shows it: its key, its name, whether it is gone."""

    thing: Thing
    key: str
    label: str
    gone: bool = False


def listed(values: Mapping[str, Any], page: str) -> list[Listed]:
    """The things of a page, in the order of the file."""
    found = []
    for kind in PAGES[page]:
        if kind in _ONCE:
            if kind != "enclosure" or not section(values, ("enclosures",)):
                found.append(Listed(Thing(kind), "", _ONCE[kind]))
            continue
        named = "zones" if kind == "limits" else kind
        for name, one in section(values, (named,)).items():
            if isinstance(one, Mapping):
                found.append(
                    Listed(
                        Thing(kind, name),
                        str(one.get("key", "")),
                        str(one.get("label", name)),
                        _gone(one, named),
                    )
                )
    return found


def _gone(one: Mapping[str, Any], kind: str) -> bool:
    rows = one.get(_DATED.get(kind, ""))
    rows = rows if isinstance(rows, list) else [rows] if rows else []
    return bool(rows) and all(isinstance(row, Mapping) and "until" in row for row in rows)


def keys_of(values: Mapping[str, Any], *kinds: str) -> list[str]:
    """The keys in use among these kinds."""
    return [
        str(one.get("key", ""))
        for kind in kinds
        for one in section(values, (kind,)).values()
        if isinstance(one, Mapping)
    ]


def proposed_key(values: Mapping[str, Any], kind: str, label: str) -> str:
    """A key nothing has, typed without Shift as long as there are any: letters for rooms, digits for animals."""
    if kind in ("animals", "groups"):
        return free_key(keys_of(values, "animals", "groups", "zones"), "", ANIMALS)
    # Following one animal needs the keys of rooms and of behaviours at once.
    taken = keys_of(values, "zones", "behaviours", "animals", "groups")
    return free_key(taken, label)


def added(values: Mapping[str, Any], kind: str, label: str, since: When | None) -> tuple[Thing, list[Edit]]:
    """A new thing of this name: its id, its key, and since when it is there (None: from the start)."""
    named = section(values, (kind,))
    places = [str(z.get("place", "")) for z in section(values, ("zones",)).values() if isinstance(z, Mapping)]
    name = new_id(
        label, {*named, *(places if kind == "zones" else ()), *_neighbours(values, kind)}, kind[:-1]
    )
    new: dict[str, Any] = {}
    if kind == "loggers":
        # A logger's name stands in its files, so it stays as it is typed.
        name = label.strip() if _ID.fullmatch(label.strip()) and label.strip() not in named else name
        new["placed"] = [{"zone": "", **({"from": since} if since else {})}]
        return Thing(kind, name), [Edit((kind, name), new)]
    if kind in ("treatments", "phases"):
        return Thing(kind, name), [
            Edit((kind, name), {"label": label.strip(), **({"from": since} if since else {})})
        ]
    new = {"label": label.strip(), "key": proposed_key(values, kind, label), **_first_words(values, kind)}
    if since and kind in _DATED:
        new["present"] = [{"from": since}]
    return Thing(kind, name), [Edit((kind, name), new)]


def _first_words(values: Mapping[str, Any], kind: str) -> dict[str, Any]:
    """What a new thing of a kind must say besides its name and key, where that can be supposed."""
    home = _home_of_new(values, kind)
    where: dict[str, Any] = {}
    if home is not None:
        where = {"enclosure": home} if kind == "zones" else {"lives": [{"enclosure": home}]}
    return {"zones": where, "animals": where, "groups": {**where, "size": 2}, "behaviours": {"lasts": True}}[
        kind
    ]


def _home_of_new(values: Mapping[str, Any], kind: str) -> str | None:
    """Where something new stands or lives: a room in the enclosure that lacks rooms still, else the first."""
    several = list(section(values, ("enclosures",)))
    homes = [z.get("enclosure") for z in section(values, ("zones",)).values() if isinstance(z, Mapping)]
    lacking = [name for name in several if homes.count(name) < _LEAST_ROOMS] if kind == "zones" else []
    return next(iter([*lacking, *several]), None)


def _neighbours(values: Mapping[str, Any], kind: str) -> list[str]:
    """Animals and groups share their names, since a record says only who; treatments and phases likewise."""
    other = {"animals": "groups", "groups": "animals", "phases": "treatments", "treatments": "phases"}.get(
        kind
    )
    return list(section(values, (other,))) if other else []


def plain_behaviours(values: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Behaviours to choose from that are not declared yet: id, label, the sentence that tells it."""
    there = section(values, ("behaviours",))
    return [(name, label, _declared(rest).get("means", "")) for name, (_, label, rest) in BEHAVIOURS.items()
            if name not in there]  # fmt: skip


def chosen_behaviour(values: Mapping[str, Any], name: str) -> tuple[Thing, list[Edit]]:
    """A behaviour of the list, with a key that is free."""
    key, label, rest = BEHAVIOURS[name]
    taken = keys_of(values, "zones", "behaviours", "animals", "groups")
    new = {"label": label, "key": key if key not in taken else free_key(taken, label), **_declared(rest)}
    return Thing("behaviours", name), [Edit(("behaviours", name), new)]


def _declared(rest: str) -> dict[str, Any]:
    import tomllib

    return tomllib.loads(rest)


def removed(values: Mapping[str, Any], thing: Thing, until: When | None) -> list[Edit]:
    """A thing that goes. With ``until`` it stays on record up to then; without, it never was."""
    if thing.kind == "limits":
        return [Edit(base(thing), GONE)] if section(values, base(thing)) else []
    if until is not None:
        key = _DATED[thing.kind]
        return set_end((*base(thing), key), section(values, base(thing)).get(key), "until", until)
    edits = [Edit(base(thing), GONE)]
    if thing.kind == "zones":
        if section(values, ("limits", thing.id)):
            edits.append(Edit(("limits", thing.id), GONE))
        edits += _rubbed_out(values, thing.id)
    return edits


def _rubbed_out(values: Mapping[str, Any], zone: str) -> Sequence[Edit]:
    """Its cells of the sketch, unless a place of another enclosure has the same key there."""
    key = str(section(values, ("zones", zone)).get("key", ""))
    return repainted(values, home_of(values, zone), key, "")


def home_of(values: Mapping[str, Any], zone: str) -> str:
    """The enclosure a zone stands in."""
    several = section(values, ("enclosures",))
    return str(section(values, ("zones", zone)).get("enclosure", "")) if several else ONLY


def can_be_dated(thing: Thing) -> bool:
    """Whether it can have an end; behaviours and limits have none."""
    return thing.kind in _DATED


def rekeyed(values: Mapping[str, Any], zone: str, new: str) -> list[Edit]:
    """The sketch with a zone's new key in place of its old one."""
    old = str(section(values, ("zones", zone)).get("key", ""))
    others = [z for n, z in section(values, ("zones",)).items() if n != zone and isinstance(z, Mapping)]
    if not old or not new or any(o.get("key") == old for o in others):
        return []
    return repainted(values, home_of(values, zone), old, new)


def measured_in(values: Mapping[str, Any]) -> str:
    """In what the amounts of zones are given."""
    several = [one for one in section(values, ("enclosures",)).values() if isinstance(one, Mapping)]
    return str((several[0] if several else section(values, ("enclosure",))).get("measured_in", "measured_in"))
