"""Long tables: a row per value, with a column that names the quantity or its unit."""

from __future__ import annotations

from collections.abc import Sequence

from ...study.quantities import QUANTITIES
from ..layout import LongColumns
from .columns import FileColumn
from .headers import read_header


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
