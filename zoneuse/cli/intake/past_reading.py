"""Reading a table of past notes for `zoneuse sightings`: workbook or text, and what it leaves open is asked."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ...study import Declaration, Problem, ProblemError, fault
from ..narration import ask, confirm, say
from ..options import someone_there

if TYPE_CHECKING:
    from ...journal import Cells, HeaderPlaces, Journals, ReadAs, TableFile, Unknown

_LISTED = 12


@dataclass(frozen=True, slots=True)
class ReadAgainst:
    """What a table is read against, and whether anybody can be asked."""

    declared: Declaration
    journals: Journals
    ask: bool


def read_past(path: Path, said: ReadAs, asked: ReadAgainst) -> TableFile:
    """A table's rows with their times and sessions. Raises ProblemError where something stays open."""
    cells, said = _cells(path, said, asked)
    read_as = _offered(cells, said, asked)
    read_as = _columns(cells, read_as, asked)
    table, read_as = _timed(cells, read_as, asked)
    return _sessions(table, read_as, asked)


def can_ask(yes: bool) -> bool:
    return not yes and someone_there()


def _cells(path: Path, said: ReadAs, asked: ReadAgainst) -> tuple[Cells, ReadAs]:
    from ...journal import read_cells
    from ...readings.layout import UndecidedError
    from ...readings.read import as_text_table, is_workbook

    if not is_workbook(path):
        return read_cells(path), said
    with ExitStack() as stack:
        try:
            text = stack.enter_context(as_text_table(path, said.sheet or None))
        except UndecidedError as error:
            question = error.questions[0]
            if not asked.ask:
                raise ProblemError(
                    [Problem("sheet", str(path), "", question.asks, "", f"Give {question.flag}")]
                ) from None
            say(f"{question.asks}.")
            said = replace(said, sheet=ask("Which sheet"))
            text = stack.enter_context(as_text_table(path, said.sheet))
        return read_cells(path, text), said


def _offered(cells: Cells, said: ReadAs, asked: ReadAgainst) -> ReadAs:
    """What was answered for the last table with this header, where the keeper does not say otherwise."""
    from ...journal import read_before, with_said, words

    before = read_before(asked.journals, cells.header)
    if before is None or with_said(before[1], said) == said:
        return said
    name, read_as = before
    say(f"Read as {name} was: {words(read_as)}.")
    if asked.ask and not confirm("The same here", default=True):
        return said
    return with_said(read_as, said)


def _columns(cells: Cells, read_as: ReadAs, asked: ReadAgainst) -> ReadAs:
    """Ask which column is which where the header does not tell."""
    from ...journal import find_columns

    found = find_columns(cells.header, read_as.columns, read_as.wide)
    missing = [p for p in found.problems if "twice" not in p.found]
    if not missing or not asked.ask:
        return read_as
    say(f"{cells.path.name}: its columns are")
    for number, header in enumerate(cells.header, 1):
        example = next(
            (row[number - 1] for _, row in cells.rows if len(row) >= number and row[number - 1]), ""
        )
        say(f"  {number:>2}  {header}{'   such as ' + example if example else ''}")
    columns = dict(read_as.columns)
    for problem in missing:
        column = problem.expected.removeprefix("a column for ")
        _ask_column(column, cells, found, columns)
    return replace(read_as, columns=columns)


_ASKED = {
    "at": "When: the column of dates, or of dates with times",
    "zone": "Where: the column of the places",
    "animal": "Who: the column of the animals or groups",
}


def _ask_column(column: str, cells: Cells, found: HeaderPlaces, columns: dict[str, str]) -> None:
    answer = _one_column(_ASKED.get(column, f"The column of {column}"), cells)
    if column != "at":
        columns[column] = answer
        return
    clock = _one_column("Its clock times are in another column (Enter: in the same)", cells, empty=True)
    columns.update({"date": answer, "time": clock} if clock else {"at": answer})


def _one_column(question: str, cells: Cells, empty: bool = False) -> str:
    """A header's name, from its number or itself."""
    while True:
        text = ask(question, default="" if empty else None, show_default=False).strip()
        if not text:
            return ""
        if text.isdecimal() and 1 <= int(text) <= len(cells.header):
            return cells.header[int(text) - 1] or text
        if text.casefold() in (h.casefold() for h in cells.header):
            return str(text)
        say("Its number, or its name as it stands there.")


