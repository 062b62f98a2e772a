"""Which name of a header stands over which column: certain, or doubted and then asked.

A header is often not as wide as its rows: rows end in a delimiter, in a cell that has no name, or begin with row
numbers that have none; names hold the delimiter themselves. Names that are set one column off make a humidity of
a dew point, so where more than one way fits no name is used at all.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby, pairwise

from ..layout import GAPS, SPACES
from .headers import read_header
from .splitting import is_measured, is_stamp

_UNIT_ALONE = re.compile(
    r"[(\[]?(?:[°º]?\s?[CF]|deg\s?[CF]|%(?:\s?RH)?|lux|lx|(?:GMT|UTC)\S*)[)\]]?(?:\s*\(.*)?", re.I
)
_WIDER = 40
# So many rows of one width are a part of the table; changes more frequent than this are ragged rows.
_FEWEST, _MOST_PARTS = 2, 3
_MOSTLY = 0.8
_MOVED = ({"number", "words"}, {"number", "time"}, {"number", "empty"}, {"time", "words"}, {"time", "empty"})


def fit_headers(
    headers: Sequence[Sequence[str]], rows: Sequence[Sequence[str]], delimiter: str, lines: Sequence[str]
) -> tuple[int, list[list[str]], str]:
    """The table's width, its header rows as wide as that, and why the names are in doubt (then there are none).

    ``headers``: nearest first; ``rows``: readings, as wide as they are; ``lines``: the headers as written.
    """
    timed = _timed(rows)
    # Free text at the right of some rows has delimiters of its own, and is no column.
    body = _body_width(rows, max((len(_trimmed(h)) for h in headers), default=0))
    if not headers:
        return body, [], ""
    names = _merged(max(headers, key=_named), body)
    shift, doubt = _shift(names, rows, body, timed)
    left = _fits(names, 0, timed, rows)
    widest = max(map(len, rows), default=0)
    if not doubt and len(names) > widest and _loose(delimiter, lines, names):
        doubt = f"the header has {len(names)} names for {body} columns, and a name may hold the delimiter"
    width = max(body, len(names) + shift)
    if doubt:
        kept = _names_of_times(names, body) if left and timed else []
        return body, [kept] if any(kept) else [], doubt
    merged = [_merged(header, body) for header in headers]
    return width, [_set_right(cells, shift and len(cells) <= len(names), width) for cells in merged], ""


def _timed(rows: Sequence[Sequence[str]]) -> list[int]:
    """The columns of the first row that hold a time."""
    return [c for c, cell in enumerate(rows[0]) if is_stamp(cell)] if rows else []


def _set_right(cells: list[str], shift: bool | int, width: int) -> list[str]:
    """A header row as wide as the table, one column to the right where ``shift`` says so."""
    return (([""] if shift else []) + cells + [""] * width)[:width]


def _trimmed(row: Sequence[str]) -> list[str]:
    cells = list(row)
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _named(header: Sequence[str]) -> int:
    return sum(1 for c in header if (m := read_header(c)).quantity or m.role or m.excluded)


def _body_width(rows: Sequence[Sequence[str]], named: int) -> int:
    """How many columns the rows have: at most those with a name and what follows them in nearly all rows."""
    widest = max(map(len, rows), default=0)
    while widest > named and widest > 1:
        full = [r for r in rows if len(r) >= widest]
        # A cell beyond the names is a column where nearly all rows have it, or a number in more than a few.
        numbers = sum(is_measured(r[widest - 1]) for r in full)
        if len(full) * 10 >= 9 * len(rows) or (
            numbers == len(full) and numbers > 1 and numbers * 10 > len(rows)
        ):
            break
        widest -= 1
    return min(widest, max(named, 1) + _WIDER)


def _merged(header: Sequence[str], width: int) -> list[str]:
    """A header's names; a unit parted from its name by the delimiter ("Temp, °C") belongs to that name."""
    cells = _trimmed(header)
    while len(cells) > width and (
        alone := [i for i, c in enumerate(cells) if i and _UNIT_ALONE.fullmatch(c)]
    ):
        at = alone[0]
        cells[at - 1 : at + 1] = [f"{cells[at - 1]}, {cells[at]}"]
    return cells


def _names_of_times(names: Sequence[str], width: int) -> list[str]:
    """The names of times, which stay where they fit; those of what is measured are not used where in doubt."""
    return [name if _is_time(name) else "" for name in (*names, *[""] * width)[:width]]


def _name_over(names: Sequence[str], column: int) -> str:
    return names[column] if 0 <= column < len(names) else ""


