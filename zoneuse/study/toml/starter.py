"""Start a study folder: a study.toml that passes `check`, to be changed into the keeper's own."""

from __future__ import annotations

import json
import os
import secrets
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import available_timezones

from ..durable import make_folder, sync_folder
from ..ids import new_id
from ..keys import free_key
from ..problems import fault
from .file import FILE_NAME


@dataclass(frozen=True, slots=True)
class Beginning:
    """What a few questions yield; the defaults make a starter study to edit.

    ``zones`` are (label, amount), ``roles`` (the number of a zone, its role), ``groups`` (label, size), ``loggers``
    (id, the number of the zone it lies in), ``limits`` (the number of a zone, a quantity, "low" or "high", the
    value); zones are numbered from 0. ``lights`` are on and off, None where there are none.
    """

    title: str = "My enclosure"
    species: str = ""
    timezone: str = "UTC"
    nocturnal: bool = False
    measured_in: str = "floor_cm2"
    zones: Sequence[tuple[str, float]] = (("Warm end", 1200.0), ("Cool end", 1200.0), ("Moist hide", 400.0))
    animals: Sequence[str] = ("Animal one",)
    behaviours: Sequence[str] = ("resting", "moving", "feeding", "drinking", "other")
    loggers: Sequence[tuple[str, int]] = ()
    roles: Sequence[tuple[int, str]] = ()
    groups: Sequence[tuple[str, int]] = ()
    lights: tuple[str, str] | None = ("07:30", "19:30")
    limits: Sequence[tuple[int, str, str, float]] = ()


def local_timezone(environ: dict[str, str] | None = None) -> str:
    """The machine's IANA time zone where it can be told, else UTC."""
    known = available_timezones()
    name = (os.environ if environ is None else environ).get("TZ", "").lstrip(":")
    if name in known:
        return name
    parts = os.path.realpath("/etc/localtime").split("zoneinfo/")
    return parts[1] if len(parts) == 2 and parts[1] in known else "UTC"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


_HEAD = """\
# A study of one enclosure. Everything here is yours to change; `zoneuse check` says what is wrong or missing.
# Ids (the names in brackets) are permanent: what is gone gets an until date, it is never deleted.
format = 1
title = {title}
timezone = {timezone}
day_starts = "{day_starts}"{species}

[enclosure]
measured_in = "{measured_in}"{lights}
"""

# Plain behaviours to choose from: key, label, the lines that declare it.
BEHAVIOURS: dict[str, tuple[str, str, str]] = {
    "resting": ("r", "Resting", 'lasts = true\nactive = false\nmeans = "Body still for at least 3 s"'),
    "moving": (
        "m",
        "Moving",
        'lasts = true\nactive = true\nmeans = "More than one body length in the interval"',
    ),
    "feeding": ("f", "Feeding", 'lasts = true\nactive = true\nmeans = "Taking, holding or swallowing food"'),
    "basking": (
        "b",
        "Basking",
        'lasts = true\nactive = false\nmeans = "Still, body in the light or on the warm spot"',
    ),
    "climbing": ("c", "Climbing", 'lasts = true\nactive = true\nmeans = "All feet off the ground, moving"'),
    "digging": ("g", "Digging", 'lasts = true\nactive = true\nmeans = "Moving substrate with feet or snout"'),
    "drinking": ("d", "Drinking", 'lasts = false\nmeans = "Mouth on water, swallowing"'),
    "other": ("o", "Something else", "lasts = true"),
}
USUAL = ("resting", "moving", "feeding", "drinking", "other")

_WATCHING = """\
[watching]
observer = "keeper"
method = "scan"
every_s = 60
minutes = 10
"""

_NO_LOGGER = """\
# A logger, once one lies in a zone (remove the # and give it your zone):
# [loggers.L1]
# placed = [{zone = "ZONE", from = 2026-01-01T10:00:00, spot = "under bark"}]
"""


def zone_ids_and_keys(labels: Sequence[str], behaviours: Sequence[str] = USUAL) -> list[tuple[str, str]]:
    """The id and key each zone gets. Following one animal needs zones' and behaviours' keys at once: none is shared."""
    ids: list[str] = []
    keys: list[str] = []
    taken = [BEHAVIOURS[name][0] for name in behaviours]
    for label in labels:
        ids.append(new_id(label, ids))
        keys.append(free_key([*keys, *taken], ids[-1]))
    return list(zip(ids, keys, strict=True))


