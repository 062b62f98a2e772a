"""Which logger a file's rows are of: by a column, by the file's name or preamble, or by what the keeper says."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from zoneuse.study import fault

from ..layout import Hints, LeftOpen
from .columns import FileColumn
from .table_shape import TableShape
from .time_columns import is_named


def folded(name: str) -> str:
    """A name as it is compared with loggers' ids: lower case, everything but letters and digits alike."""
    return re.sub(r"[\W_]+", "_", name).strip("_").casefold()


def logger_columns(
    rest: list[FileColumn], taken: set[int], hints: Hints, loggers: Sequence[str], path: Path
) -> tuple[tuple[int, ...], list[LeftOpen]]:
    """The columns that say which logger a row is of."""
    if hints.by:
        found = [c.at for c in rest if is_named(c, hints.by)]
        if len(found) < len(hints.by):
            known = ", ".join(c.header for c in rest if c.header)
            raise fault(
                "no-column", path, "", f"has no column {' or '.join(hints.by)}", f"one of: {known}",
                remedy="Give --by one of its headers, or a column's number",
            )  # fmt: skip
        return tuple(found), []
    if hints.logger:
        return (), []
    for column in rest:
        if column.at not in taken and _names_loggers(column, loggers):
            return (column.at,), []
    return (), []


def _names_loggers(column: FileColumn, loggers: Sequence[str]) -> bool:
    """Whether most of the names in a column are the study's loggers."""
    if column.kind not in ("text", "number") or not column.header or column.meaning.role == "index":
        return False
    names = {folded(n) for n in column.distinct}
    return len(names & {folded(i) for i in loggers}) * 2 > len(names)


def which_logger(
    path: Path,
    table: TableShape,
    rest: list[FileColumn],
    taken: set[int],
    loggers: Sequence[str],
    *,
    hints: Hints,
) -> tuple[str | None, list[LeftOpen]]:
    if hints.logger:
        return hints.logger, []
    if named := logger_in_name(path.name, loggers):
        return named, []
    ids = {folded(i): i for i in loggers}
    words = {folded(w) for line in table.preamble for w in re.split(r"[:;=,\t\"]+", line)}
    told = [ids[w] for w in words if w in ids]
    if len(told) == 1:
        return told[0], []
    if len(loggers) == 1:
        return loggers[0], []
    if not loggers:
        asks = "The study has no loggers yet: add [loggers.NAME] with where it is placed to study.toml"
        return None, [LeftOpen("logger", asks, "--logger ID (after adding it to study.toml)")]
    return None, [
        LeftOpen("logger", "Nothing says which logger this file is from", "--logger ID", tuple(loggers))
    ]


def logger_in_name(name: str, loggers: Sequence[str]) -> str | None:
    """The logger whose id a file's name starts with; the longest where several do.

    >>> logger_in_name("L1_2026-04.csv", ["L1", "L10"]), logger_in_name("L12.csv", ["L1"])
    ('L1', None)
    """
    fits = [
        i for i in loggers
        if name.casefold().startswith(i.casefold()) and not name[len(i) : len(i) + 1].isalnum()
    ]  # fmt: skip
    return max(fits, key=len, default=None)


def series_names(hints: Hints, loggers: Sequence[str]) -> tuple[tuple[str, str], ...]:
    return (*((folded(name), logger) for name, logger in hints.series), *((folded(i), i) for i in loggers))
