"""One line of an export into its cells, and which delimiter does that."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence

from ..layout import GAPS, SPACES
from ..times.time_shapes import plain_spaces, shape_of

DELIMITERS = (",", ";", "\t", "|")
NUMBER = re.compile(r"[-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d{1,2})?")
# Also of a clock that begins in 2000 because it was never set.
_SINCE_1970 = re.compile(r"(?:1\d{9}|9[4-9]\d{7})(?:[.,]\d+)?|1\d{12}|9[4-9]\d{10}")
THOUSANDS = re.compile(r"[-+]?\d{1,3}(?:[.,'’ ]\d{3})+(?:[.,]\d+)?")
UNIT_BEHIND = re.compile(r"\s*(?:[°º]\s?[CF]|℃|℉|[CFK]|deg\s?[CF]|%\s?(?:RH|rF)?|lx|lux)$", re.IGNORECASE)
# What stands for "no value" in exports. Compared as written and in lower case.
MISSING = frozenset(
    {"", "nan", "na", "n/a", "#n/a", "null", "none", "-", "--", "---", "----", "-.-", "--.-", "ol", "ofl", "err",
     "error", "err.", "fault", "lo", "hi", "*", "**", "***", "?", "nd", "n.d.", "nil", "missing", "inf", "-inf",
     "open", "short", "overflow", "underflow", "no data", "fail", "."}
)  # fmt: skip
# Two values in one cell: it is parted by something else.
_TWO_IN_ONE = re.compile(r"[\d%CF]\s*[;|\t]\s*[-+−]?\d|\d\s{2,}[-+−]?\d")
_BOM_LEFT = "\ufeff"


def split_line(line: str, delimiter: str) -> list[str]:
    """The cells of a line, unquoted, without the spaces around them.

    >>> split_line('"7","23,5", x', ",")
    ['7', '23,5', 'x']
    """
    line = line.rstrip("\r\n")
    if delimiter == SPACES:
        # A colon behind the time parts it from the values, as a log has it.
        return [cell.rstrip(":") for cell in line.split()]
    if delimiter == GAPS:
        return re.split(r"\s{2,}|\t", line.strip())
    if '"' not in line:
        cells = line.split(delimiter)
    else:
        try:
            cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
        except csv.Error:
            cells = line.split(delimiter)
    return [plain_spaces(cell).strip().strip(_BOM_LEFT) for cell in cells]


def is_number(cell: str) -> bool:
    return NUMBER.fullmatch(cell) is not None


def is_measured(cell: str) -> bool:
    """Whether a cell holds a number, with or without a unit behind it."""
    plain = UNIT_BEHIND.sub("", cell)
    return NUMBER.fullmatch(plain) is not None or THOUSANDS.fullmatch(plain) is not None


def is_moment(cell: str) -> bool:
    """Whether a cell holds a date, or a clock time that cannot be a number such as 10.16."""
    if len(cell) < 4 or not any(c.isdigit() for c in cell):
        return False
    if is_number(cell):
        # 20260403140500 is a time; 8 digits may be a serial number and are settled by the column.
        return (
            cell.isdigit() and cell[:2] in ("19", "20") and (len(cell) in (12, 14) or _is_day_and_hour(cell))
        )
    return shape_of(cell) is not None


def _is_day_and_hour(cell: str) -> bool:
    """Whether ten digits are a day and an hour (2026040321): as seconds they would lie in the 2030s."""
    return len(cell) == 10 and 1 <= int(cell[4:6]) <= 12 and 1 <= int(cell[6:8]) <= 31 and int(cell[8:]) <= 23


def is_stamp(cell: str) -> bool:
    """Whether a cell is a moment, or a number that can only be seconds or milliseconds since 1970."""
    return is_moment(cell) or _SINCE_1970.fullmatch(cell) is not None


def is_data(cells: Sequence[str]) -> bool:
    """Whether these cells look like a reading: a time and a number, or two numbers and nothing much else."""
    moments = sum(map(is_stamp, cells))
    numbers = sum(map(is_measured, cells))
    if moments:
        return numbers >= 1 + sum(1 for c in cells if is_stamp(c) and is_measured(c))
    words = sum(1 for c in cells if c and not is_measured(c))
    return numbers >= 2 and words <= len(cells) // 2


def choose_delimiter(lines: Sequence[str]) -> str:
    """The delimiter under which most lines are readings of one width.

    Commas inside decimal numbers do not count for the comma: under it such lines fall apart into cells
    of which the first is no time, or which hold two values.
    """
    best, best_score = ",", (-1.0, 0)
    for delimiter in (*DELIMITERS, GAPS, SPACES):
        rows = [split_line(line, delimiter) for line in lines]
        widths = Counter(
            len(row)
            for row in rows
            if len(row) > 1 and is_data(row) and not any(map(_TWO_IN_ONE.search, row))
        )
        if not widths:
            continue
        width, count = widths.most_common(1)[0]
        dated = sum(1 for row in rows if len(row) == width and any(map(is_moment, row)))
        # Spaces also part a date from its clock: they count only where nothing else does.
        spaced = {GAPS: 0.5, SPACES: 1.0}.get(delimiter, 0.0)
        score = (count + dated - spaced * len(lines), width)
        if score > best_score:
            best, best_score = delimiter, score
    return best
