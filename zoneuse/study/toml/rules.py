"""What must hold between the parts of a study: keys that do not collide, ids that exist, rooms that fit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from ..keys import ANIMALS, ZONES, clashes, free_key, offered
from ..labels import looks_like
from ..model import ONLY, Animal, Declaration, Group, Span
from ..names import Named
from .compared import check_compared
from .fields import Notes, overlap
from .heard import check_heard
from .tracked import check_tracked


def check_declaration(declared: Declaration, notes: Notes) -> None:
    """Note every fault and hint that only shows when the parts are seen together."""
    _check_enclosures(declared, notes)
    _check_zone_keys(declared, notes)
    _check_animal_keys(declared, notes)
    _check_behaviour_keys(declared, notes)
    _check_focal(declared, notes)
    _check_beginnings(declared, notes)
    _hint_keyless(declared, notes)
    _check_references(declared, notes)
    check_compared(declared, notes)
    check_tracked(declared, notes)
    check_heard(declared, notes)
    _check_sketches(declared, notes)
    _hint_labels(declared, notes)
    _hint_what_is_missing(declared, notes)


def _hint_labels(declared: Declaration, notes: Notes) -> None:
    """Labels nobody can tell apart, or see."""
    kinds: dict[str, Mapping[str, Named]] = {
        "zones": declared.zones, "animals": declared.animals, "groups": declared.groups,
        "behaviours": declared.behaviours,
    }  # fmt: skip
    for kind, named in kinds.items():
        first: dict[tuple[str, str], str] = {}
        for one in named.values():
            eye = looks_like(one.label)
            where = f"{kind}.{one.id}.label"
            # Zones of one place bear one label in each of their enclosures.
            twin = first.setdefault((getattr(one, "enclosure", ""), eye), one.id)
            if not eye:
                notes.hint("label-unseen", where, "cannot be seen", "", "Give it letters or digits")
            elif twin != one.id:
                notes.hint(
                    "label-twice", where, f"looks like the label of {twin}", "", "Tell them apart by a word"
                )


def _check_enclosures(declared: Declaration, notes: Notes) -> None:
    measures = {e.measured_in for e in declared.enclosures.values()}
    if len(measures) > 1:
        notes.fault(
            "measured-in", "enclosures", f"enclosures are measured in {', '.join(sorted(measures))}",
            "the same measured_in in each", "Measure all of them the same way",
        )  # fmt: skip
    for name in declared.enclosures:
        if not any(z.enclosure == name for z in declared.zones.values()):
            notes.fault(
                "no-zones",
                "zones",
                "there is no zone" if name == ONLY else f"enclosure {name} has no zone",
                "at least two zones",
                "Add [zones.NAME]",
            )


def _check_zone_keys(declared: Declaration, notes: Notes) -> None:
    by_key: dict[tuple[str, str], list[str]] = defaultdict(list)
    by_place: dict[str, set[str]] = defaultdict(set)
    for zone in declared.zones.values():
        if zone.key:
            by_key[zone.enclosure, zone.key].append(zone.id)
        by_place[zone.place].add(zone.key)
    taken = [z.key for z in declared.zones.values()]
    for (_, key), ids in by_key.items():
        for extra in ids[1:]:
            notes.fault(
                "key-twice", f"zones.{extra}.key", f"{key!r} is also the key of {ids[0]}",
                "a key of its own in its enclosure", offered(taken, extra),
            )  # fmt: skip
    for place, keys in by_place.items():
        if len(keys) > 1:
            notes.fault(
                "place-keys", "zones", f"the zones of place {place} have keys {', '.join(sorted(keys))}",
                "one key for a place in every enclosure", "Give them the same key",
            )  # fmt: skip


def all_keys(declared: Declaration) -> list[str]:
    """Every key there is, of whatever kind."""
    kinds: tuple[Mapping[str, Named], ...] = (
        declared.zones,
        declared.animals,
        declared.groups,
        declared.behaviours,
    )
    return [key for kind in kinds for key in _keys(kind).values()]


def _keys(some: Mapping[str, Named]) -> dict[str, str]:
    return {name: one.key for name, one in some.items() if one.key}


def _check_beginnings(declared: Declaration, notes: Notes) -> None:
    """No key may begin another that can be live with it: it could never be told whether more is to come."""
    everyone: Mapping[str, Animal | Group] = {**declared.animals, **declared.groups}
    named: dict[str, Mapping[str, Named]] = {
        "animals": declared.animals,
        "groups": declared.groups,
        "behaviours": declared.behaviours,
    }
    others = [(kind, name, key) for kind, some in named.items() for name, key in _keys(some).items()]
    told: set[tuple[str, str]] = set()
    for enclosure in declared.enclosures:
        zones = {z.id: z for z in declared.zones.values() if z.enclosure == enclosure}
        live = [*(("zones", name, key) for name, key in _keys(zones).items()), *others]
        for earlier, later in clashes([key for _, _, key in live]):
            (_, first, first_key), (kind, name, key) = live[earlier], live[later]
            if (kind, name) in told or _never_meet(everyone, name, first):
                continue
            told.add((kind, name))
            says = f"{key!r} begins" if len(key) == 1 else f"{key!r} goes on from"
            wanted = ("", ANIMALS) if name in everyone else (name, ZONES)
            notes.fault(
                "key-begins", f"{kind}.{name}.key", f"{says} {first_key!r}, the key of {first}",
                "keys of which none begins another, as they are typed one character after the other",
                offered([key for _, _, key in live], *wanted),
            )  # fmt: skip


def _never_meet(everyone: Mapping[str, Animal | Group], name: str, first: str) -> bool:
    """Whether these are two animals or groups of different times."""
    both = name in everyone and first in everyone
    return both and not _at_one_time(everyone[name], everyone[first])


def _at_one_time(one: Animal | Group, other: Animal | Group) -> bool:
    return any(overlap(span, theirs) for span in one.present for theirs in other.present)


def _spans(one: Animal | Group) -> list[tuple[str, Span]]:
    """Where and when an animal or group can be met: its homes cut to its presence."""
    return [
        (home.value, span)
        for home in one.lives
        for span in one.present
        if overlap(home.span, span)
    ]  # fmt: skip


def _meet(one: Animal | Group, other: Animal | Group) -> bool:
    return any(
        home == other_home and overlap(span, other_span)
        for home, span in _spans(one)
        for other_home, other_span in _spans(other)
    )


def _check_animal_keys(declared: Declaration, notes: Notes) -> None:
    everyone: Mapping[str, Animal | Group] = {**declared.animals, **declared.groups}
    for shared in declared.animals.keys() & declared.groups.keys():
        notes.fault(
            "id-twice",
            f"groups.{shared}",
            "an animal has this id too",
            "an id of its own",
            "Choose another id",
        )
    zone_keys = {z.key for z in declared.zones.values() if z.key}
    taken = [a.key for a in everyone.values()] + list(zone_keys)
    ids = [name for name, one in everyone.items() if one.key]
    for i, name in enumerate(ids):
        kind = "animals" if name in declared.animals else "groups"
        if everyone[name].key in zone_keys:
            notes.fault(
                "key-collision", f"{kind}.{name}.key", f"{everyone[name].key!r} is also a zone's key",
                "a key no zone has", offered(taken, "", ANIMALS),
            )  # fmt: skip
        for earlier in ids[:i]:
            if everyone[name].key == everyone[earlier].key and _meet(everyone[name], everyone[earlier]):
                notes.fault(
                    "key-twice", f"{kind}.{name}.key", f"{everyone[name].key!r} is also the key of {earlier}",
                    "a key of its own among those that live together", offered(taken, "", ANIMALS),
                )  # fmt: skip
                break


def _check_behaviour_keys(declared: Declaration, notes: Notes) -> None:
    seen: dict[str, str] = {}
    for behaviour in declared.behaviours.values():
        first = seen.setdefault(behaviour.key, behaviour.id) if behaviour.key else behaviour.id
        if first != behaviour.id:
            notes.fault(
                "key-twice", f"behaviours.{behaviour.id}.key", f"{behaviour.key!r} is {first}'s key too",
                "a key of its own", offered([b.key for b in declared.behaviours.values()], behaviour.id),
            )  # fmt: skip


def focal_collisions(declared: Declaration) -> list[tuple[str, str, str]]:
    """Behaviours whose key is also a zone's, which focal sampling cannot tell apart.

    Rows of (behaviour, zone, a key that is free for the behaviour).
    """
    zones = {z.key: z.id for z in declared.zones.values() if z.key}
    taken = [*zones, *(b.key for b in declared.behaviours.values())]
    return [
        (b.id, zones[b.key], free_key(taken, b.id)) for b in declared.behaviours.values() if b.key in zones
    ]


def _check_focal(declared: Declaration, notes: Notes) -> None:
    focal = declared.watching.method == "focal"
    for behaviour, zone, offer in focal_collisions(declared):
        note = notes.fault if focal else notes.hint
        note(
            "key-collision", f"behaviours.{behaviour}.key", f"its key is also the key of zone {zone}",
            "different keys, since both are live at once when one animal is followed (focal)",
            f'{offer!r} is free: key = "{offer}"' + ("" if focal else "; scans work as it is"),
        )  # fmt: skip


def _check_references(declared: Declaration, notes: Notes) -> None:
    for logger in declared.loggers.values():
        placed = logger.placed or logger.model_in
        for i, one in enumerate(logger.worn):
            if one.animal not in declared.animals:
                notes.unknown(
                    f"loggers.{logger.id}.worn[{i + 1}].animal", one.animal, declared.animals, "animal"
                )
        for i, placement in enumerate(placed):
            if placement.zone not in declared.zones:
                notes.unknown(
                    f"loggers.{logger.id}.placed[{i + 1}].zone", placement.zone, declared.zones, "zone"
                )
            mine = Span(placement.start, placement.until)
            if any(overlap(mine, Span(other.start, other.until)) for other in placed[:i]):
                notes.fault(
                    "overlap", f"loggers.{logger.id}.placed[{i + 1}]", "it lies in two places at once",
                    "one place at a time", "Give the earlier placement an until",
                )  # fmt: skip
    for zone in declared.limits:
        if zone not in declared.zones:
            notes.unknown(f"limits.{zone}", zone, declared.zones, "zone")


_PART = '; keys of two characters want their columns separated by spaces, as in "h1 h1 w"'


def _check_sketches(declared: Declaration, notes: Notes) -> None:
    for enclosure in declared.enclosures.values():
        keys = {z.key for z in declared.zones.values() if z.enclosure == enclosure.id and z.key}
        place = "enclosure.sketch" if not declared.several else f"enclosures.{enclosure.id}.sketch"
        drawn = {cell for row in enclosure.sketch for cell in row}
        for cell in sorted(drawn - keys - {"."}):
            notes.fault(
                "sketch", place, f"{cell!r} is drawn", "zones' keys, and . for nothing",
                f"Known keys: {' '.join(sorted(keys))}" + (_PART if any(len(k) > 1 for k in keys) else ""),
            )  # fmt: skip
        for key in sorted(keys - drawn) if enclosure.sketch else ():
            notes.hint(
                "sketch",
                place,
                f"the zone with key {key!r} is not drawn",
                "",
                "Draw it, so that it shows as a room",
            )


def _hint_keyless(declared: Declaration, notes: Notes) -> None:
    kinds: dict[str, Mapping[str, Named]] = {
        "zones": declared.zones,
        "animals": declared.animals,
        "groups": declared.groups,
        "behaviours": declared.behaviours,
    }
    for kind, some in kinds.items():
        without = [name for name in some if name not in _keys(some)]
        if without and len(without) < len(some):
            more = f" and {len(without) - 3} more" if len(without) > 3 else ""
            notes.hint(
                "no-key", kind, f"{', '.join(without[:3])}{more} without a key", "",
                "Tables can name them as they are; the recorder needs a key for each it is to record",
            )  # fmt: skip


def _hint_what_is_missing(declared: Declaration, notes: Notes) -> None:
    if not declared.animals and not declared.groups:
        notes.hint(
            "no-animals",
            "animals",
            "no animal is declared",
            "",
            "Add [animals.NAME] or [groups.NAME] before watching",
        )
    if not declared.behaviours:
        notes.hint(
            "no-behaviours",
            "behaviours",
            "no behaviour is declared",
            "",
            "Add [behaviours.NAME] to record what is done",
        )
    if not declared.loggers:
        notes.hint(
            "no-loggers",
            "loggers",
            "no logger is declared",
            "",
            "Add [loggers.NAME] to learn about heat and moisture",
        )
    if not any(e.lights for e in declared.enclosures.values()):
        notes.hint(
            "no-lights", "enclosure.lights", "no light schedule is declared", "",
            'Add lights = {on = "07:30", off = "19:00"}, so that mornings are compared with mornings',
        )  # fmt: skip