def _timed(cells: Cells, read_as: ReadAs, asked: ReadAgainst) -> tuple[TableFile, ReadAs]:
    from ...journal import UndecidedDatesError, numbered_days, with_times
    from ...readings.times import read_written

    table = _named(cells, read_as, asked)
    if not table.read_as.day_1 and numbered_days(table.rows):
        raise fault(
            "dates", cells.path, "", "its days are numbered and bear no date", "",
            remedy="Say when day 1 was with --day-1 2026-03-01",
        )  # fmt: skip
    read_as = table.read_as
    try:
        return with_times(table, read_written), read_as
    except UndecidedDatesError as error:
        asks = f"Dates such as {error.example} can be read {' or '.join(error.orders)}"
        if not asked.ask:
            remedy = f"Give --dates {' or --dates '.join(error.orders)}"
            raise ProblemError([Problem("dates", str(cells.path), "", asks, "", remedy)]) from None
        say(f"{asks} (D day, M month, Y year).")
        read_as = replace(read_as, dates=ask("Which", type=click.Choice(error.orders)))
        return with_times(replace(table, read_as=read_as), read_written), read_as


def _named(cells: Cells, read_as: ReadAs, asked: ReadAgainst) -> TableFile:
    """The table under the study's names; names it does not know are listed once, and asked."""
    from ...journal import elsewhere, lay_out, names_of, unknown_names

    wide_names = names_of(asked.declared, read_as.wide) if read_as.wide else []
    table = lay_out(cells, read_as, wide_names)
    if read_as.wide:
        table = _whose_counts(table, asked.declared)
    unknown = unknown_names(asked.declared, table)
    if not unknown or not asked.ask:
        return table
    say(f"{cells.path.name} has names the study does not know:")
    names = dict(read_as.names)
    for one in unknown[:40]:
        if answer := _ask_name(one, asked.declared):
            names[f"{one.kind}:{one.name}" if elsewhere(table, one) else one.name] = answer
    read_as = replace(read_as, names=names)
    table = lay_out(cells, read_as, wide_names)
    return _whose_counts(table, asked.declared) if read_as.wide else table


def _whose_counts(table: TableFile, declared: Declaration) -> TableFile:
    """Counts for each zone are of the group the row names, or of the study's only one."""
    if table.read_as.wide == "animal" or {"animal", "group"} & set(table.rows[0][1] if table.rows else ()):
        return table
    everyone = [*declared.groups, *declared.animals]
    if len(everyone) != 1:
        expected = f"a column with one of {', '.join(everyone[:8])}"
        raise ProblemError(
            [Problem("column", str(table.path), "header", "it does not say whose counts these are", expected,
                     "Name it with --column group=HEADER")]
        )  # fmt: skip
    kind = "group" if declared.groups else "animal"
    return replace(table, rows=tuple((line, {**row, kind: everyone[0]}) for line, row in table.rows))


def _ask_name(one: Unknown, declared: Declaration) -> str:
    from ...journal import names_of

    known = names_of(declared, one.kind)
    folded = {name.casefold() for name in known}
    rows = "1 row" if one.rows == 1 else f"{one.rows:,} rows"
    out = ", - for not found" if one.kind == "zone" else ""
    while True:
        text = ask(
            f"  {one.kind} {one.name!r}, {rows}, is (an id or key{out}; Enter leaves its rows out)",
            default=one.close, show_default=bool(one.close),
        ).strip()  # fmt: skip
        if not text or (text == "-" and one.kind == "zone") or text.casefold() in folded:
            return str(text)
        say("  The study has: " + ", ".join(known[:24]))


def _sessions(table: TableFile, read_as: ReadAs, asked: ReadAgainst) -> TableFile:
    from ...journal import by_gaps
    from ...journal.past.gaps import needs_sessions

    table = replace(table, read_as=read_as)
    if not needs_sessions(table):
        return table
    declared = asked.declared
    return by_gaps(table, declared.timezone, declared.watching.observer, asked.journals)
