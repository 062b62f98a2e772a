"""What a session is to do: its method, its beat, and the animals and zones it is about."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from ...study import (
    ANIMALS,
    Declaration,
    Group,
    all_keys,
    focal_collisions,
    free_key,
    here,
    value_at,
    zone_offered,
    zones_known,
    zones_of,
)
from ...study.model import Animal, Behaviour, Method, Zone
from ...study.treatments import Under

MOST_SCANS = 100_000
# More than four at once nobody can follow with their eyes.
MOST_FOLLOWED = 4


@dataclass(frozen=True, slots=True)
class Who:
    """Somebody a record can be about. ``size`` is a group's, None for an animal."""

    id: str
    key: str
    label: str
    enclosure: str
    group: bool = False
    size: int | None = None

    @property
    def fields(self) -> dict[str, Any]:
        """How a record names it."""
        if not self.id:
            return {"count": 1}
        return {"group": self.id} if self.group else {"animal": self.id}


def nobody_known(enclosure: str) -> Who:
    """One of them, not known which: a record with a count and no name."""
    return Who("", "*", "One of them, not known which", enclosure)


@dataclass(frozen=True, slots=True)
class Plan:
    """One session's plan. ``every_s`` seconds from scan to scan; ``quiet_s`` seconds before the first."""

    declared: Declaration
    method: Method
    observer: str
    every_s: float
    minutes: float
    quiet_s: float
    enclosures: tuple[str, ...]
    who: tuple[Who, ...]
    behaviours: tuple[Behaviour, ...]
    # Where a round looks, in its order.
    retreats: tuple[Zone, ...] = ()
    # The enclosures asked for; a method may need fewer.
    asked_for: tuple[str, ...] = ()
    treatment: Under | None = None

    @property
    def scans(self) -> int:
        return max(1, min(MOST_SCANS, round(self.minutes * 60 / self.every_s)))

    @property
    def header(self) -> dict[str, Any]:
        """The fields of the journal's first record."""
        timed = {"every_s": _plain(self.every_s)} if self.method in ("scan", "focal") else {}
        length = {"minutes": _plain(self.minutes)} if self.method in ("scan", "focal") else {}
        under = {"treatment": self.treatment} if self.treatment else {}
        followed = {"animals": [one.id for one in self.who]} if self.method == "focal" else {}
        return {
            "study": self.declared.title,
            "observer": self.observer,
            "method": self.method,
            **timed,
            **length,
            **followed,
            **under,
        }

    def opened(self, at: datetime) -> dict[str, Any]:
        """What a part says of itself when it is opened: the plan, and the zones there are to choose from."""
        return {**self.header, "zones": zones_known(self.declared, at)}

    def zones(self, enclosure: str) -> list[Zone]:
        """Every zone of an enclosure that a key can name, in the file's order."""
        return [zone for zone in zones_of(self.declared, enclosure) if zone.key]

    def zone_by_key(self, enclosure: str) -> Mapping[str, Zone]:
        return {zone.key: zone for zone in self.zones(enclosure)}

    def offered(self, zone: Zone, at: datetime) -> bool:
        return zone_offered(self.declared, zone, at)


def _plain(number: float) -> float | int:
    return int(number) if number == int(number) else number


class PlanError(ValueError):
    """Why a session cannot be watched as asked, with the remedy."""


def people(declared: Declaration, enclosures: tuple[str, ...], at: datetime) -> tuple[Who, ...]:
    """The animals, then the groups, that live in these enclosures now, in the file's order."""
    found: list[Who] = []
    for enclosure in enclosures:
        animals, groups = here(declared, enclosure, at)
        everyone: list[Animal | Group] = [*animals, *groups]
        found += [_who(one, enclosure, at) for one in everyone]
    return tuple(found)


def _who(one: Animal | Group, enclosure: str, at: datetime) -> Who:
    if isinstance(one, Group):
        return Who(one.id, one.key, one.label, enclosure, True, value_at(one.size, at))
    return Who(one.id, one.key, one.label, enclosure)


