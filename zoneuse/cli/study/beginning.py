"""The questions of `zoneuse new`, one at a time, with a way back; what was answered stays until it is changed."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import click

from ...study.labels import visible
from ...study.model import MEASURES
from ...study.time_zones import nearest_time_zones, time_zone_named
from ...study.toml.starter import BEHAVIOURS, Beginning, local_timezone, zone_ids_and_keys
from ..narration import say

_BACK = "<"
_LOGGER = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_-]{0,63}")


class _GoBackError(Exception):
    """The keeper wants the question before this one."""


def ask_beginning() -> Beginning:
    """A few questions; everything can be changed in the file afterwards."""
    say(f"A few questions. Enter takes what stands in brackets, {_BACK} goes back one question.")
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
    text: str = click.prompt(question, default=default, show_default=bool(default), err=True)
    if text.strip() == _BACK:
        raise _GoBackError
    return text.strip()


def _title(found: Beginning) -> Beginning:
    return replace(found, title=_asked("What shall the study be called", found.title))


def _species(found: Beginning) -> Beginning:
    return replace(found, species=_asked("Which species lives in it (Enter: later)", found.species))


def _timezone(found: Beginning) -> Beginning:
    while True:
        text = _asked("Your time zone", found.timezone)
        if name := time_zone_named(text):
            return replace(found, timezone=name)
        say(f"  There is no time zone {visible(text)!r}. {nearest_time_zones(text)}.")


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
    zones = list(found.zones)
    _show_zones(zones)
    while line := _zone_line(zones):
        label, _, amount = line.rpartition(" ")
        try:
            value = float(amount.replace(",", "."))
        except ValueError:
            value = -1.0
        if label and 0 < value < float("inf"):
            zones.append((label.strip(), value))
        else:
            say("  A name and a number, please: Moist hide 400")
    return replace(found, zones=tuple(zones) or Beginning().zones)


def _show_zones(zones: list[tuple[str, float]]) -> None:
    for number, (label, amount) in enumerate(zones, 1):
        say(f"  {number}  {visible(label)} {amount:g}")


def _zone_line(zones: list[tuple[str, float]]) -> str:
    """The next zone. Back takes the last one away first, so that a slip is not the end of the list."""
    while True:
        try:
            return _asked(f"Zone {len(zones) + 1} (Enter: done)")
        except _GoBackError:
            if not zones:
                raise
            label, amount = zones.pop()
            say(f"  {visible(label)} {amount:g} is taken off the list.")


def _animals(found: Beginning) -> Beginning:
    names = _asked("Your animals' names, with commas between", ", ".join(found.animals) or "Animal one")
    return replace(found, animals=tuple(n.strip() for n in names.split(",") if n.strip()) or ("Animal one",))


def _behaviours(found: Beginning) -> Beginning:
    for key, label, rest in BEHAVIOURS.values():
        means = rest.partition('means = "')[2].rstrip('"')
        say(f"  {key}  {label}{': ' + means if means else ''}")
    usual = "".join(BEHAVIOURS[name][0] for name in found.behaviours)
    by_key = {key: name for name, (key, _, _) in BEHAVIOURS.items()}
    while True:
        letters = _asked("Which of these shall be recorded (their letters)", usual).replace(",", "").split()
        keys = list(dict.fromkeys("".join(letters)))
        if keys and all(key in by_key for key in keys):
            return replace(found, behaviours=tuple(by_key[key] for key in keys))
        say("  Letters of the list, as in rmf.")


def _loggers(found: Beginning) -> Beginning:
    named = zone_ids_and_keys([label for label, _ in found.zones], found.behaviours)
    say("The keys to record with:")
    for (label, _), (_, key) in zip(found.zones, named, strict=True):
        say(f"  {key}  {visible(label)}")
    loggers = [(name, where) for name, where in found.loggers if where < len(named)]
    while line := _logger_line(loggers):
        name, _, key = line.rpartition(" ")
        where = next((i for i, (_, k) in enumerate(named) if k == key), None)
        if where is None or not _LOGGER.fullmatch(name.strip()) or name.strip() in dict(loggers):
            say("  A name of letters and digits not given yet, and a zone's key: L1 m")
        else:
            loggers.append((name.strip(), where))
    return replace(found, loggers=tuple(loggers))


def _logger_line(loggers: list[tuple[str, int]]) -> str:
    """The next logger. Back takes the last one away first."""
    while True:
        try:
            return _asked("A logger and the key of the zone it lies in, as in L1 m (Enter: no more)")
        except _GoBackError:
            if not loggers:
                raise
            say(f"  {loggers.pop()[0]} is taken off the list.")


_STEPS: tuple[Callable[[Beginning], Beginning], ...] = (
    _title, _species, _timezone, _nocturnal, _measured, _zones, _animals, _behaviours, _loggers,
)  # fmt: skip
