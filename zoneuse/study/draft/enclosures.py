"""Another enclosure beside those there are: the first one gets a name, and the new one may have the same rooms."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..ids import new_id
from ..toml.edits import Edit, MovedTo
from .dated import When, value_now
from .forms import section

# What is the same of a like place in another enclosure.
_ALIKE = ("label", "key", "amount", "role", "serves", "cover", "daily", "as")
_SAME_FOR_ALL = ("measured_in", "lights", "sketch")


def named_first(values: Mapping[str, Any], label: str) -> tuple[str, list[Edit]]:
    """The id of the first enclosure, and the edits by which the only one gets it: its rooms and animals say so too."""
    several = section(values, ("enclosures",))
    if several:
        return next(iter(several)), []
    name = new_id(label, (), "enclosure_1")
    edits = [Edit(("enclosure",), MovedTo(("enclosures", name)))]
    edits += [Edit(("zones", zone, "enclosure"), name) for zone in section(values, ("zones",))]
    for kind in ("animals", "groups"):
        edits += [Edit((kind, one, "lives"), [{"enclosure": name}]) for one in section(values, (kind,))]
    return name, edits


def another(
    values: Mapping[str, Any], label: str, like: str, rooms: bool, since: When | None = None
) -> tuple[str, list[Edit]]:
    """The id of a new enclosure and its edits: measured and lit as ``like``, and with ``rooms`` of the same places."""
    name = new_id(label, {like, *section(values, ("enclosures",))}, "enclosure")
    first = section(values, ("enclosures", like)) or section(values, ("enclosure",))
    kept = {k: first[k] for k in _SAME_FOR_ALL if k in first and (rooms or k != "sketch")}
    if "lights" in kept:
        kept["lights"] = value_now(kept["lights"])
    edits = [Edit(("enclosures", name), kept)]
    zones = section(values, ("zones",))
    taken = set(zones)
    for zone, one in zones.items() if rooms else ():
        if not isinstance(one, Mapping) or one.get("enclosure", like) != like:
            continue
        if "place" not in one:
            edits.append(Edit(("zones", zone, "place"), zone))
        new: dict[str, Any] = {k: value_now(one[k]) for k in _ALIKE if k in one}
        new |= {"enclosure": name, "place": one.get("place", zone)}
        if since:
            new["present"] = [{"from": since}]
        twin = new_id(f"{new['place']} {name}", taken)
        taken.add(twin)
        edits.append(Edit(("zones", twin), new))
    return name, edits
