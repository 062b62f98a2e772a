"""Where the table stands in an export: preamble, header rows, first reading, width."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from .splitting import choose_delimiter, is_data, is_number, is_stamp, split_line

_MOST_HEADERS = 6
_LOOK_LINES = 200
_UNIT_ALONE = re.compile(
    r"[(\[]?(?:[°º]?\s?[CF]|deg\s?[CF]|%(?:\s?RH)?|lux|lx|(?:GMT|UTC)\S*)[)\]]?(?:\s*\(.*)?", re.I
)


@dataclass(frozen=True, slots=True)
class Table:
    """``first``: index of the first row below the headers; ``headers``: rows above it, nearest first, each as
    wide as the table; ``preamble``: the lines above those; ``rows``: sampled readings."""

    delimiter: str
    first: int
    width: int
    headers: tuple[tuple[str, ...], ...]
    header_lines: tuple[str, ...]
    preamble: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def find_table(text: str) -> Table | None:
    """The table in the first lines of an export; None where no line looks like a reading."""
    lines = text.split("\n")
    picked = _spread(lines, _LOOK_LINES)
    delimiter = choose_delimiter(picked)
    rows = [split_line(line, delimiter) for line in lines[: _LOOK_LINES * 4]]
    widths = Counter(len(_trimmed(r)) for r in rows if is_data(r))
    if not widths:
        return None
    data_width = widths.most_common(1)[0][0]
    first = next(
        (i for i, r in enumerate(rows) if len(_trimmed(r)) == data_width and _is_start(rows, i)), None
    )
    if first is None:
        return None
    # A trailing delimiter on every row is no column; a trailing event column is, if a header names it.
    width = max(len(r) for r in rows[first:] if is_data(r) and len(_trimmed(r)) <= data_width)
    first = _reach_up(rows, first, width)
    headers, top = _headers(rows, first, width)
    sample = [r for r in rows[first:] if _trimmed(r) and len(r) >= data_width and list(r) not in headers]
    return Table(
        delimiter=delimiter,
        first=first,
        width=width,
        headers=tuple(tuple(_fitted(h, width)) for h in headers),
        header_lines=tuple(lines[top:first]),
        preamble=tuple(lines[:top]),
        rows=tuple(tuple((r + [""] * width)[:width]) for r in sample),
    )


def _spread(lines: Sequence[str], most: int) -> list[str]:
    """The first lines, and others spread over the rest: preambles are long, and events interrupt."""
    full = [line for line in lines if line.strip()]
    if len(full) <= most:
        return full
    step = len(full) / (most // 2)
    return full[: most // 2] + [full[int(i * step)] for i in range(most // 2)]


def _trimmed(row: Sequence[str]) -> list[str]:
    cells = list(row)
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _is_start(rows: Sequence[Sequence[str]], at: int) -> bool:
    """A reading, and not a line of the preamble that looks like one: readings follow it."""
    if not is_data(rows[at]):
        return False
    after = [r for r in rows[at + 1 : at + 7] if _trimmed(r)][:4]
    like = sum(1 for r in after if len(r) == len(rows[at]) and (is_data(r) or any(map(is_stamp, r))))
    return like * 2 >= len(after)


def _reach_up(rows: Sequence[Sequence[str]], first: int, width: int) -> int:
    """Rows above the first reading that have a time but no value belong to the table."""
    timed = [c for c in range(len(rows[first])) if is_stamp(rows[first][c])]
    while first > 0 and timed:
        above = rows[first - 1]
        if len(above) < max(timed) + 1 or len(above) > width or not all(is_stamp(above[c]) for c in timed):
            break
        first -= 1
    return first


def _headers(rows: Sequence[Sequence[str]], first: int, width: int) -> tuple[list[list[str]], int]:
    """Header rows nearest first, and the index of the topmost."""
    at = first - 1
    skipped = 0
    while at >= 0 and skipped < 4 and _sparse(rows[at], width):
        at -= 1
        skipped += 1
    found: list[list[str]] = []
    while at >= 0 and len(found) < _MOST_HEADERS and _is_header(rows[at], width):
        found.append(list(rows[at]))
        at -= 1
    return found, (at + 1 if found else first)


def _sparse(row: Sequence[str], width: int) -> bool:
    full = [c for c in row if c]
    return len(full) == 0 or (len(full) == 1 and width > 2) or full[0].startswith("[#")


def _is_header(row: Sequence[str], width: int) -> bool:
    cells = _trimmed(row)
    full = [c for c in cells if c]
    if len(full) < 2 or not width - 1 <= max(len(cells), min(len(row), width)) <= 2 * width:
        return False
    return sum(map(is_number, full)) <= len(full) - 1


def _fitted(header: list[str], width: int) -> list[str]:
    """A header as wide as the rows: one name too few means that the first column, row numbers, has none."""
    cells = list(header)
    while len(cells) > width and not cells[-1]:
        cells.pop()
    # "Temp, °C" without quotes in a file parted by commas: the unit belongs to the name before it.
    while len(cells) > width and (
        alone := [i for i, c in enumerate(cells) if i and _UNIT_ALONE.fullmatch(c)]
    ):
        at = alone[0]
        cells[at - 1 : at + 1] = [f"{cells[at - 1]}, {cells[at]}"]
    if len(cells) == width - 1:
        cells = ["", *cells]
    return (cells + [""] * width)[:width]
