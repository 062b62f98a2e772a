"""Columns that say how the others of their row are meant: the unit of its temperature, the zone of its time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta, timezone
from pathlib import Path

from zoneuse.study import fault

from ..layout import Hints, LeftOpen, TimeColumns
from .columns import FileColumn
from .headers import DEGREES, tokens_of
from .preamble import Told
from .time_columns import is_named
from .value_columns import column_meaning
from .zone_words import VAGUE_NAMES, ZoneSaid, fixed_zone, zone_said

_OFFSET = re.compile(r"([-+−])(\d{1,2}):?(\d{2})?")
_NUMBER = re.compile(r"[-+−]?\d+(?:[.,]\d+)?")
_ZONED = {"utc", "gmt", "tz", "timezone", "zeitzone", "zeitverschiebung", "fuseau", "dst"}
# A number of a column called an offset from UTC is hours, minutes or seconds by its size.
_HOURS, _MINUTES = 14, 14 * 60


def units_beside(
    rest: Sequence[FileColumn], told: Told, hints: Hints, path: Path
) -> tuple[Told, tuple[int, ...]]:
    """The unit of temperature that a column of units states for every row, and the columns that state it.

    Nothing where no column is named as a temperature: a row per value names its own. Raises ProblemError where it
    states several and no --where takes one, and where the keeper gave another.
    """
    if not any(c.meaning.quantity and c.kind == "number" for c in rest):
        return told, ()
    steady = [c for c in rest if _tells_degrees(c)]
    written = {c.meaning.unit for c in rest if c.meaning.quantity == "temperature_c"} - {""}
    for column in steady:
        units = set(map(_degrees, _wanted(column, hints)))
        if len(units) > 1 or (written and written != units):
            raise several_units(path, column.at, column.header, column.distinct)
        told = replace(told, unit=units.pop())
        _check_given(path, column, told.unit, hints)
    return told, tuple(c.at for c in steady)


def _wanted(column: FileColumn, hints: Hints) -> list[str]:
    """What a column says in the rows that are asked for."""
    given = [value for name, value in hints.where if is_named(column, [name])]
    return given[:1] or column.distinct


def _tells_degrees(column: FileColumn) -> bool:
    return column.kind == "text" and bool(column.distinct) and "" not in map(_degrees, column.distinct)


def _degrees(cell: str) -> str:
    """The unit of temperature that a cell names; empty for none."""
    return DEGREES.get(cell.strip().casefold().replace(" ", ""), "")


def _check_given(path: Path, column: FileColumn, unit: str, hints: Hints) -> None:
    given = [hints.unit] if hints.unit else []
    given += [
        found[2] for _, what in hints.columns if (found := column_meaning(what)) and found[2] in ("C", "F")
    ]
    if any(g != unit for g in given):
        raise fault(
            "other-unit", path, "", f"column {column.at + 1} {column.header!r} says that its temperatures are in "
            f"°{unit}, and °{given[0]} is given", f"°{unit}", remedy=f"Give that unit ({unit}), or leave it out",
        )  # fmt: skip


def several_units(path: Path, at: int, header: str, names: Sequence[str]) -> Exception:
    """The refusal of a column of units that does not say one thing throughout."""
    return fault(
        "several-units", path, "", f"column {at + 1} {header!r} names units that its temperatures cannot all be in: "
        f"{', '.join(names[:4])}", "one unit in the whole file",
        remedy=f"Take it in once for each: --where {at + 1}={names[0]}, then --where with the next",
    )  # fmt: skip


def with_zone_beside(
    rest: Sequence[FileColumn], time: TimeColumns, hints: Hints
) -> tuple[TimeColumns, tuple[int, ...], list[LeftOpen]]:
    """The time in the zone that a column states for every row, that column, and what is to be asked of it.

    Nothing changes where each time carries its own offset, or --tz is given.
    """
    if time.own_offset or hints.zone is not None or not time.columns:
        return time, (), []
    for column in rest:
        if not tells_zone(column):
            continue
        cells = column.distinct
        zone = _zone_in(cells[0], column).zone
        other = time.zone_from == "the file" and zone is not None and str(zone) != str(time.zone)
        if len(cells) > 1 or zone is None or other:
            return time, (), [zone_question(column.at, column.header, cells)]
        return replace(time, zone=zone, zone_from="the file"), (column.at,), []
    return time, (), []


def tells_zone(column: FileColumn) -> bool:
    """Whether each cell of a column names a zone, or an offset from UTC."""
    return bool(column.distinct) and all(_zone_in(cell, column) for cell in column.distinct)


def zone_question(at: int, header: str, names: Sequence[str]) -> LeftOpen:
    """What to ask where a column says the zone of each time, and not the same one throughout or for certain."""
    shown = ", ".join(repr(n) for n in names[:3])
    asks = f"Column {at + 1} {header!r} says in which zone each time is ({shown}), and its words do not settle it"
    return LeftOpen("zone", asks, "--tz ZONE, the one whose clocks all of its times show")


def _zone_in(cell: str, column: FileColumn) -> ZoneSaid:
    """The zone a cell states, empty where it states none."""
    named = bool(_ZONED & set(tokens_of(column.header)))
    if named and _NUMBER.fullmatch(cell):
        minutes = _as_minutes(float(cell.replace(",", ".").replace("−", "-")))
        return ZoneSaid() if minutes is None else ZoneSaid(timezone(timedelta(minutes=minutes)))
    if (found := _OFFSET.fullmatch(cell)) and (named or ":" in cell):
        return ZoneSaid(fixed_zone(found[1], found[2], found[3]))
    said = zone_said(cell)
    plain = len(cell.split()) <= 3
    return said if plain and (named or said.zone is not None or cell in VAGUE_NAMES) else ZoneSaid()


def _as_minutes(number: float) -> int | None:
    per = 60.0 if abs(number) <= _HOURS else 1.0 if abs(number) <= _MINUTES else 1 / 60
    minutes = number * per
    return (
        int(minutes) if minutes == int(minutes) and int(minutes) % 15 == 0 and abs(minutes) <= 840 else None
    )
