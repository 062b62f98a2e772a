"""Where the table stands in an export: preamble, header rows, first reading, width."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from ..layout import GAPS, SPACES
from .header_fit import first_moved, fit_headers
from .headers import read_header
from .splitting import (
    MISSING,
    choose_delimiter,
    is_data,
    is_measured,
    is_moment,
    is_number,
    is_stamp,
    split_line,
)

_MOST_HEADERS = 6
_LOOK_LINES = 200


@dataclass(frozen=True, slots=True)
class TableShape:
    """``first``: index of the first row below the headers; ``headers``: rows above it, nearest first, each as
    wide as the table; ``preamble``: the lines above those; ``rows``: sampled readings. ``doubt``: why it is not
    certain which name stands over which column; then there are no names. ``above``: the preamble's lines (from
    1) that hold a time and a number of their own; ``before``: how many of them have their time where the table's rows
    have it, and so are readings of another table. ``blanks``: spaces part the cells, and some cells are empty.
    ``widths``: how many cells the sampled readings have; ``moved``: the line from which on they have a column more
    or less than before."""

    delimiter: str
    first: int
    width: int
    headers: tuple[tuple[str, ...], ...]
    header_lines: tuple[str, ...]
    preamble: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    doubt: str = ""
    above: tuple[tuple[int, str], ...] = ()
    before: int = 0
    blanks: bool = False
    widths: frozenset[int] = frozenset()
    moved: int = 0


def find_table(text: str) -> TableShape | None:
    """The table in the first lines of an export; None where no line looks like a reading."""
    lines = text.split("\n")
    picked = _spread(lines, _LOOK_LINES)
    delimiter = choose_delimiter(picked)
    rows = [split_line(line, delimiter) for line in lines[: _LOOK_LINES * 4]]
    usual, data_width = _first_usual(rows)
    if usual is None:
        return None
    first = _reach_up(rows, usual)
    timed = [c for c, cell in enumerate(rows[first]) if is_stamp(cell)]
    numbered = _readings(rows, first, timed, data_width)
    like = [r for _, r in numbered]
    headers, top = _headers(rows, first, min(map(_measured_span, like)), max(map(len, like)))
    sample = [r for r in like if r not in headers]
    width, fitted, doubt = fit_headers(headers, sample, delimiter, lines[top:first])
    if not headers and (loose := _unfit_header(rows, first)):
        doubt = f"line {loose} may name the columns, and has not as many names as the rows have cells"
    return TableShape(
        delimiter=delimiter,
        first=first,
        width=width,
        headers=tuple(tuple(h) for h in fitted),
        header_lines=tuple(lines[top:first]),
        preamble=tuple(lines[:top]),
        rows=_as_wide(sample, width),
        doubt=doubt,
        above=_above(lines, rows[:first], data_width),
        before=_count_before(rows[:first], timed),
        blanks=delimiter in (GAPS, SPACES) and _has_blanks(delimiter, like, headers),
        widths=frozenset(map(len, sample)),
        moved=first_moved(numbered),
    )


def _readings(
    rows: Sequence[list[str]], first: int, timed: Sequence[int], width: int
) -> list[tuple[int, list[str]]]:
    """The table's rows among the first lines, each with its line."""
    return [(i, r) for i, r in enumerate(rows[first:], first + 1) if _like(r, timed, width)]


def _above(lines: Sequence[str], rows: Sequence[list[str]], width: int) -> tuple[tuple[int, str], ...]:
    """The lines above the table that hold a time and a number."""
    return tuple((i + 1, lines[i][:120]) for i, row in enumerate(rows) if _tells_a_reading(row, width))


def _as_wide(rows: Sequence[list[str]], width: int) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple((r + [""] * width)[:width]) for r in rows)


