"""One line of an export, read with care: its cells, or why it is refused."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..recognise.columns import MISSING
from ..recognise.layout import CALENDAR, Layout
from ..recognise.splitting import THOUSANDS, UNIT_BEHIND, split_line
from ..times.time_shapes import KNOWN
from ..times.time_text import DAY_MS, NO_OFFSET, days_since_1970, take_apart_texts

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?")


@dataclass(frozen=True, slots=True)
class Refused:
    """A row that was not taken in. ``footer``: it holds no time at all, as the lines after a table do."""

    line: int
    reason: str
    text: str
    footer: bool = False


@dataclass(slots=True)
class Row:
    line: int
    times: list[str] = field(default_factory=list)
    stamp: float = 0
    values: list[float] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)
    events: list[tuple[int, str]] = field(default_factory=list)
    oddities: list[str] = field(default_factory=list)
    refused: Refused | None = None
    blank: bool = False


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


def read_rows(
    lines: Sequence[str],
    first: int,
    layout: Layout,
    value_columns: Sequence[int],
    label_columns: Sequence[int],
) -> list[Row]:
    """The lines' cells that matter, numbered from ``first``; ``refused`` says why one cannot be used."""
    needed = (*layout.time.columns, *value_columns, *label_columns)
    rows, split = [], []
    for number, line in enumerate(lines, first):
        row, cells = Row(number), split_line(line, layout.delimiter)
        row.blank = not any(cells) or line.rstrip("\r") in layout.header_lines
        if not row.blank and (reason := _width_fault(cells, layout, needed)):
            row.refused = Refused(number, reason, line[:200], footer=not take_apart_texts(cells).ok.any())
        rows.append(row)
        split.append(cells + [""] * (layout.width - len(cells)))
    usable = [
        (row, cells) for row, cells in zip(rows, split, strict=True) if not row.blank and row.refused is None
    ]
    _read_times(usable, lines, first, layout)
    for row, cells in usable:
        if row.refused is None:
            _read_values(row, cells, layout, value_columns, lines[row.line - first])
        row.labels = [cells[c] for c in label_columns]
        row.events = [(c, cells[c]) for c in layout.events if cells[c].lower() not in MISSING]
    return rows


def _read_values(row: Row, cells: list[str], layout: Layout, columns: Sequence[int], line: str) -> None:
    for column in columns:
        value = read_number(cells[column], layout.decimal)
        if value is None:
            name = layout.column_name(column)
            row.refused = Refused(row.line, f"{name}: {cells[column][:40]!r} is not a number", line[:200])
            return
        if np.isnan(value) and cells[column]:
            row.oddities.append(cells[column])
        row.values.append(value)


def _width_fault(cells: list[str], layout: Layout, needed: Sequence[int]) -> str:
    if len(cells) <= max(needed):
        return f"has {len(cells)} cells where {layout.width} are expected"
    extra = [c for c in cells[layout.width :] if c]
    if extra:
        return f"has {len(cells)} cells where {layout.width} are expected"
    return ""


def _read_times(
    usable: Sequence[tuple[Row, list[str]]], lines: Sequence[str], first: int, layout: Layout
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
    parts = [take_apart_texts([cells[c] for _, cells in usable]) for c in columns]
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


def _refuse_time(row: Row, texts: Sequence[str], line: str, footer: bool) -> None:
    row.refused = Refused(row.line, _no_time(texts), line[:200], footer)


def _no_time(texts: Sequence[str]) -> str:
    text = " ".join(t for t in texts if t)
    return f"{text[:40]!r} is not a time" if text else "has no time"