def make_plan(
    declared: Declaration,
    at: datetime,
    *,
    method: Method | None = None,
    observer: str | None = None,
    every_s: float | None = None,
    minutes: float | None = None,
    quiet_min: float = 3.0,
    enclosures: tuple[str, ...] = (),
    animals: tuple[str, ...] = (),
    treatment: Under | None = None,
) -> Plan:
    """A session's plan from the study's habits and what was asked for. Raises PlanError with the remedy.

    ``animals`` are the ids of those to follow (focal), one to four.
    """
    chosen = method or declared.watching.method
    if chosen == "focal" and (collisions := focal_collisions(declared)):
        behaviour, zone, offer = collisions[0]
        raise PlanError(
            f"following needs different keys for zones and behaviours: {behaviour} has the key of "
            f'zone {zone}; write key = "{offer}" under [behaviours.{behaviour}] in study.toml'
        )
    places = enclosures or tuple(declared.enclosures)
    habits = declared.watching
    plan = Plan(
        declared,
        chosen,
        observer or habits.observer,
        every_s or habits.every_s,
        minutes or habits.minutes,
        max(0.0, quiet_min) * 60,
        places,
        (),
        tuple(b for b in declared.behaviours.values() if b.key),
        asked_for=places,
        treatment=treatment,
    )
    return for_method(plan, chosen, at, animals)


def for_method(plan: Plan, method: Method, at: datetime, animals: tuple[str, ...] = ()) -> Plan:
    """The same plan by this method: whom it is about, and where. Raises PlanError with the remedy."""
    places = plan.asked_for
    retreats: tuple[Zone, ...] = ()
    if method == "retreat-round":
        lived_in = tuple(e for e in places if people(plan.declared, (e,), at)) or places
        retreats = retreats_now(plan.declared, lived_in, at)
        places = tuple(dict.fromkeys(zone.enclosure for zone in retreats))
        if not retreats:
            raise PlanError('there is no retreat now; give a zone role = "retreat" in study.toml')
    who = people(plan.declared, places, at)
    if method == "focal":
        who = _followed(who, animals)
        places = tuple(dict.fromkeys(one.enclosure for one in who))
    if not who:
        raise PlanError(
            "no animal or group lives here now; add [animals.NAME] to study.toml, or see its dates"
        )
    _need_keys(plan.declared, places, who, at)
    # Looking into retreats ends all quiet: nothing is waited for.
    quiet = 0.0 if method == "retreat-round" else plan.quiet_s
    return replace(plan, method=method, enclosures=places, who=who, retreats=retreats, quiet_s=quiet)


def _need_keys(declared: Declaration, places: tuple[str, ...], who: tuple[Who, ...], at: datetime) -> None:
    """Whatever is to be recorded by keys needs one. Raises PlanError with a key for the first that has none."""
    known = set(zones_known(declared, at))
    zones = [z.id for place in places for z in zones_of(declared, place) if z.id in known and not z.key]
    nameless = zones + [one.id for one in who if not one.key]
    if not nameless:
        return
    first, taken = nameless[0], all_keys(declared)
    free = free_key(taken, first) if zones else free_key(taken, "", ANIMALS)
    more = f" and {len(nameless) - 1} more have" if len(nameless) > 1 else " has"
    raise PlanError(
        f"{first}{more} no key in study.toml, and the recorder goes by keys: give each one of one or two "
        f'characters, such as key = "{free}", which is free'
    )


def retreats_now(declared: Declaration, enclosures: tuple[str, ...], at: datetime) -> tuple[Zone, ...]:
    """The zones with the role ``retreat`` (all where none of the study has it) that are there now, in order."""
    named = any(zone.role == "retreat" for zone in declared.zones.values())
    return tuple(
        zone
        for enclosure in enclosures
        for zone in zones_of(declared, enclosure, at)
        if zone.role == "retreat" or not named
    )


def _followed(who: tuple[Who, ...], animals: tuple[str, ...]) -> tuple[Who, ...]:
    told_apart = [one for one in who if not one.group]
    if not told_apart:
        raise PlanError("no animal here now can be told apart, so none can be followed; use --method scan")
    ids = [one.id for one in told_apart]
    if not animals and len(ids) > 1:
        raise PlanError(
            f"which animal is to be followed? Give --animal with one of: {', '.join(ids)} "
            "(or up to four, as in a1,a2)"
        )
    if away := next((animal for animal in animals if animal not in ids), None):
        raise PlanError(f"{away} does not live here now; give --animal with one that does: {', '.join(ids)}")
    found = tuple(one for one in told_apart if one.id in (animals or ids))
    _check_followed(found)
    return found


def _check_followed(found: tuple[Who, ...]) -> None:
    """Raises PlanError where those cannot be followed at once."""
    if len(found) > MOST_FOLLOWED:
        raise PlanError(f"{len(found)} animals cannot be followed at once; give --animal at most four")
    if len({one.enclosure for one in found}) > 1:
        raise PlanError("those to follow live in several enclosures; give --animal with those of one")
    keys = [one.key for one in found]
    if twice := next((key for key in keys if keys.count(key) > 1), None):
        raise PlanError(f"two of those to follow have the key {twice}; give each its own in study.toml")