def _spread(lines: Sequence[str], most: int) -> list[str]:
    """The first lines, and others spread over the rest: preambles are long, and events interrupt."""
    full = [line for line in lines if line.strip()]
    if len(full) <= most:
        return full
    step = len(full) / (most // 2)
    return full[: most // 2] + [full[int(i * step)] for i in range(most // 2)]


def trimmed(row: Sequence[str]) -> list[str]:
    """A row without the empty cells at its end."""
    cells = list(row)
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _like(row: Sequence[str], timed: Sequence[int], data_width: int) -> bool:
    """Whether a row is one of the table's: a time where the first reading has it, else as wide as most, or numbers."""
    if timed:
        return all(c < len(row) and is_stamp(row[c]) for c in timed)
    full = trimmed(row)
    return bool(full) and (len(row) >= data_width or (len(full) > 2 and all(map(is_measured, full))))


def _tells_a_reading(row: Sequence[str], width: int) -> bool:
    """Whether a line above the table holds a time and a number, or numbers in as many cells as the rows have."""
    if any(map(is_moment, row)):
        return sum(map(is_measured, row)) >= 1
    return len(trimmed(row)) == width and sum(map(is_number, row)) >= 2


def _has_blanks(delimiter: str, rows: Sequence[Sequence[str]], headers: Sequence[Sequence[str]]) -> bool:
    """Whether some rows have fewer cells than others or than there are names, so that no cell's column is certain."""
    named = max((len(trimmed(h)) for h in headers), default=0) if delimiter == GAPS else 0
    return min(map(len, rows)) < max(named, _usual_width(rows))


def _usual_width(rows: Sequence[Sequence[str]]) -> int:
    return max(Counter(map(len, rows)).items(), key=lambda found: (found[1], found[0]))[0]


def _count_before(rows: Sequence[Sequence[str]], timed: Sequence[int]) -> int:
    """How many rows are readings of another table; a single one only below names of its own."""
    found = [i for i, row in enumerate(rows) if _is_before(row, timed)]
    if len(found) == 1 and not any(_names(row) for row in rows[: found[0]]):
        return 0
    return len(found)


def _names(row: Sequence[str]) -> bool:
    """Whether a row names a time and something measured."""
    said = [read_header(cell) for cell in row if cell and not is_measured(cell)]
    return any(m.quantity for m in said) and any(m.role in ("time", "elapsed") for m in said)


def _is_before(row: Sequence[str], timed: Sequence[int]) -> bool:
    """Whether a row above the table is a reading of another one: its time where the table has it, and a number."""
    if not timed:
        # A cell such as "2.99 V" is no number by itself, and makes no line of it.
        return len(row) > 2 and is_measured(row[0]) and is_data(row)
    return _all_there(row, timed) and any(map(is_measured, row))


def _measured_span(row: Sequence[str]) -> int:
    """How many cells a reading takes up, without words at its right."""
    last = timed = 0
    for at, cell in enumerate(row, 1):
        if is_stamp(cell) or is_measured(cell):
            last, timed = at, timed + 1
        elif timed > 1 and any(c.isalpha() for c in cell) and len(cell) > 4:
            break
    return last


def _unfit_header(rows: Sequence[Sequence[str]], first: int) -> int:
    """The line (from 1) right above the first reading, where it has several words and no number; else 0."""
    at = next((i for i in range(first - 1, -1, -1) if any(rows[i])), -1)
    full = [c for c in rows[at] if c] if at >= 0 else []
    return at + 1 if len(full) > 1 and not any(is_number(c) or is_moment(c) for c in full) else 0


def _is_start(rows: Sequence[Sequence[str]], at: int) -> bool:
    """A reading, and not a line of the preamble that looks like one: readings follow it."""
    if not is_data(rows[at]):
        return False
    row = rows[at]
    timed = [c for c, cell in enumerate(row) if is_stamp(cell)]
    same = timed or [c for c, cell in enumerate(row) if is_measured(cell)]
    test = is_stamp if timed else is_measured
    after = [r for r in rows[at + 1 : at + 9] if trimmed(r)][:6]
    like = sum(1 for r in after if all(c < len(r) and test(r[c]) for c in same))
    return like * 2 >= len(after)


def _all_there(row: Sequence[str], timed: Sequence[int]) -> bool:
    """Whether a row has a time in each of these columns."""
    return all(c < len(row) and is_stamp(row[c]) for c in timed)


def _first_usual(rows: Sequence[list[str]]) -> tuple[int | None, int]:
    """The first row as most of the readings are, None where no row is a reading; and how wide they are."""
    data = [r for r in rows if is_data(r)]
    if not data:
        return None, 0
    width = Counter(len(trimmed(r)) for r in data).most_common(1)[0][0]
    # A line with a date above a table of numbers is no reading of it.
    dated = sum(any(map(is_stamp, r)) for r in data) * 2 > len(data)
    for i, row in enumerate(rows):
        if len(trimmed(row)) == width and any(map(is_stamp, row)) == dated and _is_start(rows, i):
            return i, width
    return None, width


def _reach_up(rows: Sequence[Sequence[str]], first: int) -> int:
    """The table's first row, where rows above the first usual one belong to it too.

    Those are rows with a time in the same column, up to the headers: readings that are wider or narrower than
    most (also across a line between them that is no row), and rows with a time alone that touch the table.
    """
    timed = [c for c in range(len(rows[first])) if is_stamp(rows[first][c])]
    if not timed:
        return _reach_up_numbers(rows, first)
    valued = [c for c, cell in enumerate(rows[first]) if c not in timed and is_measured(cell)]
    found = at = first
    while at > 0:
        at -= 1
        row = rows[at]
        if _all_there(row, timed):
            if found == at + 1 or any(is_measured(row[c]) for c in valued if c < len(row)):
                found = at
        elif is_header(row, _measured_span(rows[first]), len(rows[first])):
            break
    return found


def _reach_up_numbers(rows: Sequence[Sequence[str]], first: int) -> int:
    """The same where the time is a number like the others: rows above of numbers in the same cells."""
    measured = [c for c, cell in enumerate(rows[first]) if is_measured(cell)]
    while first > 0:
        above = rows[first - 1]
        if not all(
            c < len(above) and (is_measured(above[c]) or above[c].lower() in MISSING) for c in measured
        ):
            break
        if sum(is_measured(above[c]) for c in measured) < 2:
            break
        first -= 1
    return first


def _headers(
    rows: Sequence[Sequence[str]], first: int, least: int, width: int
) -> tuple[list[list[str]], int]:
    """Header rows nearest first, and the index of the topmost. The rows have ``least`` to ``width`` cells."""
    at = first - 1
    skipped = 0
    while at >= 0 and skipped < 4 and _sparse(rows[at], width):
        at -= 1
        skipped += 1
    found: list[list[str]] = []
    while at >= 0 and len(found) < _MOST_HEADERS and is_header(rows[at], least, width):
        found.append(list(rows[at]))
        at -= 1
    return found, (at + 1 if found else first)


def _sparse(row: Sequence[str], width: int) -> bool:
    full = [c for c in row if c]
    return len(full) == 0 or (len(full) == 1 and width > 2) or full[0].startswith("[#")


def is_header(row: Sequence[str], least: int, width: int) -> bool:
    """Whether a row may name columns: mostly words, about as wide as the table's rows, and no time."""
    cells = trimmed(row)
    full = [c for c in cells if c]
    if len(full) < 2 or not least - 1 <= max(len(cells), min(len(row), width)) <= 2 * width + 1:
        return False
    numbers = sum(map(is_number, full))
    return numbers * 2 <= len(full) and not any(map(is_moment, full))
