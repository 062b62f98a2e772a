"""One line of an export, read with care: its cells, or why it is refused."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..layout import CALENDAR, GAPS, SPACES, Layout
from ..recognise.columns import is_site_header
from ..recognise.headers import DEGREES, read_header, tokens_of
from ..recognise.splitting import MISSING, THOUSANDS, UNIT_BEHIND, is_measured, is_moment, split_line
from ..recognise.zone_words import zone_said
from ..times.number_parts import parts_of_texts
from ..times.time_shapes import KNOWN
from ..times.time_text import DAY_MS, NO_OFFSET, days_since_1970, take_apart_texts

_BEGINS_AS_NUMBER = re.compile(r"[-+−]?[.,]?\d")
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?")


@dataclass(frozen=True, slots=True)
class Refused:
    """A row that was not taken in. ``footer``: it holds no time at all, as the lines after a table do. ``header``: it
    names other columns; ``words``: it may."""

    line: int
    reason: str
    text: str
    footer: bool = False
    header: bool = False
    words: bool = False


@dataclass(slots=True)
class FileRow:
    """One line. ``again``: the header once more, or a remark between the rows; ``beside``: words at its right."""

    line: int
    times: list[str] = field(default_factory=list)
    stamp: float = 0
    values: list[float] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)
    events: list[tuple[int, str]] = field(default_factory=list)
    oddities: list[str] = field(default_factory=list)
    refused: Refused | None = None
    blank: bool = False
    again: bool = False
    beside: bool = False


def read_number(cell: str, decimal: str) -> float | None:
    """A number as written: decimal comma or point, thousands marks, a unit behind it; NaN for "no value".

    >>> read_number("1.234,5", ","), read_number("23.5 °C", "."), read_number("warm", ".")
    (1234.5, 23.5, None)
    """
    if cell.lower() in MISSING:
        return float("nan")
    text = UNIT_BEHIND.sub("", cell).replace("−", "-").strip()
    if decimal == ",":
        if THOUSANDS.fullmatch(text):
            text = re.sub(r"[.'’ ](?=\d{3})", "", text)
        text = text.replace(",", ".") if text.count(",") <= 1 and "." not in text else text
    elif THOUSANDS.fullmatch(text) and not re.fullmatch(r"[-+]?\d+\.\d+", text):
        text = re.sub(r"[,'’ ](?=\d{3})", "", text)
    if not _NUMBER.fullmatch(text):
        return None
    value = float(text)
    return value if np.isfinite(value) else None


def _looked_at(number: int, line: str, cells: list[str], layout: Layout, *, needed: Sequence[int]) -> FileRow:
    """A row without its values yet: whether it is one at all, and has the columns that are needed."""
    row = FileRow(number)
    row.blank = not any(cells)
    row.again = not row.blank and (line.rstrip("\r") in layout.header_lines or _is_remark(cells, layout))
    row.beside = len(cells) > layout.width and any(cells[layout.width :])
    if row.blank or (row.again and not _tells_of_units(line, layout)):
        return row
    if row.again:
        row.again = False
        row.refused = Refused(number, "another unit or zone begins here", line[:200], footer=True, words=True)
        return row
    if _names_other_columns(cells, layout):
        row.refused = Refused(number, "other columns begin here", line[:200], header=True)
    elif _only_words(cells, layout):
        # Words where the times and values stand: the foot of the file, or names of other columns if readings follow.
        row.refused = Refused(number, "has words only", line[:200], footer=True, words=True)
    elif _tells_of_another(cells, line, layout):
        row.refused = Refused(number, "another table begins here", line[:200], footer=True, words=True)
    elif reason := _width_fault(cells, layout, needed):
        row.refused = Refused(number, reason, line[:200], footer=not take_apart_texts(cells).ok.any())
    return row


def read_rows(
    lines: Sequence[str],
    first: int,
    layout: Layout,
    value_columns: Sequence[int],
    label_columns: Sequence[int],
) -> list[FileRow]:
    """The lines' cells that matter, numbered from ``first``; ``refused`` says why one cannot be used."""
    needed = (*layout.time.columns, *value_columns, *label_columns)
    rows, split = [], []
    for number, line in enumerate(lines, first):
        cells = split_line(line, layout.delimiter)
        rows.append(_looked_at(number, line, cells, layout, needed=needed))
        split.append(cells + [""] * (layout.width - len(cells)))
    usable = [
        (row, cells)
        for row, cells in zip(rows, split, strict=True)
        if not row.blank and not row.again and row.refused is None
    ]
    _read_times(usable, lines, first, layout)
    for row, cells in usable:
        if row.refused is None:
            _read_values(row, cells, layout, value_columns, lines[row.line - first])
        row.labels = [cells[c] for c in label_columns]
        row.events = [(c, cells[c]) for c in layout.events if cells[c].lower() not in MISSING]
    return rows


def _other_unit(cell: str, unit: str) -> str:
    """The unit of temperature behind a number, where it is not the column's."""
    found = UNIT_BEHIND.search(cell) if cell[-1:].isalpha() or cell[-1:] in "℃℉" else None
    letter = {"℃": "C", "℉": "F"}.get(cell[-1:], cell[-1:].upper()) if found else ""
    return letter if letter in "CFK" and letter != unit else ""


