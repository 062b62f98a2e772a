"""Read study.toml and explain it: every fault at once, each with its key, what was found and the remedy."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from datetime import time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from ..model import ONLY, Declaration, Enclosure
from ..problems import Problem, ProblemError, fault
from ..regular import read_regular
from .compared import phase, treatment
from .entities import animal, behaviour, enclosure, group, limits, logger, set_ranges, watching, zone
from .fields import Notes, Table, shown
from .heard import live
from .rules import check_declaration
from .tracked import camera, track_table

FILE_NAME = "study.toml"
FORMAT = 1
_ID = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_-]{0,63}")
_MOST_BYTES = 8_000_000
_MOST_PARTS = 30


def read_declaration(folder: Path) -> tuple[Declaration | None, tuple[Problem, ...]]:
    """Read a study folder's study.toml.

    Returns the declaration, or None where a fault stands in the way, and every fault and hint found.
    Raises ProblemError where there is no readable TOML at all, or its format is newer than this version.
    """
    return _read(folder, _load(folder / FILE_NAME))


def read_declaration_text(folder: Path, text: str) -> tuple[Declaration | None, tuple[Problem, ...]]:
    """The same of a text that is to become the folder's study.toml."""
    return _read(folder, tomllib.loads(text))


def _read(folder: Path, raw: dict[str, Any]) -> tuple[Declaration | None, tuple[Problem, ...]]:
    path = folder / FILE_NAME
    _refuse_newer(raw, path)
    notes = Notes(str(path), declared_zone(raw) or ZoneInfo("UTC"))
    declared = _declaration(Table(raw, "", notes), folder)
    if not any(not p.hint for p in notes.problems):
        check_declaration(declared, notes)
    problems = tuple(notes.problems)
    return (None if any(not p.hint for p in problems) else declared), problems


def load_declaration(folder: Path) -> Declaration:
    """The declaration of a sound study. Raises ProblemError with every fault otherwise."""
    declared, problems = read_declaration(folder)
    if declared is None:
        raise ProblemError(p for p in problems if not p.hint)
    return declared


def _load(path: Path) -> dict[str, Any]:
    if path.parent.is_file():
        raise fault(
            "not-a-folder",
            path.parent,
            "",
            "this is a file",
            "a study folder",
            remedy="Give the folder that holds study.toml",
        )
    try:
        data = read_regular(path, _MOST_BYTES)
    except FileNotFoundError:
        raise fault(
            "no-study", path, "", "there is no study here", "a folder with a study.toml",
            remedy="Go to the study's folder, give --study DIR, or start one with: zoneuse new DIR",
        ) from None  # fmt: skip
    except OSError as error:
        raise fault(
            "unreadable",
            path,
            "",
            f"cannot be read ({error.strerror})",
            "a study.toml of a few pages",
            remedy="",
        ) from None
    if place := too_deep(data):
        raise fault(
            "too-deep", path, f"line {place}", "names are nested deeper than 30 levels", "a few levels",
            remedy="Write it as the keeper of a study would",
        )  # fmt: skip
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise fault(
            "not-text", path, f"line {line}", "this is not UTF-8 text", "a TOML text file in UTF-8",
            remedy="Save the file again as UTF-8",
        ) from None  # fmt: skip
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        # Loaded on use: a sound file needs none of it.
        from .faults import toml_fault

        raise toml_fault(path, data.decode("utf-8-sig"), error) from None


def too_deep(data: bytes) -> int:
    """The first line of a TOML text with a name of more than 30 parts; 0 without one.

    The parser takes a time that grows with the square of the depth: a name of 400 kB would hold it for an hour.
    """
    for number, line in enumerate(data.split(b"\n"), 1):
        if line.count(b".") > _MOST_PARTS:
            code = re.sub(rb"\"[^\"]*\"|'[^']*'", b"x", line).split(b"#")[0]
            if any(piece.count(b".") > _MOST_PARTS for piece in re.split(rb"[=,{}\[\]]", code)):
                return number
    return 0


def _refuse_newer(raw: dict[str, Any], path: Path) -> None:
    number = raw.get("format")
    if isinstance(number, int) and not isinstance(number, bool) and number > FORMAT:
        raise fault(
            "newer-format", path, "format", f"found format {number}",
            f"format {FORMAT} at most; this study was written by a newer zoneuse",
            remedy="Update zoneuse; nothing was touched",
        )  # fmt: skip


def declared_zone(raw: Mapping[str, Any]) -> ZoneInfo | None:
    """The time zone that a file's values name; None where there is none of that name."""
    name = raw.get("timezone")
    if not isinstance(name, str) or not name:
        return None
    try:
        # ZoneInfo itself refuses names that would leave its folder, such as "../../etc/passwd".
        return ZoneInfo(name)
    except (ValueError, LookupError, OSError):
        return None


