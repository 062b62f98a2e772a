"""What a session is to do: its method, its beat, and the animals and zones it is about."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from ...study.clock import zone_offered
from ...study.model import Animal, Behaviour, Declaration, Group, Method, Zone, value_at
from ...study.names import here, zones_of
from ...study.rules import focal_collisions

MOST_SCANS = 100_000


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

    @property
    def scans(self) -> int:
        return max(1, min(MOST_SCANS, round(self.minutes * 60 / self.every_s)))

    @property
    def header(self) -> dict[str, Any]:
        """The fields of the journal's first record."""
        timed = {"every_s": _plain(self.every_s)} if self.method in ("scan", "focal") else {}
        length = {"minutes": _plain(self.minutes)} if self.method in ("scan", "focal") else {}
        return {
            "study": self.declared.title,
            "observer": self.observer,
            "method": self.method,
            **timed,
            **length,
        }

    def zones(self, enclosure: str) -> list[Zone]:
        """Every zone of an enclosure that has not been dated out for good, in the file's order."""
        return zones_of(self.declared, enclosure)

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
    animal: str | None = None,
) -> Plan:
    """A session's plan from the study's habits and what was asked for. Raises PlanError with the remedy.

    ``animal`` is the id of the one to follow (focal).
    """
    chosen = method or declared.watching.method
    if chosen == "focal" and (collisions := focal_collisions(declared)):
        behaviour, zone, offer = collisions[0]
        raise PlanError(
            f"following one animal needs different keys for zones and behaviours: {behaviour} has the key of "
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
        tuple(declared.behaviours.values()),
        asked_for=places,
    )
    return for_method(plan, chosen, at, animal)


def for_method(plan: Plan, method: Method, at: datetime, animal: str | None = None) -> Plan:
    """The same plan by this method: whom it is about, and where. Raises PlanError with the remedy."""
    places = plan.asked_for
    retreats: tuple[Zone, ...] = ()
    if method == "retreat-round":
        lived_in = tuple(e for e in places if people(plan.declared, (e,), at)) or places
        retreats = retreats_now(plan.declared, lived_in, at)
        places = tuple(dict.fromkeys(zone.enclosure for zone in retreats))
        if not retreats:
            raise PlanError('no retreat is there now; give a zone role = "retreat" in study.toml')
    who = people(plan.declared, places, at)
    if method == "focal":
        who = _followed(who, animal)
        places = tuple(dict.fromkeys(one.enclosure for one in who))
    if not who:
        raise PlanError(
            "no animal or group lives here now; add [animals.NAME] to study.toml, or see its dates"
        )
    # Looking into retreats ends all quiet: nothing is waited for.
    quiet = 0.0 if method == "retreat-round" else plan.quiet_s
    return replace(plan, method=method, enclosures=places, who=who, retreats=retreats, quiet_s=quiet)


def retreats_now(declared: Declaration, enclosures: tuple[str, ...], at: datetime) -> tuple[Zone, ...]:
    """The zones with the role ``retreat`` (all where none of the study has it) that are there now, in order."""
    named = any(zone.role == "retreat" for zone in declared.zones.values())
    return tuple(
        zone
        for enclosure in enclosures
        for zone in zones_of(declared, enclosure, at)
        if zone.role == "retreat" or not named
    )


def _followed(who: tuple[Who, ...], animal: str | None) -> tuple[Who, ...]:
    animals = [one for one in who if not one.group]
    if not animals:
        raise PlanError(
            "no animal that is told apart lives here now, so none can be followed; use --method scan"
        )
    if animal is None and len(animals) > 1:
        names = ", ".join(one.id for one in animals)
        raise PlanError(f"which animal is to be followed? Give --animal with one of: {names}")
    found = tuple(one for one in animals if animal in (None, one.id))
    if not found:
        raise PlanError(f"{animal} does not live here now; give --animal with one that does")
    return found[:1]
