"""One line of an export, read with care: its cells, or why it is refused."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from .columns import MISSING
from .layout import CALENDAR, Layout
from .splitting import split_line
from .time_text import DAY_MS, NO_OFFSET, days_since_1970, take_apart_texts

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?")
_SUFFIX = re.compile(r"\s*(?:[°º]\s?[CF]|℃|℉|[CFK]|deg\s?[CF]|%\s?(?:RH|rF)?|lx|lux)$", re.IGNORECASE)
_THOUSANDS = re.compile(r"[-+]?\d{1,3}(?:[.,'’ ]\d{3})+(?:[.,]\d+)?")


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
    text = _SUFFIX.sub("", cell).replace("−", "-").strip()
    if decimal == ",":
        if _THOUSANDS.fullmatch(text):
            text = re.sub(r"[.'’ ](?=\d{3})", "", text)
        text = text.replace(",", ".") if text.count(",") <= 1 and "." not in text else text
    elif _THOUSANDS.fullmatch(text) and not re.fullmatch(r"[-+]?\d+\.\d+", text):
        text = re.sub(r"[,'’ ](?=\d{3})", "", text)
    if not _NUMBER.fullmatch(text):
        return None
    value = float(text)
    return value if np.isfinite(value) else None


def read_row_cells(
    line: str, number: int, layout: Layout, value_columns: Sequence[int], label_columns: Sequence[int]
) -> Row:
    """The cells of a line that matter; ``refused`` says why it cannot be used."""
    row = Row(number)
    cells = split_line(line, layout.delimiter)
    if not any(cells):
        row.blank = True
        return row
    if line.rstrip("\r") in layout.header_lines:
        row.blank = True
        return row
    if reason := _width_fault(cells, layout, (*layout.time.columns, *value_columns, *label_columns)):
        footer = not any(take_apart_texts(cells).ok) if cells else True
        row.refused = Refused(number, reason, line[:200], footer)
        return row
    cells += [""] * (layout.width - len(cells))
    _read_time(row, cells, layout, line)
    for column in value_columns if row.refused is None else ():
        value = read_number(cells[column], layout.decimal)
        if value is None:
            name = layout.column_name(column)
            row.refused = Refused(number, f"{name}: {cells[column][:40]!r} is not a number", line[:200])
            return row
        if np.isnan(value) and cells[column]:
            row.oddities.append(cells[column])
        row.values.append(value)
    row.labels = [cells[c] for c in label_columns]
    row.events = [(c, cells[c]) for c in layout.events if cells[c].lower() not in MISSING]
    return row


def _width_fault(cells: list[str], layout: Layout, needed: Sequence[int]) -> str:
    if len(cells) <= max(needed):
        return f"has {len(cells)} cells where {layout.width} are expected"
    extra = [c for c in cells[layout.width :] if c]
    if extra:
        return f"has {len(cells)} cells where {layout.width} are expected"
    return ""


def _read_time(row: Row, cells: list[str], layout: Layout, line: str) -> None:
    texts = [cells[c] for c in layout.time.columns]
    if layout.time.kind != CALENDAR:
        value = read_number(texts[0], layout.decimal)
        if value is None or np.isnan(value):
            row.refused = Refused(row.line, _no_time(texts), line[:200], footer=value is None)
            return
        row.stamp = value
        return
    parts = take_apart_texts(texts)
    if not parts.ok.all():
        digits = any(c.isdigit() for c in "".join(texts))
        row.refused = Refused(row.line, _no_time(texts), line[:200], footer=not digits)
        return
    row.times = texts
    if layout.time.iso:
        days, exists = days_since_1970(parts.first, parts.second, parts.third)
        offset = int(parts.offset_min[0])
        if not exists[0] or (layout.time.iso == "utc") != (offset != NO_OFFSET) or parts.year[0] != 0:
            row.refused = Refused(row.line, _no_time(texts), line[:200])
            return
        row.stamp = (
            int(days[0]) * DAY_MS + int(parts.day_ms[0]) - (0 if offset == NO_OFFSET else offset * 60_000)
        )


def _no_time(texts: Sequence[str]) -> str:
    text = " ".join(t for t in texts if t)
    return f"{text[:40]!r} is not a time" if text else "has no time"