def _declaration(top: Table, folder: Path) -> Declaration:
    notes = top.notes
    number = top.take("format", True, f"format = {FORMAT}", f"Write format = {FORMAT} at the top")
    if number is not None and (isinstance(number, bool) or number != FORMAT):
        top.wrong("format", number, f"{FORMAT}")
    _check_zone(top)
    enclosures = _enclosures(top)
    declared = Declaration(
        folder=folder,
        title=top.text("title", True),
        timezone=notes.zone,
        day_starts=top.clock("day_starts", default=time()) or time(),
        species=top.text("species"),
        fahrenheit=top.choice("temperature_unit", ("C", "F"), default="C") == "F",
        enclosures=enclosures,
        zones={i: zone(i, t, enclosures) for i, t in _named(top, "zones").items()},
        animals={i: animal(i, t, enclosures) for i, t in _named(top, "animals").items()},
        groups={i: group(i, t, enclosures) for i, t in _named(top, "groups").items()},
        behaviours={i: behaviour(i, t) for i, t in _named(top, "behaviours").items()},
        loggers={i: logger(i, t) for i, t in _named(top, "loggers").items()},
        limits={i: limits(t) for i, t in _named(top, "limits").items()},
        set_range=set_ranges(top.table("set_range")),
        treatments={i: treatment(i, t) for i, t in _named(top, "treatments").items()},
        phases={i: phase(i, t) for i, t in _named(top, "phases").items()},
        watching=watching(top.table("watching")),
        cameras={i: camera(i, t) for i, t in _named(top, "cameras").items()},
        tracks={i: track_table(i, t) for i, t in _named(top, "tracks").items()},
        live=live(top.table("live")),
    )
    _refuse_what_would_not_count(top)
    top.done()
    return declared


def _check_zone(top: Table) -> None:
    name = top.text("timezone", True, expected='an IANA time zone such as "Europe/Vienna"')
    if name and declared_zone(top.values) is None:
        # Loaded on use: the list of all names is read from the disk.
        from ..time_zones import nearest_time_zones

        expected = 'an IANA time zone such as "Europe/Vienna"'
        top.wrong("timezone", name, expected, nearest_time_zones(name))


# What people write for our sections; any other spelling is told by its likeness.
_MEANT = {
    "behaviors": "behaviours", "behavior": "behaviours", "behaviour": "behaviours", "limit": "limits",
    "animal": "animals", "zone": "zones", "group": "groups", "logger": "loggers", "sensors": "loggers",
    "phase": "phases", "treatment": "treatments", "watch": "watching", "set_ranges": "set_range",
    "camera": "cameras", "track": "tracks", "mqtt": "live",
}  # fmt: skip


def _refuse_what_would_not_count(top: Table) -> None:
    """A section under a name of no meaning: its limits would warn of nothing, its animals be on no list."""
    for name, value in top.values.items():
        if name in top.asked or not isinstance(value, dict):
            continue
        close = difflib.get_close_matches(name.lower(), top.asked, 1, 0.75)
        meant = _MEANT.get(name.lower()) or (close[0] if close else "")
        if meant in top.asked:
            example = next(iter(value), "NAME")
            top.notes.fault(
                "unknown-section", name, "is no section of study.toml, and nothing in it counts", "",
                f"Write [{meant}.{example}]" if isinstance(value.get(example), dict) else f"Write [{meant}]",
            )  # fmt: skip
            top.asked.add(name)


def _named(top: Table, kind: str) -> dict[str, Table]:
    good = {}
    for name, table in top.named(kind).items():
        if _ID.fullmatch(name):
            good[name] = table
        else:
            top.notes.fault(
                "id", f"{kind}.{shown(name)}", "is not a usable id", "letters, digits, _ and -, at most 64",
                "Choose an id that never needs to change; the label may be anything",
            )  # fmt: skip
    return good


def _enclosures(top: Table) -> dict[str, Enclosure]:
    one, several = top.table("enclosure"), _named(top, "enclosures")
    if one is not None and several:
        top.notes.fault(
            "enclosures", "enclosures", "both [enclosure] and [enclosures.NAME] are there", "one of the two",
            "Use [enclosures.NAME] for each when there are several",
        )  # fmt: skip
    if one is None and not several:
        top.notes.fault(
            "missing", "enclosure", "is missing", "[enclosure] with measured_in",
            'Add [enclosure] with measured_in = "surface_cm2" (or floor_cm2, volume_l, places)',
        )  # fmt: skip
    if one is not None and not several:
        return {ONLY: enclosure(ONLY, one)}
    return {name: enclosure(name, table) for name, table in several.items()}