def _read_values(row: FileRow, cells: list[str], layout: Layout, columns: Sequence[int], line: str) -> None:
    units = [""] if layout.long else [v.unit for v in layout.values]
    for column, unit in zip(columns, units, strict=True):
        value = read_number(cells[column], layout.decimal)
        if unit in DEGREES.values() and (other := _other_unit(cells[column], unit)):
            name = layout.column_name(column)
            row.refused = Refused(
                row.line, f"{name}: is in °{other} where the column is in °{unit}", line[:200]
            )
            return
        if value is None:
            name = layout.column_name(column)
            row.refused = Refused(row.line, f"{name}: {cells[column][:40]!r} is not a number", line[:200])
            return
        if np.isnan(value) and cells[column]:
            row.oddities.append(cells[column])
        row.values.append(value)


def _is_remark(cells: Sequence[str], layout: Layout) -> bool:
    """Whether a line between the rows is set apart by a mark, as programs note that a logger was read."""
    return layout.width > 2 and len(cells) == 1 and cells[0][:1] in "<#[/;*"


def _tells_of_units(line: str, layout: Layout) -> bool:
    """Whether a remark between the rows names a unit or a zone: what follows it may be in another one."""
    if line.rstrip("\r") in layout.header_lines:
        return False
    return any(t in DEGREES for t in tokens_of(line) if len(t) > 1) or bool(zone_said(line))


def _tells_of_another(cells: Sequence[str], line: str, layout: Layout) -> bool:
    """Whether a line between the rows says of which logger or place what follows is: "Logger: L2"."""
    full = [c for c in cells if c]
    said = re.split(r"[:=]", full[0], maxsplit=1) if full else []
    named = len(said) == 2 or len(full) == 2
    if not named or len(full) > 2 or line.strip() in layout.preamble or any(map(is_moment, full)):
        return False
    return len(said[0].split()) <= 3 and is_site_header(said[0])


def _names_other_columns(cells: Sequence[str], layout: Layout) -> bool:
    """Whether a line within the table is a header, and another one than the table's."""
    if any(map(is_measured, cells)) or not any(cells):
        return False
    found = [read_header(c) for c in cells if c]
    if not any(m.quantity for m in found) or not any(m.role in ("time", "elapsed") for m in found):
        return False
    return [c for c in cells if c] != [h for h in layout.headers if h]


def _only_words(cells: Sequence[str], layout: Layout) -> bool:
    """Whether a line has a word in each column of values, none of its own time and no number."""
    values = (layout.long.value,) if layout.long else tuple(v.column for v in layout.values)
    if (
        max(*layout.time.columns, *values) >= len(cells)
        or any(map(is_measured, cells))
        or any(map(is_moment, cells))
    ):
        return False
    if not layout.long and any(DEGREES.get(cells[v.column].lower(), v.unit) != v.unit for v in layout.values):
        return True  # a row of units, and another than the column's
    return not any(cells[c].lower() in MISSING or cells[c][:1].isdigit() for c in values) and not any(
        char.isdigit() for c in layout.time.columns for char in cells[c]
    )


def _width_fault(cells: list[str], layout: Layout, needed: Sequence[int]) -> str:
    said = f"has {len(cells)} cells where {layout.width} are expected"
    # Where spaces part the cells, an empty one shows only in their number.
    if len(cells) <= max(needed) or (layout.delimiter in (GAPS, SPACES) and len(cells) < layout.width):
        return said
    extra = [c for c in cells[layout.width :] if c]
    # One column less or more in mid-file moves every value right of it into the next one's place.
    if not extra:
        return "" if len(cells) == layout.width or len(cells) in layout.widths else said
    # Words beyond the last column are a remark about the device, with delimiters of their own; numbers may be values,
    # and so may be what elsewhere stands in the last column.
    number = _BEGINS_AS_NUMBER.match(extra[0])
    return said if number or is_moment(extra[0]) or extra[0] in layout.last else ""


def _read_times(
    usable: Sequence[tuple[FileRow, list[str]]], lines: Sequence[str], first: int, layout: Layout
) -> None:
    """The time of each row, all rows together."""
    columns = layout.time.columns
    if layout.time.kind != CALENDAR:
        for row, cells in usable:
            value = read_number(cells[columns[0]], layout.decimal)
            if value is None or np.isnan(value):
                _refuse_time(row, [cells[columns[0]]], lines[row.line - first], footer=value is None)
            else:
                row.stamp = value
        return
    parts = parts_of_texts(layout.time.roles, [[cells[c] for _, cells in usable] for c in columns])
    ok = np.logical_and.reduce([p.ok for p in parts])
    stamps = np.zeros(len(usable), np.int64)
    if layout.time.iso:
        date = parts[0]
        days, exists = days_since_1970(date.first, date.second, date.third)
        own = date.offset_min != NO_OFFSET
        ok = ok & exists & (own == (layout.time.iso == "utc")) & (date.year == KNOWN) & date.dated
        stamps = days * DAY_MS + date.day_ms - np.where(own, date.offset_min, 0) * 60_000
    for i, (row, cells) in enumerate(usable):
        texts = [cells[c] for c in columns]
        if ok[i]:
            row.times, row.stamp = texts, float(stamps[i])
        else:
            digits = any(c.isdigit() for c in "".join(texts))
            _refuse_time(row, texts, lines[row.line - first], footer=not digits)


def _refuse_time(row: FileRow, texts: Sequence[str], line: str, footer: bool) -> None:
    row.refused = Refused(row.line, _no_time(texts), line[:200], footer)


def _no_time(texts: Sequence[str]) -> str:
    text = " ".join(t for t in texts if t)
    return f"{text[:40]!r} is not a time" if text else "has no time"
