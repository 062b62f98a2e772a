"""A table of past sightings under zoneuse's own column names, however it was laid out: long or wide."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from zoneuse.study import Problem, ProblemError

from .cells import Cells, named_columns, read_cells
from .headers import COLUMNS, LASTS, HeaderPlaces, find_columns
from .local_times import dated, numbered_days

NOT_FOUND = "-"
CELLS = (*LASTS, "share", "mean")
WIDE = ("animal", "zone", "behaviour")


Rows = tuple[tuple[int, Mapping[str, str]], ...]


@dataclass(frozen=True, slots=True)
class ReadAs:
    """How a table is to be read: what flags or answers said, kept with what was taken in.

    ``columns``: our name to the header's, or to its number from 1. ``names``: the table's names to the study's
    (``-``: not found; ``zone:1`` is a name in that column only). ``gap_min``: sessions end where nothing was written
    for so long. ``cells``: what the numbers are where they are no counts (seconds, minutes, hours, share or mean), and
    ``of_s`` of how many seconds. ``day_1``: the date of day 1, where days are numbered.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    wide: str = ""
    dates: str = ""
    gap_min: float | None = None
    names: Mapping[str, str] = field(default_factory=dict)
    sheet: str = ""
    cells: str = ""
    of_s: float | None = None
    day_1: str = ""

    def kept(self) -> dict[str, Any]:
        """What is worth keeping, as a record holds it."""
        every = {name: getattr(self, name) for name in self.__slots__}
        return {
            name: dict(value) if isinstance(value, Mapping) else value
            for name, value in every.items()
            if value
        }


@dataclass(frozen=True, slots=True)
class TableFile:
    """``rows`` are (line, {column: text}); a line of a wide table gives several. ``left_out``: headers not read."""

    path: Path
    sha256: str
    rows: Rows
    header: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    read_as: ReadAs = field(default_factory=ReadAs)
    by_gaps: bool = False


def read_table(path: Path, renamed: Mapping[str, str] | None = None) -> TableFile:
    """The rows of a long table. ``renamed`` maps zoneuse's column names to the file's. Raises as `lay_out`."""
    return lay_out(read_cells(path), ReadAs(columns=renamed or {}), ())


def lay_out(cells: Cells, read_as: ReadAs, wide_names: Sequence[str] = ()) -> TableFile:
    """A table's rows, one for each sighting.

    ``wide_names``: what a column of a wide table may be headed by (the study's animals, or zones). Raises
    ProblemError with every column that is missing.
    """
    columns = find_columns(cells.header, read_as.columns, read_as.wide)
    if columns.problems:
        raise ProblemError(_told(cells, p) for p in columns.problems)
    # Beside counts of events it is how long was watched.
    counted_events = read_as.wide == "behaviour"
    if not read_as.of_s and "of" not in columns.places:
        # A column of hours is nothing of the kind unless somebody says of how many.
        own = {
            n: i
            for n, i in columns.places.items()
            if n not in LASTS or n in read_as.columns or counted_events
        }
        columns = HeaderPlaces(own, columns.problems)
    spread = _spread(cells, columns, read_as, wide_names) if read_as.wide else {}
    if read_as.wide and not set(spread.values()) - {NOT_FOUND}:
        raise ProblemError([_no_wide(cells, read_as)])
    rows = _settled(tuple(_rows(cells, columns, read_as, spread)), columns, read_as)
    used = {*columns.places.values(), *spread}
    left = tuple(h for i, h in enumerate(cells.header) if i not in used and h)
    return TableFile(cells.path, cells.sha256, rows, cells.header, left, read_as)


def _settled(rows: Rows, columns: HeaderPlaces, read_as: ReadAs) -> Rows:
    """The rows without counts of nobody, and with dates for numbered days."""
    if not read_as.wide and "count" in columns.places:
        rows = _without_nobody(rows)
    if read_as.day_1 and numbered_days(rows):
        first = date.fromisoformat(read_as.day_1)
        rows = tuple((line, dict(dated(row, first))) for line, row in rows)
    return rows


def _told(cells: Cells, problem: Problem) -> Problem:
    return Problem(
        problem.code, str(cells.path), "header", problem.found,
        f"{problem.expected}; the header has: {named_columns(cells)}",
        problem.remedy,
    )  # fmt: skip


def _spread(
    cells: Cells, columns: HeaderPlaces, read_as: ReadAs, wide_names: Sequence[str]
) -> dict[int, str]:
    """Which columns of a wide table are one animal's, or one zone's; ``-`` is that of those not found."""
    known = {name.casefold() for name in wide_names}
    if read_as.wide == "zone" and not read_as.cells:
        known.add(NOT_FOUND)
    names = _folded(read_as)
    found = {}
    for i, header in enumerate(cells.header):
        name = _mapped(names, read_as.wide, header)
        if i not in columns.places.values() and name.casefold() in known:
            found[i] = name
    return found


def _no_wide(cells: Cells, read_as: ReadAs) -> Problem:
    return Problem(
        "column", str(cells.path), "header", f"no column is headed by a name of the study's {read_as.wide}s",
        f"one column for each {read_as.wide}; the header has: {named_columns(cells)}",
        f"Say which is which with --map 'HEADER={read_as.wide.upper()}'",
    )  # fmt: skip


