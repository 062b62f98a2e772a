"""Long tables: a row per value, with a column that names the quantity or its unit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from ...study import QUANTITIES
from ..layout import Hints, LeftOpen, LongColumns
from .columns import FileColumn
from .headers import read_header
from .time_columns import is_named


def find_long(rest: Sequence[FileColumn]) -> LongColumns | None:
    """The value column of a long table and what names its values; None where it is no such table."""
    value = _value_column(rest)
    if value is None:
        return None
    named = [c for c in rest if c.kind == "text" and c is not value]
    named.sort(key=lambda c: {"quantity": 0, "unit": 2}.get(c.meaning.role, 1))
    for column in named:
        meanings = tuple(_meaning(name) for name in column.distinct)
        if any(quantity for _, quantity, _ in meanings):
            unit = next((c.at for c in named if c.meaning.role == "unit" and c is not column), None)
            return LongColumns(value.at, column.at, unit, meanings)
    return None


def several_of_one(long: LongColumns, rest: Sequence[FileColumn], hints: Hints) -> list[LeftOpen]:
    """What to ask where several names stand for one quantity: sensors, or minima and maxima beside means."""
    column = next(c for c in rest if c.at == long.name)
    if any(is_named(column, [name]) for name in (*hints.by, *(name for name, _ in hints.where))):
        return []
    count = Counter(quantity for _, quantity, _ in long.meanings if quantity)
    twice = [name for name, quantity, _ in long.meanings if count[quantity] > 1]
    if not twice:
        return []
    number = long.name + 1
    return [LeftOpen(
        "by", f"Column {number} {column.header!r} has several names for one quantity ({', '.join(twice[:4])})",
        f"--by {number} with --series {twice[0]}=LOGGER for each to take in, or --where {number}={twice[0]} for one",
    )]  # fmt: skip


def _meaning(name: str) -> tuple[str, str, str]:
    """A name in the quantity column, or a unit in the unit column, as (name, quantity, unit)."""
    if name in QUANTITIES:
        return name, name, "C" if name.endswith("_c") else "%"
    if name.strip().upper() in ("C", "F"):
        return name, "temperature_c", name.strip().upper()
    found = read_header(name)
    if not found.quantity and name.strip() in ("%", "%RH", "RH%", "% RH"):
        return name, "humidity_pct", "%"
    return name, found.quantity, found.unit


def _value_column(rest: Sequence[FileColumn]) -> FileColumn | None:
    """The last column of numbers, of those called a value where any is."""
    numbers = [c for c in rest if c.kind == "number" and c.meaning.role != "index"]
    values = [c for c in numbers if c.meaning.role == "value"] or numbers
    return values[-1] if values else None