def starter_text(beginning: Beginning) -> str:
    """A whole study.toml. Its keys never collide, whatever the labels."""
    species = f"\nspecies = {_quoted(beginning.species)}" if beginning.species else ""
    blocks = [
        _HEAD.format(
            title=_quoted(beginning.title),
            timezone=_quoted(beginning.timezone),
            day_starts="12:00" if beginning.nocturnal else "00:00",
            species=species,
            measured_in=beginning.measured_in,
            lights='\nlights = {{on = "{}", off = "{}"}}'.format(*beginning.lights)
            if beginning.lights
            else "",
        )
    ]
    zones = zone_ids_and_keys([label for label, _ in beginning.zones], beginning.behaviours)
    roles = dict(beginning.roles)
    for where, ((label, amount), (name, key)) in enumerate(zip(beginning.zones, zones, strict=True)):
        role = f'role = "{roles[where]}"\n' if where in roles else ""
        blocks.append(f'[zones.{name}]\nlabel = {_quoted(label)}\nkey = "{key}"\namount = {amount:g}\n{role}')
    blocks += _living(beginning)
    for name in beginning.behaviours:
        key, label, rest = BEHAVIOURS[name]
        blocks.append(f'[behaviours.{name}]\nlabel = "{label}"\nkey = "{key}"\n{rest}\n')
    blocks.append(_WATCHING)
    for name, where in beginning.loggers:
        blocks.append(f'[loggers.{name}]\nplaced = [{{zone = "{zones[where][0]}"}}]\n')
    if not beginning.loggers:
        blocks.append(_NO_LOGGER)
    return "\n".join([*blocks, *_limits(beginning, [name for name, _ in zones])])


def _living(beginning: Beginning) -> list[str]:
    """Animals and groups: they share their names and keys."""
    blocks: list[str] = []
    ids: list[str] = []
    keys = iter("123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    for number, label in enumerate(beginning.animals):
        ids.append(new_id(label, ids))
        shown = label.strip() or f"Animal {number + 1}"
        blocks.append(f'[animals.{ids[-1]}]\nlabel = {_quoted(shown)}\nkey = "{next(keys, "")}"\n')
    for label, size in beginning.groups:
        ids.append(new_id(label, ids))
        blocks.append(
            f'[groups.{ids[-1]}]\nlabel = {_quoted(label)}\nkey = "{next(keys, "")}"\nsize = {size}\n'
        )
    return blocks


def _limits(beginning: Beginning, zones: Sequence[str]) -> list[str]:
    """A table for each zone that has limits, a line for each quantity."""
    found: dict[str, dict[str, dict[str, float]]] = {}
    for zone, quantity, end, value in beginning.limits:
        found.setdefault(zones[zone], {}).setdefault(quantity, {})[end] = value
    blocks = []
    for name, limits in found.items():
        lines = [
            f"{quantity} = {{{', '.join(f'{end} = {ends[end]:g}' for end in ('low', 'high') if end in ends)}}}"
            for quantity, ends in limits.items()
        ]
        blocks.append("\n".join([f"[limits.{name}]", *lines, ""]))
    return blocks


def blank_text(folder: Path) -> str:
    """A study.toml not begun yet, for the screen to be filled: no zone, no animal, the usual behaviours."""
    title = folder.resolve().name.replace("-", " ").replace("_", " ").strip() or Beginning().title
    nothing = Beginning(title=title[:1].upper() + title[1:], timezone=local_timezone(), zones=(), animals=())
    return starter_text(nothing).rpartition(_NO_LOGGER)[0].rstrip("\n") + "\n"


def create_study(folder: Path, text: str) -> Path:
    """Write a new study folder, all at once. Raises ProblemError where the folder already holds something."""

    def fill(building: Path) -> None:
        with (building / FILE_NAME).open("w", encoding="utf-8") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        for name in ("journal", "readings"):
            (building / name).mkdir()

    return _build(folder, fill)


def copy_study(source: Path, folder: Path) -> Path:
    """Copy a study folder, all at once. Raises ProblemError where the target already holds something."""
    return _build(folder, lambda building: shutil.copytree(source, building, dirs_exist_ok=True))


def refuse_used(folder: Path) -> None:
    """Raise ProblemError where a new study would lie among something else."""
    if folder.is_file() or (folder.is_dir() and any(folder.iterdir())):
        raise fault(
            "not-empty", folder, "", "is already there", "a new or empty folder", remedy="Choose another name"
        )


def _build(folder: Path, fill: Callable[[Path], object]) -> Path:
    """Fill a folder beside its place and rename it, so that a crash leaves no half study behind."""
    refuse_used(folder)
    make_folder(folder.parent)
    building = folder.parent / f".{folder.name}-{secrets.token_hex(4)}.tmp"
    try:
        building.mkdir()
        fill(building)
        sync_folder(building)
        building.replace(folder)
        try:
            sync_folder(folder.parent)
        except OSError:
            # Told as failed, so that it can be done again under the same name.
            shutil.rmtree(folder, ignore_errors=True)
            raise
    finally:
        shutil.rmtree(building, ignore_errors=True)
    return folder
