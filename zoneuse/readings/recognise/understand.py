"""From the first lines of an export to its layout, or to what must be asked about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import tzinfo
from pathlib import Path

from zoneuse.study import fault

from ..blocks import SAMPLE, Encoding, decode_sample, detect_encoding
from ..layout import Hints, Layout, LeftOpen, LongColumns, UndecidedError, ValueColumn
from .columns import FileColumn, is_site_header, last_words, read_columns
from .header_fit import numbers_rows
from .headers import CELSIUS, FAHRENHEIT, TENTHS, read_header
from .long_table import find_long, several_of_one
from .preamble import Told, read_preamble
from .refusals import check_blocks, check_clock, check_rounded, no_table, no_time
from .said_beside import tells_zone, units_beside, with_zone_beside
from .splitting import UNIT_BEHIND, is_measured, is_number, is_stamp, split_line
from .table_shape import TableShape, find_table
from .time_columns import find_time, is_named
from .value_columns import Left, explicit_values, find_values, why_not_taken
from .which_logger import logger_columns, series_names, which_logger
from .zone_words import zone_said


def understand(
    path: Path, loggers: Sequence[str], zone: tzinfo, hints: Hints, name: Path | None = None
) -> Layout:
    """The layout of an export, as far as its first lines tell it.

    ``loggers``: the ids of the study's loggers. ``zone``: the study's time zone, in which times without an
    offset are read unless the file or ``hints`` say otherwise. ``name``: the file's own name, where ``path``
    is a copy of it. The order of day and month is left open
    (``time.order == ""``) where only the whole file can tell. Raises UndecidedError with the questions where
    two readings fit, ProblemError where there is nothing to read.
    """
    encoding, text = read_sample(path)
    table = find_table(text)
    if table is None:
        raise no_table(name or path, text)
    return _layout(name or path, encoding, table, loggers, zone, hints=hints)


def read_sample(path: Path) -> tuple[Encoding, str]:
    """The first lines of a file as text. Raises ProblemError for what is no readable text file."""
    try:
        if path.is_dir():
            raise fault("a-folder", path, "", "this is a folder", "a file a logger's program exported",
                        remedy="Give the files in it, for instance FOLDER/*.csv")  # fmt: skip
        with path.open("rb") as stream:
            data = stream.read(SAMPLE)
            whole = not stream.read(1)
    except OSError as error:
        raise fault(
            "unreadable", path, "", f"cannot be read ({error.strerror})", "a readable file", remedy=""
        ) from None
    if not data.strip():
        raise fault(
            "empty", path, "", "this file is empty", "a logger's export", remedy="Export the readings again"
        )
    encoding = detect_encoding(path, data, whole)
    return encoding, decode_sample(data, encoding, whole)


def _layout(
    path: Path, encoding: Encoding, table: TableShape, loggers: Sequence[str], zone: tzinfo, *, hints: Hints
) -> Layout:
    _check_table(path, table, hints)
    columns = [_given_time(column, table, hints) for column in read_columns(table)]
    told = _told(table)
    time, questions, notes = find_time(columns, told, hints, zone)
    if time is None:
        raise no_time(path, table, columns, hints)
    rest = [c for c in columns if c.at not in time.columns]
    check_clock(path, time, rest, table)
    check_rounded(path, columns, time)
    time, zoned, more = with_zone_beside(rest, time, hints)
    questions += more
    told, united = units_beside(rest, told, hints, path)
    left = Left(notes=notes)
    values, long, more = _values(rest, told, hints, loggers, left, path=path)
    questions += more
    measured, named = _measured(values, long)
    check_blocks(path, columns, time, measured, hints)
    taken = {*time.columns, *measured, *named}
    by, more = logger_columns(rest, taken, hints, loggers, path)
    questions += more
    logger, more = None, []
    if not by and not _each_has_logger(values):
        logger, more = which_logger(path, table, rest, taken, loggers, hints=hints)
    questions += more
    decimal, more = _decimal(rest, measured, hints)
    questions += more
    if questions:
        raise UndecidedError(tuple(questions))
    where = _where(columns, hints, path)
    untaken = [*_untaken(rest, left, {*taken, *by, *(c for c, _ in where)}), *left.names]
    labels, events = _labels_and_events([c for c in rest if c.at not in taken])
    plain = Layout(
        encoding.name, encoding.bom, table.delimiter, decimal, table.first + 1, table.width,
        tuple(c.header for c in columns), table.header_lines, time, tuple(values), above=table.above,
        widths=table.widths, last=last_words(columns), steady=(*zoned, *united),
        preamble=frozenset(line.strip() for line in table.preamble),
    )  # fmt: skip
    return replace(
        plain, long=long, by=by, series=series_names(hints, loggers), where=where, events=events, labels=labels,
        logger=logger, untaken=tuple(untaken), notes=tuple(left.notes),
    )  # fmt: skip


def _measured(values: Sequence[ValueColumn], long: LongColumns | None) -> tuple[list[int], list[int]]:
    """The columns of values, and the one that names them in a row per value."""
    return ([long.value], [long.name]) if long else ([v.column for v in values], [])


def _labels_and_events(columns: Sequence[FileColumn]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Columns whose texts may tell series apart, and those whose texts are marks."""
    labels = tuple(c.at for c in columns if _is_label(c) and not tells_zone(c))
    return labels, tuple(c.at for c in columns if _is_events(c) and c.at not in labels)


