"""What each exported table holds: every column with its type, unit and meaning (Data Package field types)."""

from __future__ import annotations

from collections.abc import Sequence

import pyarrow as pa

from ..study import DERIVED, QUANTITIES
from ..tables import COLUMNS as MOMENT_COLUMNS
from ..tables.records import COLUMNS as RECORD_COLUMNS
from .column import TIMES, PackageColumn

_MOMENT_TYPES = {
    "at": "datetime", "scan": "integer", "count": "integer", "hidden": "boolean", "sure": "boolean",
    "late": "boolean", "day": "date", "hour": "number", "weight": "number", "record": "integer",
}  # fmt: skip
MOMENTS = (
    PackageColumn("moment", "integer", "number of the row, from 1"),
    *(
        column
        for name, meaning in MOMENT_COLUMNS.items()
        for column in (
            TIMES
            if name == "at"
            else (
                PackageColumn(
                    name, _MOMENT_TYPES.get(name, "string"), meaning, "h" if name == "hour" else ""
                ),
            )
        )
    ),
)
RECORDS = (
    PackageColumn("record", "integer", "number of the record, as in moments"),
    *(
        column
        for name, meaning in RECORD_COLUMNS.items()
        for column in (
            TIMES
            if name == "at"
            else (PackageColumn(name, "integer" if name in ("part", "n") else "string", meaning),)
        )
    ),
)
ADJUSTMENTS = (
    PackageColumn("adjustment", "string", "the change's id"),
    PackageColumn("at", "datetime", "when it was made, local time with its offset from UTC"),
    TIMES[1],
    PackageColumn("entered", "datetime", "when it was put on record"),
    PackageColumn("settled", "datetime", "when it had had its time to settle"),
    PackageColumn("what", "string", "water, heat, light, cover, layout, feeding, company or other"),
    PackageColumn("zones", "string", "ids of the changed zones, separated by spaces"),
    PackageColumn("amount", "number", "how much, in unit"),
    PackageColumn("unit", "string", "the unit of amount"),
    PackageColumn("why", "string", "why it was made"),
    PackageColumn(
        "expects",
        "string",
        "what was expected of it, as NAME:up or NAME:down, separated by spaces",
    ),
    PackageColumn("undoes", "string", "id of the earlier change it takes back"),
)
_ZONE = (
    PackageColumn("zone", "string", "the zone's id"),
    PackageColumn("place", "string", "the zone's place, equal in enclosures of one layout"),
)


def conditions_columns(quantities: Sequence[str]) -> tuple[PackageColumn, ...]:
    """Zone by time of each moment."""
    return (*TIMES, *_ZONE, *_measured(quantities, "in the zone then, between the readings around it"))


def choices_columns(quantities: Sequence[str]) -> tuple[PackageColumn, ...]:
    """Moment by zone that could be chosen then."""
    return (
        PackageColumn("moment", "integer", "the row of the table moments"),
        *TIMES,
        PackageColumn("animal", "string", "the animal's id"),
        PackageColumn("group", "string", "the group's id, for animals not told apart"),
        *_ZONE,
        PackageColumn("offered", "number", "the zone's share of what was on offer to it then, 0 to 1"),
        PackageColumn("cover", "number", "the keeper's rating, 0 fully exposed to 1 fully enclosed"),
        PackageColumn("chosen", "boolean", "whether it was there"),
        *_measured(quantities, "in the zone then, between the readings around it"),
    )


def readings_columns(quantities: Sequence[str]) -> tuple[PackageColumn, ...]:
    """One row a reading of a logger."""
    return (
        *TIMES,
        PackageColumn("logger", "string", "the logger's id"),
        PackageColumn("zone", "string", "where it lay then; empty outside every placement"),
        *_measured(quantities, "with clock and calibration put right"),
        PackageColumn(
            "not_believed", "string", "quantities not to be believed and why; they are left out of joins"
        ),
    )


def _measured(quantities: Sequence[str], how: str) -> list[PackageColumn]:
    found = []
    for name in quantities:
        if name in QUANTITIES:
            found.append(
                PackageColumn(name, "number", f"{QUANTITIES[name].label} {how}", QUANTITIES[name].unit)
            )
        elif name in DERIVED:
            bases = " and ".join(QUANTITIES[base].label for base in DERIVED[name].derived_from)
            meaning = f"{DERIVED[name].label}, from {bases}"
            found.append(PackageColumn(name, "number", meaning, DERIVED[name].unit))
    return found


def arrow_type(column: PackageColumn, zone: str) -> pa.DataType:
    """The Arrow type of a column; times carry the study's zone."""
    if column.type == "datetime":
        return pa.timestamp("ms", tz="UTC" if column.name == "at_utc" else zone)
    return {
        "date": pa.date32(), "number": pa.float64(), "integer": pa.int64(), "boolean": pa.bool_(),
        "string": pa.string(),
    }[column.type]  # fmt: skip
