"""Which columns hold temperature, humidity and the rest, in which unit, and of which logger."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from zoneuse.study import fault

from ...study import QUANTITIES
from ..layout import Hints, LeftOpen, LongColumns, ValueColumn
from .columns import FileColumn
from .headers import CELSIUS, FAHRENHEIT, TENTHS, read_header, tokens_of
from .preamble import Told
from .time_columns import is_named

_IN_WORDS = {
    "temperature_f": ("temperature_c", FAHRENHEIT), "surface_f": ("surface_c", FAHRENHEIT),
    "humidity_fraction": ("humidity_pct", "share"),
    "temperature_c": ("temperature_c", CELSIUS), "surface_c": ("surface_c", CELSIUS),
}  # fmt: skip


@dataclass(slots=True)
class Left:
    """Columns that are not taken in, each with why, and what else is worth saying of a table."""

    untaken: dict[int, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    names: list[tuple[str, str]] = field(default_factory=list)

    def out(self, columns: Sequence[FileColumn], why: str) -> None:
        self.untaken.update({c.at: why for c in columns})

    def long_names(self, long: LongColumns) -> None:
        """The names in a row-per-value table that stand for nothing stored."""
        self.names = [
            (n, read_header(n).excluded or "nothing says what it is") for n, q, _ in long.meanings if not q
        ]
        if self.names:
            self.notes.append(f"not taken in: {'; '.join(f'{name} ({why})' for name, why in self.names)}")


# Beyond these no keeper's sensor has lain, so that a column without a unit can be one of the two only.
_COLDEST_C, _HOTTEST_C = -40.0, 90.0


def column_meaning(text: str) -> tuple[str | None, str, str] | None:
    """``L1:temperature_f`` as (logger, quantity, unit); None where the quantity is not known.

    >>> column_meaning("L1:temperature_f")
    ('L1', 'temperature_c', 'F')
    """
    logger, _, name = text.rpartition(":")
    quantity, unit = _IN_WORDS.get(name, (name, "%" if name.endswith("_pct") else ""))
    return (logger or None, quantity, unit) if quantity in QUANTITIES else None


def explicit_values(rest: Sequence[FileColumn], hints: Hints, path: Path) -> list[ValueColumn]:
    """The columns the keeper named, and no others.

    Raises ProblemError for a name that no column or several have, a unit against the one the header writes, a
    column without numbers, and for one quantity of one logger given twice.
    """
    found: list[ValueColumn] = []
    for name, what in hints.columns:
        meaning = column_meaning(what)
        if meaning is None:
            continue
        column = _the_column(rest, name, path)
        logger, quantity, unit = meaning
        _check_given(column, name, what, unit, path)
        if any((v.logger, v.quantity) == (logger, quantity) for v in found):
            raise fault("column-twice", path, "", f"two columns are given as {what}", "one column for each",
                        remedy="Name the logger of each (--column 3=LOGGER:temperature_c), or leave one out",
                        )  # fmt: skip
        found.append(ValueColumn(column.at, quantity, unit, logger, column.header))
    return found


def _the_column(rest: Sequence[FileColumn], name: str, path: Path) -> FileColumn:
    named = [c for c in rest if is_named(c, [name])]
    if len(named) == 1:
        return named[0]
    if named:
        numbers = ", ".join(str(c.at + 1) for c in named)
        raise fault(
            "columns-alike", path, "", f"{len(named)} columns are called {name!r}: {numbers}", "one of them",
            remedy=f"Give the number of the one that is meant, such as --column {named[0].at + 1}=QUANTITY",
        )  # fmt: skip
    known = ", ".join(f"{c.at + 1} {c.header!r}" if c.header else str(c.at + 1) for c in rest)
    raise fault(
        "no-column", path, "", f"has no column {name!r} to measure by", f"one of: {known}",
        remedy="Give a column by its number or its header",
    )  # fmt: skip


def _check_given(column: FileColumn, name: str, what: str, unit: str, path: Path) -> None:
    if column.kind not in ("number", "empty"):
        raise fault("no-numbers", path, "", f"column {name!r} holds no numbers", "a column of numbers",
                    remedy="Give the column that holds what was measured")  # fmt: skip
    if column.meaning.excluded == TENTHS:
        raise fault(
            "other-unit", path, "", f"column {name!r} is given as {what}, and its header says a tenth of that",
            "whole units", remedy="Divide the column by ten in a spreadsheet program, name it by its unit alone (°C), "
            "and save it as CSV",
        )  # fmt: skip
    written = column.meaning.unit if column.meaning.quantity in ("temperature_c", "surface_c") else ""
    if unit in (CELSIUS, FAHRENHEIT) and written and written != unit:
        right = f"{what.rstrip('cf').rstrip('_')}_{written.lower()}"
        raise fault(
            "other-unit", path, "", f"column {name!r} is given as {what}, and its header says °{written}",
            f"°{written}", remedy=f"Give --column {column.at + 1}={right}",
        )  # fmt: skip


# What is taken in only where its unit is written, since others are in use.
_UNIT_NEEDED = {
    "light_lux": ("lx", "its unit is not lux or not written"),
    "soil_moisture_pct": ("%", "it is not written as a percentage"),
}


def find_values(
    rest: Sequence[FileColumn], told: Told, hints: Hints, loggers: Sequence[str], left: Left
) -> tuple[list[ValueColumn], list[LeftOpen]]:
    """The measured columns of a table. ``left`` collects what is left out and why, and what is worth saying."""
    groups: dict[str, list[FileColumn]] = {}
    for column in rest:
        if column.meaning.quantity and column.kind in ("number", "empty"):
            groups.setdefault(column.meaning.quantity, []).append(column)
    values: list[ValueColumn] = []
    questions: list[LeftOpen] = []
    several: list[FileColumn] = []
    for quantity, columns in groups.items():
        kept = _one_statistic(_plainest(columns, left), left)
        kept = _without_other_scale(kept, left)
        if not kept:
            continue
        needed, why = _UNIT_NEEDED.get(quantity, ("", ""))
        if needed and any(c.meaning.unit != needed for c in kept):
            left.out(kept, why)
            continue
        if len(kept) > 1:
            several += kept
        unit, question = _unit(quantity, kept, told, hints, left)
        questions += [question] if question else []
        values += [_value(c, quantity, unit) for c in kept]
    if several:
        values, question = _share_out(values, several, loggers)
        questions += [question] if question else []
    return values, questions


def why_not_taken(column: FileColumn) -> str:
    """Why a column of numbers is not taken in, in a few words."""
    meaning = column.meaning
    if meaning.excluded == TENTHS:
        return "it is in tenths of its unit"
    if meaning.excluded:
        return f"{meaning.excluded} is not stored"
    if meaning.role == "index":
        return "row numbers"
    if meaning.role in ("time", "elapsed"):
        return "another time"
    if not meaning.quantity:
        return "nothing says what it holds"
    return "it was not asked for" if column.kind == "number" else "it is not all numbers"


def _value(column: FileColumn, quantity: str, unit: str) -> ValueColumn:
    own = column.meaning.unit if quantity != "humidity_pct" else ""
    # Also below "%": a spreadsheet shows a share as a percentage, and saves the share.
    return ValueColumn(column.at, quantity, own or unit, None, column.header, quantity == "humidity_pct")


def _plainest(columns: list[FileColumn], left: Left) -> list[FileColumn]:
    """The plainly named ones; a letter alone that nobody gave a unit may be something else."""
    best = max(c.meaning.rank for c in columns)
    kept = [c for c in columns if c.meaning.rank == best or c.meaning.unit]
    left.out([c for c in columns if c not in kept], "it may be something else")
    return kept


def _one_statistic(columns: list[FileColumn], left: Left) -> list[FileColumn]:
    """Means, or plain readings, where minima and maxima stand beside them."""
    plain = [c for c in columns if c.meaning.statistic in ("", "mean")]
    if not plain and len(columns) > 1:
        left.out(columns, "no mean stands beside it (--column takes it)")
        return []
    if not plain:
        return columns
    left.out([c for c in columns if c not in plain], "the mean is")
    return plain


def _without_other_scale(columns: list[FileColumn], left: Left) -> list[FileColumn]:
    """°C only, where the same probes also stand there in °F."""
    celsius = [c for c in columns if c.meaning.unit == CELSIUS]
    other = [c for c in columns if c.meaning.unit == FAHRENHEIT]
    probes = {c.meaning.probe for c in celsius}
    if celsius and other and all(c.meaning.probe in probes for c in other):
        left.out(other, "the same in °C is")
        return [c for c in columns if c not in other]
    return columns


def _only_possible(columns: Sequence[FileColumn]) -> str:
    """The one scale in which the numbers are temperatures there are; empty where both are possible or none."""
    numbers = [n for c in columns for n in c.numbers if -90 < n < 200]
    scales = (
        (CELSIUS, _COLDEST_C, _HOTTEST_C),
        (FAHRENHEIT, _COLDEST_C * 1.8 + 32, _HOTTEST_C * 1.8 + 32),
    )
    fits = [unit for unit, low, high in scales if numbers and low <= min(numbers) and max(numbers) <= high]
    return fits[0] if len(fits) == 1 else ""


def _unit(
    quantity: str, columns: list[FileColumn], told: Told, hints: Hints, left: Left
) -> tuple[str, LeftOpen | None]:
    """The unit of columns whose header has none."""
    if quantity not in ("temperature_c", "surface_c"):
        return "", None
    if all(c.meaning.unit for c in columns):
        if hints.unit and any(c.meaning.unit != hints.unit for c in columns):
            left.notes.append(
                f"{columns[0].header}: the file says °{columns[0].meaning.unit}; --unit was not needed"
            )
        return "", None
    if in_cells := _unit_in_cells(columns):
        return in_cells, None
    if hints.unit or told.unit:
        return hints.unit or told.unit, None
    if only := _only_possible(columns):
        left.notes.append(f"{columns[0].header}: must be °{only}, the other scale is impossible")
        return only, None
    name = columns[0].header or f"column {columns[0].at + 1}"
    return "", LeftOpen(
        "unit", f"The temperatures in {name!r} have no unit, and could be °C or °F",
        "--unit C or --unit F", (CELSIUS, FAHRENHEIT),
    )  # fmt: skip


def _unit_in_cells(columns: list[FileColumn]) -> str:
    letters = set()
    for column in columns:
        for cell in column.cells[:50]:
            tail = cell.rstrip()[-1:].upper()
            if cell[:1].isdigit() or cell[:1] in "+-":
                letters.add(tail if tail in (CELSIUS, FAHRENHEIT) else "")
    return letters.pop() if len(letters) == 1 else ""


def _share_out(
    values: list[ValueColumn], several: list[FileColumn], loggers: Sequence[str]
) -> tuple[list[ValueColumn], LeftOpen | None]:
    """Give each probe's columns to the logger its header names; ask where it names none."""
    shared = []
    for value in values:
        named = _logger_in(value.header, loggers)
        if named is None:
            return values, _which_probe(values)
        shared.append(
            ValueColumn(value.column, value.quantity, value.unit, named, value.header, value.unit_open)
        )
    pairs = [(v.logger, v.quantity) for v in shared]
    if len(set(pairs)) < len(pairs):
        return values, _which_probe(values)
    return shared, None


def _logger_in(header: str, loggers: Sequence[str]) -> str | None:
    words = tokens_of(header)
    best: tuple[int, str | None] = (0, None)
    for logger in loggers:
        wanted = tokens_of(logger)
        hits = any(words[i : i + len(wanted)] == wanted for i in range(len(words) - len(wanted) + 1))
        if hits and len(wanted) > best[0]:
            best = (len(wanted), logger)
    return best[1]


def _which_probe(values: list[ValueColumn]) -> LeftOpen:
    names = ", ".join(f"{v.column + 1} {v.header!r}" if v.header else str(v.column + 1) for v in values)
    first = values[0]
    return LeftOpen(
        "columns", f"Several columns hold the same quantity, and nothing says which logger each belongs to: {names}",
        f"--column {first.column + 1}=LOGGER:{first.given_as}, once for each column to take in",
    )  # fmt: skip