def _check_table(path: Path, table: TableShape, hints: Hints) -> None:
    """Raise where the table's cells or the names over them are not certain."""
    if _commas_fall_apart(table):
        raise fault(
            "loose-commas", path, f"line {table.first + 1}",
            "decimal commas stand in a table that is separated by commas, without quotes: rows fall apart",
            "23.5, or \"23,5\" in quotes, or semicolons between the cells", remedy="Export it again with one of these",
        )  # fmt: skip
    if table.blanks:
        raise fault(
            "blanks", path, f"line {table.first + 1}",
            "spaces part its cells, and some cells are empty: which column the others stand in cannot be told",
            "commas, semicolons or tabs between the cells",
            remedy="Export it again as CSV, or open it in a spreadsheet program as columns of fixed width and save "
            "that as CSV",
        )  # fmt: skip
    if table.before:
        raise fault(
            "second-header", path, f"line {table.first + 1}",
            f"other columns begin here: {table.before:,} readings above are laid out otherwise", "one table",
            remedy="Save the parts as files of their own, each with its header",
        )  # fmt: skip
    if table.moved:
        raise fault(
            "second-header", path, f"line {table.moved}",
            "other columns begin here: rows have a cell more or less than those above", "one table",
            remedy="Save the parts as files of their own, each with its header",
        )  # fmt: skip
    if table.doubt:
        _check_doubt(table, hints)


def _told(table: TableShape) -> Told:
    """What the lines above the table say of it, and its header lines where they are none or several."""
    lines = (*table.preamble, *table.header_lines) if len(table.headers) != 1 else table.preamble
    told = read_preamble(lines)
    return _zone_of_names(table, told) if table.doubt else told


def _check_doubt(table: TableShape, hints: Hints) -> None:
    """Names whose columns are not certain are not used: the keeper gives the columns by number."""
    if hints.columns and all(name.isdigit() for name, _ in hints.columns):
        return
    row = table.rows[0] if table.rows else ()
    shown = "; ".join(f"{i} holds {cell!r}" for i, cell in enumerate(row, 1) if cell)
    number = next(
        (i for i, cell in enumerate(row, 1) if is_measured(cell) and not is_stamp(cell) and i > 1), 2
    )
    time = ""
    if not any(map(is_stamp, row)):
        # Where no cell is a time by its looks, its column too is one that only the keeper can name.
        at = _likely_time(table)
        time = f"--column {at}=at "
        number = next((i for i, cell in enumerate(row, 1) if is_measured(cell) and i > at), at % len(row) + 1)
    raise UndecidedError((LeftOpen(
        "columns", f"{table.doubt[:1].upper()}{table.doubt[1:]}. In line {table.first + 1} column {shown}",
        f"{time}--column {number}=QUANTITY with the columns' numbers (temperature_c, temperature_f, humidity_pct …)",
    ),))  # fmt: skip