def _shift(
    names: Sequence[str], rows: Sequence[Sequence[str]], width: int, timed: Sequence[int]
) -> tuple[int, str]:
    """By how many columns the names are to be set right, and what speaks against any certainty."""
    extra = width - len(names)
    left, right = _fits(names, 0, timed, rows), extra == 1 and _fits(names, 1, timed, rows)
    if not timed and _counts_under_time(names, rows, extra):
        return 0, "the first column counts the rows, so its name may be that of the second"
    if extra <= 0:
        return 0, "" if left else "no name for the time stands over the column of times"
    if right and not left and _counts_up(rows):
        return 1, ""
    if left and _hangs_over(rows, len(names)):
        return 0, ""
    said = f"the header has {len(names)} name{'s' * (len(names) != 1)} for {width} columns"
    return 0, f"{said}, and which column has none cannot be told"


def _counts_under_time(names: Sequence[str], rows: Sequence[Sequence[str]], extra: int) -> bool:
    """Whether row numbers may stand under the name of a time in units, and that time right of them."""
    if read_header(_name_over(names, 0)).role not in ("time", "elapsed"):
        return False
    last = read_header(names[-1])
    over_numbers = extra > 0 or not (last.quantity or last.excluded)
    return _two_counts(rows) or (over_numbers and numbers_rows(rows))


def _hangs_over(rows: Sequence[Sequence[str]], named: int) -> bool:
    """Whether what stands right of the named columns is loose: not in every row, or nothing measured."""
    trailing = [r[named:] for r in rows if len(r) > named]
    return len(trailing) < len(rows) or not any(is_measured(c) for cells in trailing for c in cells)


def _fits(names: Sequence[str], shift: int, timed: Sequence[int], rows: Sequence[Sequence[str]]) -> bool:
    """Whether the times stand under a name for a time, or under none, and no name for a time over anything else."""
    meanings = [read_header(_name_over(names, c - shift)) for c in timed]
    if any(m.quantity or m.excluded or m.role == "index" for m in meanings):
        return False
    called = [i + shift for i, name in enumerate(names) if read_header(name).role == "time"]
    elsewhere = [c for c in called if c not in timed]
    if 0 in elsewhere and _counts_up(rows):
        return False
    return not (elsewhere and any(m.role not in ("time", "elapsed") for m in meanings))


def _is_time(name: str) -> bool:
    meaning = read_header(name)
    return not meaning.quantity and not meaning.excluded and meaning.role not in ("index", "event", "value")


def _counts_up(rows: Sequence[Sequence[str]]) -> bool:
    """Whether the first cells are row numbers: whole, and each above the one before."""
    firsts = [r[0] for r in rows[:200] if r]
    if not all(c.isdigit() for c in firsts):
        return False
    numbers = [int(c) for c in firsts]
    return all(a < b for a, b in pairwise(numbers))


def _two_counts(rows: Sequence[Sequence[str]]) -> bool:
    """Whether row numbers stand beside whole numbers, which may be a time in units."""
    return numbers_rows(rows) and all(len(r) > 1 and r[1].isdigit() for r in rows[:200])


def numbers_rows(rows: Sequence[Sequence[str]]) -> bool:
    """Whether the first cells go up, mostly by one from row to row: between them rows may have been passed over."""
    some = [r for r in rows[:200] if r]
    by_one = sum(int(b[0]) - int(a[0]) == 1 for a, b in pairwise(some)) if _counts_up(some) else 0
    return len(some) > 1 and by_one * 2 >= len(some) - 1


def _loose(delimiter: str, lines: Sequence[str], names: Sequence[str]) -> bool:
    """Whether a name may hold the delimiter: spaces part, or a comma in the text of a name."""
    if delimiter in (SPACES, GAPS):
        return True
    if delimiter != ",":
        return False
    open_bracket = any(name.count("(") != name.count(")") for name in names)
    line = next((x for x in reversed(lines) if "," in x), "")
    return open_bracket or ('"' not in line and ", " in line and line.count(", ") < line.count(","))


def first_moved(rows: Sequence[tuple[int, Sequence[str]]]) -> int:
    """The line from which on rows have a column more or less than before; 0 for none.

    ``rows``: (line, cells) of readings in file order. Ragged rows, whose last cells are left out here and there, and
    words at the right of some rows move nothing.
    """
    parts = [list(part) for _, part in groupby(rows, key=lambda row: len(row[1]))]
    for before, after in pairwise(parts):
        if min(len(before), len(after)) < _FEWEST:
            continue
        narrow, wide = sorted((before, after), key=lambda part: len(part[0][1]))
        width = len(narrow[0][1])
        added = len(parts) <= _MOST_PARTS and _kind(wide, width) == "number"
        if added or any({_kind(narrow, c), _kind(wide, c)} in _MOVED for c in range(width)):
            return after[0][0]
    return 0


def _kind(rows: Sequence[tuple[int, Sequence[str]]], at: int) -> str:
    """What most of the cells of a column are: number, time, words or empty; nothing where they are mixed."""
    kinds = [
        "empty" if not cell else "time" if is_stamp(cell) else "number" if is_measured(cell) else "words"
        for cell in (cells[at] for _, cells in rows)
    ]
    most = max(set(kinds), key=kinds.count)
    return most if kinds.count(most) >= _MOSTLY * len(kinds) else ""
