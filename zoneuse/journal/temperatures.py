"""Take in a table of body temperatures, or of a thermal camera's spots: each comes in once, undo takes it out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from ..study import (
    Declaration,
    Problem,
    ProblemError,
    UnknownNameError,
    fahrenheit_to_celsius,
    find_who,
    to_ms,
)
from ..study.model import Animal
from .fold import reference
from .past.cells import Cells, named_columns
from .past.headers import find_columns
from .past.local_times import EXPECTED, in_utc, read_clock_time
from .past.table import ReadAs, TableFile
from .past.timed import TimeReader, with_times
from .reader import Journals, Session
from .rows import RecordToWrite, write_rows

TEMP = "temp"
# What heads a column of temperatures, the likeliest first.
_HEADS = ("body", "tb", "skin", "spot", "temp", "celsius", "fahrenheit", "°c", "°f", "value")
_FAHRENHEIT = re.compile(r"fahrenheit|°\s*f|[\[(_ ]f[\])]?$")
_CELSIUS = re.compile(r"celsius|°\s*c|[\[(_ ]c[\])]?$")
_NUMBER = re.compile(r"(-?\d+(?:[.,]\d+)?)\s*°?\s*([cCfF]?)")
# What a body can be; beyond it is a slip or a spot beside the animal.
POSSIBLE_C = (-5.0, 60.0)


@dataclass(frozen=True, slots=True)
class Temperature:
    """One body temperature of a table, in °C."""

    line: int
    animal: str
    at: datetime
    value: float


@dataclass(frozen=True, slots=True)
class Temperatures:
    """What a table says: its good rows, what is wrong with the others, the ``column`` and ``unit`` they are read by."""

    path: Path
    sha256: str
    good: tuple[Temperature, ...]
    refused: tuple[Problem, ...]
    column: str
    unit: str


def read_temperatures(
    declared: Declaration, cells: Cells, read: TimeReader, dates: Sequence[str] = ()
) -> Temperatures:
    """The rows of a table with columns of animal, time and temperature.

    °F where the column's head or the cell says so, else in the unit of the study. Raises ProblemError with every
    column that is missing, UndecidedDatesError where day and month could be either way round.
    """
    found = find_columns(cells.header, {})
    missing = [p for p in found.problems if "'zone'" not in p.found]
    column = _column(cells.header, set(found.places.values()))
    if column is None:
        missing.append(
            Problem("column", "", "header", "there is no column of temperatures", "a column headed temperature, "
                    "body_c, Temperature [°F] or the like", "Head it so")
        )  # fmt: skip
    if missing or column is None:
        raise ProblemError(
            Problem(
                p.code,
                str(cells.path),
                "header",
                p.found,
                f"{p.expected}; the header has: {named_columns(cells)}",
                p.remedy,
            )
            for p in missing
        )
    head = cells.header[column]
    unit = "F" if _FAHRENHEIT.search(head.casefold()) else "C" if _CELSIUS.search(head.casefold()) else ""
    unit = unit or ("F" if declared.fahrenheit else "C")
    rows = tuple((line, _row(row, found.places, column)) for line, row in cells.rows)
    read_as = ReadAs(dates=dates[0] if dates else "")
    timed = with_times(TableFile(cells.path, cells.sha256, rows, cells.header, (), read_as), read)
    good, refused = _understood(declared, timed, unit)
    return Temperatures(cells.path, cells.sha256, tuple(good), tuple(refused), head, unit)


def _column(header: Sequence[str], taken: set[int]) -> int | None:
    heads = [(i, h.casefold()) for i, h in enumerate(header) if i not in taken]
    for word in _HEADS:
        for i, head in heads:
            if re.search(rf"(?<![^\W_]){re.escape(word)}" if word[0].isalpha() else re.escape(word), head):
                return i
    return None


def _row(row: Sequence[str], places: object, column: int) -> dict[str, str]:
    where = dict(places) | {"temperature": column}  # type: ignore[call-overload]
    wanted = ("animal", "at", "date", "time", "temperature")
    return {name: row[i] if i < len(row) else "" for name, i in where.items() if name in wanted}


def _understood(
    declared: Declaration, table: TableFile, unit: str
) -> tuple[list[Temperature], list[Problem]]:
    good, refused = [], []
    clock: list[tuple[int, dict[str, str], datetime]] = []
    for line, row in table.rows:
        try:
            clock.append((line, dict(row), read_clock_time(row["at"])))
        except ValueError:
            refused.append(_refusal(table, line, "at", f"found {row['at'][:40]!r}", EXPECTED))
    for (line, row, _), at in zip(clock, in_utc([at for *_, at in clock], declared.timezone), strict=True):
        if isinstance(at, str):
            refused.append(_refusal(table, line, "at", at, "a time that existed once"))
            continue
        try:
            who = find_who(declared, row.get("animal", ""), at)
        except UnknownNameError as error:
            refused.append(_refusal(table, line, "animal", str(error), "an animal of the study"))
            continue
        value = _degrees(row["temperature"], unit)
        if not isinstance(who, Animal):
            refused.append(_refusal(table, line, "animal", f"{who.id} is a group", "one animal"))
        elif value is None or not POSSIBLE_C[0] <= value <= POSSIBLE_C[1]:
            text = f"found {row['temperature'][:40]!r}" + ("" if value is None else f", {value:g} °C")
            refused.append(_refusal(table, line, "temperature", text, "a temperature a body can have"))
        else:
            good.append(Temperature(line, who.id, at, value))
    return good, sorted(refused, key=lambda p: int(p.place.split(",")[0].split()[1]))


def _degrees(text: str, unit: str) -> float | None:
    found = _NUMBER.fullmatch(text.strip())
    if found is None:
        return None
    number = float(found[1].replace(",", "."))
    said = found[2].upper() or unit
    return round(fahrenheit_to_celsius(number), 2) if said == "F" else number


def _refusal(table: TableFile, line: int, column: str, found: str, expected: str) -> Problem:
    return Problem("row", str(table.path), f"line {line}, column {column}", found, expected, "")


def not_yet_here(read: Temperatures, journals: Journals) -> list[Temperature]:
    """The rows whose animal has no such temperature on record at that moment; of two alike in the table, one."""
    here = {
        (e.record.get("animal"), to_ms(e.record.at), e.record.get("value"))
        for e in journals.entries("context")
        if e.record.get("what") == TEMP
    }
    fresh = []
    for one in read.good:
        key = one.animal, to_ms(one.at), one.value
        if key not in here:
            here.add(key)
            fresh.append(one)
    return fresh


def take_in_temperatures(
    declared: Declaration, read: Temperatures, fresh: Sequence[Temperature], now: datetime
) -> None:
    """Put them on record in one file of the journal, or nothing. Raises OSError where the disk refuses."""
    rows = [
        RecordToWrite("context", {"what": TEMP, "animal": one.animal, "value": one.value}, one.at)
        for one in sorted(fresh, key=lambda one: one.at)
    ]
    write_rows(declared, now, rows, source={"name": read.path.name, "sha256": read.sha256})


def undo_temperatures(declared: Declaration, name: str, journals: Journals, now: datetime) -> int:
    """Take back what came from the temperature tables of that name; how many records that were."""
    places = [
        entry.place
        for session in journals.sessions.values()
        if not session.watched and name in set(_sources(session))
        for entry in session.entries
        if entry.record.kind == "context" and entry.record.get("what") == TEMP
    ]
    if places:
        write_rows(declared, now, [RecordToWrite("took-back", {"of": reference(place)}) for place in places])
    return len(places)


def _sources(session: Session) -> Iterator[str]:
    for entry in session.entries:
        if entry.record.kind == "opened" and isinstance(source := entry.record.get("source"), dict):
            yield str(source.get("name"))