def _likely_time(table: TableShape) -> int:
    """The number of the column that may hold a time in units: below its name, or one on where the rows are numbered."""
    cells = [cell for line in table.header_lines for cell in split_line(line, table.delimiter)]
    named = next((i for i, c in enumerate(cells) if read_header(c).role in ("time", "elapsed")), 0)
    return named + 1 + (named == 0 and numbers_rows(table.rows))


def _given_time(column: FileColumn, table: TableShape, hints: Hints) -> FileColumn:
    """A column given as the time whose name was in doubt: it has the header's name for a time, and so its unit."""
    if not table.doubt or (str(column.at + 1), "at") not in hints.columns or column.header:
        return column
    cells = (cell for line in table.header_lines for cell in split_line(line, table.delimiter))
    name = next((c for c in cells if read_header(c).role in ("time", "elapsed")), "")
    return replace(column, header=name, meaning=read_header(name)) if name else column


def _zone_of_names(table: TableShape, told: Told) -> Told:
    """The zone that names in doubt state: it is true of the times, whichever column they stand over."""
    lines = (*table.preamble[-3:], *table.header_lines)
    said = next((found for line in lines if (found := zone_said(line))), None)
    return told if said is None else replace(told, zone=said.zone, zone_name=said.vague)


def _each_has_logger(values: Sequence[ValueColumn]) -> bool:
    return bool(values) and all(v.logger for v in values)


def _untaken(rest: list[FileColumn], left: Left, taken: set[int]) -> list[tuple[str, str]]:
    """Columns that hold numbers and are not taken in, each with why: nothing measured is passed over unsaid.

    ``left`` gets a note of them.
    """
    found = []
    for column in rest:
        if column.at in taken:
            continue
        full = [c for c in column.cells if c]
        numbers = sum(map(is_measured, full))
        if column.at in left.untaken or (numbers and numbers * 3 >= len(full)):
            name = column.header or f"column {column.at + 1}"
            found.append((name, left.untaken.get(column.at) or why_not_taken(column)))
    if found:
        left.notes.append(f"not taken in: {'; '.join(f'{name} ({why})' for name, why in found)}")
    return found


def _commas_fall_apart(table: TableShape) -> bool:
    """Whether each number of a row became two cells: one name to two cells, but for the time."""
    if table.delimiter != "," or table.headers:
        return False
    above = [split_line(line, ",") for line in table.preamble if line.strip()][-1:]
    return bool(above) and len(above[0]) > 1 and 2 * len(above[0]) - 1 == table.width


def _values(
    rest: list[FileColumn], told: Told, hints: Hints, loggers: Sequence[str], left: Left, *, path: Path
) -> tuple[list[ValueColumn], LongColumns | None, list[LeftOpen]]:
    if any(what != "at" for _, what in hints.columns):
        return explicit_values(rest, hints, path), None, []
    values, questions = find_values(rest, told, hints, loggers, left)
    if values or questions:
        return values, None, questions
    long = find_long(rest)
    if long is not None:
        filled, questions = _with_unit(long, hints.unit or told.unit)
        left.long_names(long)
        return [], filled, [*several_of_one(long, rest, hints), *questions]
    return [], None, [_which_columns(rest, path)]


def _with_unit(long: LongColumns, unit: str) -> tuple[LongColumns | None, list[LeftOpen]]:
    """A long table whose temperatures have a unit: its own column's, its names', or the one given."""
    if long.unit is not None:
        return long, []
    if not unit and any(not own for _, own, _ in _temperatures(long)):
        return None, [unit_question("The temperatures")]
    filled = tuple((n, q, u or (unit if q == "temperature_c" else u)) for n, q, u in long.meanings)
    return replace(long, meanings=filled), []


