"""The questions of `zoneuse new`, one at a time, with a way back; what was answered stays until it is changed."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar

from ...study import (
    BEHAVIOURS,
    MEASURES,
    QUANTITIES,
    ROLES,
    Beginning,
    choice,
    clock_pair,
    local_timezone,
    nearest_time_zones,
    number,
    time_zone_named,
    visible,
    zone_ids_and_keys,
)
from ..narration import ask, say

_BACK = "<"
_LIMIT = re.compile(r"(.+?) +(min|max) +([-+]?\d+(?:[.,]\d+)?)")
_LOGGER = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_-]{0,63}")


class _GoBackError(Exception):
    """The keeper wants the question before this one."""


def ask_beginning() -> Beginning:
    """A few questions; everything can be changed in the file afterwards."""
    say(f"A few questions. Enter accepts what is in brackets, {_BACK} goes back one question.")
    found = Beginning(timezone=local_timezone(), zones=(), animals=())
    at = 0
    while at < len(_STEPS):
        try:
            found = _STEPS[at](found)
            at += 1
        except _GoBackError:
            at = max(0, at - 1)
    return found


def _asked(question: str, default: str | None = "") -> str:
    text: str = ask(question, default=default, show_default=bool(default))
    if text.strip() == _BACK:
        raise _GoBackError
    return text.strip()


def _title(found: Beginning) -> Beginning:
    return replace(found, title=_asked("What is the study to be called", found.title))


def _species(found: Beginning) -> Beginning:
    return replace(found, species=_asked("Which species lives in it (Enter: later)", found.species))


def _timezone(found: Beginning) -> Beginning:
    while True:
        text = _asked("Your time zone", found.timezone)
        if name := time_zone_named(text):
            return replace(found, timezone=name)
        say(f"  There is not a time zone {visible(text)!r}. {nearest_time_zones(text)}.")


def _nocturnal(found: Beginning) -> Beginning:
    while True:
        text = _asked("Is it active at night (y/n)", "y" if found.nocturnal else "n").lower()
        if text in ("y", "yes", "n", "no"):
            return replace(found, nocturnal=text.startswith("y"))


def _measured(found: Beginning) -> Beginning:
    while True:
        text = _asked(f"Zones are measured in ({', '.join(MEASURES)})", found.measured_in)
        if text in MEASURES:
            return replace(found, measured_in=text)


def _zones(found: Beginning) -> Beginning:
    say(f"Its zones, and how much of each there is ({found.measured_in}), one a line: Moist hide 400")
    for at, (label, amount) in enumerate(found.zones, 1):
        say(f"  {at}  {visible(label)} {amount:g}")
    zones = _listed(
        lambda n: f"Zone {n + 1} (Enter: done)",
        found.zones,
        _zone,
        lambda zone: f"{visible(zone[0])} {zone[1]:g}",
    )
    kept = dict(enumerate(zones))
    # Roles, loggers and limits of zones that are gone again go with them.
    return replace(
        found, zones=tuple(zones) or Beginning().zones, roles=tuple(r for r in found.roles if r[0] in kept),
        loggers=tuple(x for x in found.loggers if x[1] in kept), limits=tuple(x for x in found.limits if x[0] in kept),
    )  # fmt: skip


def _zone(line: str, _: Sequence[object]) -> tuple[str, float]:
    label, _, amount = line.rpartition(" ")
    value = number(amount)
    if not label or isinstance(value, str) or value <= 0:
        raise ValueError("A name and a number, please: Moist hide 400")
    return label.strip(), float(value)


def _roles(found: Beginning) -> Beginning:
    say(f"What they are for, where it is one of: {', '.join(ROLES)}.")
    for at, (label, _) in enumerate(found.zones, 1):
        say(f"  {at}  {visible(label)}")

    def role(line: str, _: Sequence[object]) -> tuple[int, str]:
        which, _, what = line.partition(" ")
        named = choice(what.strip(), ROLES)
        if not which.isdecimal() or not 1 <= int(which) <= len(found.zones) or named not in ROLES:
            raise ValueError(f"A zone's number and one of these, please: 1 {ROLES[0]}")
        return int(which) - 1, named

    roles = _listed(
        lambda n: f"A zone's number and what it is for, as in 1 {ROLES[0]} (Enter: {'no more' if n else 'none'})",
        found.roles, role, lambda one: f"{visible(found.zones[one[0]][0])}: {one[1]}",
    )  # fmt: skip
    return replace(found, roles=tuple(dict(roles).items()))


def _animals(found: Beginning) -> Beginning:
    names = _asked("Your animals' names, with commas between", ", ".join(found.animals) or "Animal one")
    return replace(found, animals=tuple(n.strip() for n in names.split(",") if n.strip()) or ("Animal one",))


def _groups(found: Beginning) -> Beginning:
    def group(line: str, groups: Sequence[object]) -> tuple[str, int]:
        label, _, size = line.rpartition(" ")
        if not label.strip() or not size.isdecimal() or int(size) < 1:
            raise ValueError("A name and a whole number, please: Young 6")
        return label.strip(), int(size)

    groups = _listed(
        lambda n: f"Animals you cannot tell apart, and how many, as in Young 6 (Enter: {'no more' if n else 'none'})",
        found.groups, group, lambda one: f"{visible(one[0])} {one[1]}",
    )  # fmt: skip
    return replace(found, groups=tuple(groups))


def _lights(found: Beginning) -> Beginning:
    usual = "-".join(found.lights) if found.lights else "none"
    while True:
        text = _asked("When are its lights on (none: there are none)", usual).lower()
        if text == "none":
            return replace(found, lights=None)
        pair = clock_pair(text)
        if isinstance(pair, list) and len(pair) == 2:
            return replace(found, lights=(str(pair[0]), str(pair[1])))
        say("  Two times, please: 7:30-19:30")


def _behaviours(found: Beginning) -> Beginning:
    for key, label, rest in BEHAVIOURS.values():
        means = rest.partition('means = "')[2].rstrip('"')
        say(f"  {key}  {label}{': ' + means if means else ''}")
    usual = "".join(BEHAVIOURS[name][0] for name in found.behaviours)
    by_key = {key: name for name, (key, _, _) in BEHAVIOURS.items()}
    while True:
        letters = (
            _asked("Which of these do you want to record (their letters)", usual).replace(",", "").split()
        )
        keys = list(dict.fromkeys("".join(letters)))
        if keys and all(key in by_key for key in keys):
            return replace(found, behaviours=tuple(by_key[key] for key in keys))
        say("  Letters of the list, as in rmf.")


def _loggers(found: Beginning) -> Beginning:
    named = _keys(found)
    say("The keys to record with:")
    for key, at in named.items():
        say(f"  {key}  {visible(found.zones[at][0])}")

    def logger(line: str, loggers: Sequence[object]) -> tuple[str, int]:
        name, _, key = line.rpartition(" ")
        taken = {one[0] for one in loggers if isinstance(one, tuple)}
        if key not in named or not _LOGGER.fullmatch(name.strip()) or name.strip() in taken:
            raise ValueError("A name of letters and digits not given yet, and a zone's key: L1 m")
        return name.strip(), named[key]

    loggers = _listed(
        lambda _: "A logger and the key of the zone it lies in, as in L1 m (Enter: no more)",
        found.loggers, logger, lambda one: one[0],
    )  # fmt: skip
    return replace(found, loggers=tuple(loggers))


def _limits(found: Beginning) -> Beginning:
    named = _keys(found)
    first = next(iter(named), "m")
    example = f"{first} humidity min 75"
    say("Limits of your own, which the recorder warns of; zoneuse has none for any species.")

    def limit(line: str, _: Sequence[object]) -> tuple[int, str, str, float]:
        key, _, rest = line.partition(" ")
        read = _LIMIT.fullmatch(rest.strip().lower())
        what, end, value = read.groups() if read else ("", "", "")
        names = [
            name
            for name, q in QUANTITIES.items()
            if what and q.label.lower().startswith(what) and not q.derived_from
        ]
        if key not in named or len(names) != 1:
            raise ValueError(f"A zone's key, what, min or max, and how much, please: {example}")
        return named[key], names[0], "low" if end == "min" else "high", float(value.replace(",", "."))

    limits = _listed(
        lambda n: f"A limit, as in {example} or {first} temperature max 28 (Enter: {'no more' if n else 'none'})",
        found.limits, limit, lambda one: f"{visible(found.zones[one[0]][0])}, {QUANTITIES[one[1]].label}",
    )  # fmt: skip
    return replace(found, limits=tuple(limits))


def _keys(found: Beginning) -> dict[str, int]:
    """The number of each zone by the key it gets."""
    named = zone_ids_and_keys([label for label, _ in found.zones], found.behaviours)
    return {key: at for at, (_, key) in enumerate(named)}


T = TypeVar("T")


def _listed(
    asks: Callable[[int], str],
    begun: Sequence[T],
    read: Callable[[str, Sequence[T]], T],
    named: Callable[[T], str],
) -> list[T]:
    """A line each until an empty one. Back takes the last one away first, so that a slip is not the end of it."""
    found = list(begun)
    while True:
        try:
            line = _asked(asks(len(found)))
        except _GoBackError:
            if not found:
                raise
            say(f"  {named(found.pop())} is taken off the list.")
            continue
        if not line:
            return found
        try:
            found.append(read(line, found))
        except ValueError as error:
            say(f"  {error}")


_STEPS: tuple[Callable[[Beginning], Beginning], ...] = (
    _title, _species, _timezone, _nocturnal, _measured, _zones, _roles, _animals, _groups, _behaviours, _lights,
    _loggers, _limits,
)  # fmt: skip