def _folded(read_as: ReadAs) -> Mapping[str, str]:
    return {name.casefold(): to for name, to in read_as.names.items()}


def _mapped(names: Mapping[str, str], kind: str, text: str) -> str:
    """What a name stands for in a column of that kind: as said of this column, else as said of all."""
    wanted = text.casefold()
    return names.get(f"{kind}:{wanted}") or names.get(wanted, text)


def _rows(
    cells: Cells, columns: HeaderPlaces, read_as: ReadAs, spread: Mapping[int, str]
) -> Iterator[tuple[int, dict[str, str]]]:
    names = _folded(read_as)
    for line, row in cells.rows:
        base = {name: row[i] if i < len(row) else "" for name, i in columns.places.items()}
        for name in ("animal", "zone", "behaviour", "group", "observer", "treatment"):
            if base.get(name):
                base[name] = _mapped(names, name, base[name])
        if not read_as.wide:
            if base.get("zone") == NOT_FOUND:
                base["zone"] = ""
            yield line, _lasting(base, read_as)
            continue
        held = {name: row[i] if i < len(row) else "" for i, name in spread.items()}
        several = _several(held, base, read_as, names)
        for one in several:
            told = {**base, **one}
            yield line, _lasting(told, read_as) if read_as.wide == "behaviour" else told


def _several(
    held: Mapping[str, str], base: Mapping[str, str], read_as: ReadAs, names: Mapping[str, str]
) -> Iterator[dict[str, str]]:
    """What one line of a wide table says: how much time in each zone, how many there, or where each animal was."""
    if read_as.wide == "animal":
        return _of_animals(held, names)
    if read_as.wide == "behaviour":
        return ({"behaviour": name, "count": cell} for name, cell in held.items() if cell)
    if not read_as.cells:
        return _of_zones(held, base)
    return ({"zone": zone, "spent": cell, "unit": read_as.cells} for zone, cell in held.items() if cell)


def _lasting(base: dict[str, str], read_as: ReadAs) -> dict[str, str]:
    """How much of the time a row of a long table says, under one name: a column of it, or what its counts are."""
    unit = next((unit for unit in LASTS if base.get(unit)), "")
    if unit:
        return {**base, "spent": base[unit], "unit": unit}
    if read_as.cells and base.get("count"):
        return {**base, "spent": base["count"], "unit": read_as.cells, "count": ""}
    return base


def _of_animals(held: Mapping[str, str], names: Mapping[str, str]) -> Iterator[dict[str, str]]:
    """A cell is where that animal was; ``-`` is looked for and not found, an empty one not looked for."""
    for animal, cell in held.items():
        if cell:
            zone = _mapped(names, "zone", cell)
            yield {"animal": animal, "zone": "" if zone == NOT_FOUND else zone}


def _of_zones(held: Mapping[str, str], base: Mapping[str, str]) -> Iterator[dict[str, str]]:
    """A cell is how many were there, or not found; nobody anywhere is a count of the group that found none of it."""
    counts = {zone: cell for zone, cell in held.items() if cell and whole_number(cell) != "0"}
    for zone, cell in counts.items():
        single = whole_number(cell) == "1" and not base.get("group") and base.get("animal")
        yield {"zone": "" if zone == NOT_FOUND else zone, "count": "" if single else cell}
    if not counts and any(held.values()):
        yield {"zone": "", "count": ""}


_ONE_COUNT = ("at", "date", "time", "session", "animal", "group", "observer", "until", "behaviour")


def _without_nobody(rows: Rows) -> Rows:
    """A long table's counts of 0 left out, as a wide one's are: nobody anywhere is a count that found none of them."""

    def of(row: Mapping[str, str]) -> tuple[str, ...]:
        return tuple(row.get(name, "") for name in _ONE_COUNT)

    def nobody(row: Mapping[str, str]) -> bool:
        # That something happened 0 times is no animal missing: see `rows`.
        return whole_number(row.get("count", "")) == "0" and not (
            row.get("behaviour") and not row.get("zone")
        )

    zeros: dict[tuple[str, ...], int] = {}
    for i, (_, row) in enumerate(rows):
        if nobody(row):
            zeros.setdefault(of(row), i)
    if not zeros:
        return rows
    found = {of(row) for _, row in rows if not nobody(row)}
    kept = {i for one, i in zeros.items() if one not in found}
    return tuple(
        (line, {**row, "zone": "", "count": ""} if i in kept else row)
        for i, (line, row) in enumerate(rows)
        if i in kept or not nobody(row)
    )


def whole_number(text: str) -> str:
    """A number as a spreadsheet writes it: ``4,0`` and ``4.00`` are 4; any other text stays as it is."""
    number, dot, rest = text.replace(",", ".").partition(".")
    whole = dot and (number or "0").isdecimal() and not rest.strip("0")
    return (number or "0") if whole else text


__all__ = ["COLUMNS", "NOT_FOUND", "WIDE", "ReadAs", "TableFile", "lay_out", "read_table"]