def _which_columns(rest: list[FileColumn], path: Path) -> LeftOpen:
    """What to ask where no column is named as measured. Raises ProblemError where none holds numbers."""
    numbers = [c for c in rest if c.kind == "number" and c.meaning.role != "index" and not c.meaning.excluded]
    if tenths := [c for c in rest if c.meaning.excluded == TENTHS]:
        raise fault(
            "other-unit", path, "", f"column {tenths[0].at + 1} {tenths[0].header!r} is in tenths of its unit",
            "whole units", remedy="Divide it by ten in a spreadsheet program, name it by its unit alone (°C), and save "
            "it as CSV",
        )  # fmt: skip
    if not numbers:
        raise fault("no-numbers", path, "", "no column holds a temperature, a humidity or another number to take in",
                    "a column of numbers beside the time",
                    remedy="Check in the logger's own program what is exported")  # fmt: skip
    listed = "; ".join(f"{c.at + 1} {c.header!r} ({c.distinct[0]} …)" for c in numbers[:8])
    asks = f"No column says that it holds temperature or humidity. There is: {listed}"
    flag = f"--column {numbers[0].at + 1}=QUANTITY (temperature_c, temperature_f, humidity_pct …)"
    return LeftOpen("columns", asks, flag)


def _temperatures(long: LongColumns) -> list[tuple[str, str, str]]:
    return [(q, u, n) for n, q, u in long.meanings if q == "temperature_c"]


def unit_question(what: str) -> LeftOpen:
    asks = f"{what} have no unit, and could be °C or °F"
    return LeftOpen("unit", asks, "--unit C or --unit F", (CELSIUS, FAHRENHEIT))


def _decimal(rest: list[FileColumn], used: list[int], hints: Hints) -> tuple[str, list[LeftOpen]]:
    if hints.decimal:
        return hints.decimal, []
    commas = points = 0
    for column in rest:
        if column.at in used:
            cells = [c for cell in column.cells if is_number(c := UNIT_BEHIND.sub("", cell))]
            commas += sum("," in c for c in cells)
            points += sum("." in c for c in cells)
    if commas and points:
        asks = "Some numbers have a comma and some a point, and either may part the decimals"
        return ".", [LeftOpen("decimal", asks, "--decimal , or --decimal .", (",", "."))]
    return ("," if commas else "."), []


def _where(columns: list[FileColumn], hints: Hints, path: Path) -> tuple[tuple[int, str], ...]:
    found = []
    for name, value in hints.where:
        column = next((c for c in columns if is_named(c, [name])), None)
        if column is None:
            known = ", ".join(c.header for c in columns if c.header)
            raise fault("no-column", path, "", f"has no column {name}", f"one of: {known}",
                        remedy="Give --where one of its headers, or a column's number")  # fmt: skip
        found.append((column.at, value))
    return tuple(found)


def _is_events(column: FileColumn) -> bool:
    full = sum(1 for c in column.cells if c)
    sparse = full * 2 <= len(column.cells)
    if column.meaning.role == "event":
        return sparse
    return sparse and column.kind in ("text", "empty") and not column.meaning.quantity


def _is_label(column: FileColumn) -> bool:
    """A column that may tell series apart: few names or whole numbers, each on many rows; or named for it."""
    if column.kind not in ("text", "number") or column.meaning.quantity or not column.distinct:
        return False
    if is_site_header(column.header) and column.meaning.role != "event":
        return column.kind == "text" or _whole(column)
    if column.meaning.role in ("event", "unit", "value") or column.meaning.excluded:
        return False
    if not column.header and column.kind != "text":
        return False
    if len(column.distinct) > max(2, len(column.cells) // 4):
        return False
    return _mostly_filled(column) if column.kind == "text" else _tells_apart(column)


def _mostly_filled(column: FileColumn) -> bool:
    return len([c for c in column.cells if c]) * 2 > len(column.cells)


def _tells_apart(column: FileColumn) -> bool:
    return column.meaning.role != "index" and len(column.distinct) > 1 and _whole(column)


def _whole(column: FileColumn) -> bool:
    return all(c.isdigit() for c in column.distinct)
