"""How the exported tables hang together: each one's primary key, and which column of it names a row of which other."""

from __future__ import annotations

from collections.abc import Collection

PRIMARY: dict[str, tuple[str, ...]] = {
    "zones": ("zone",),
    "animals": ("animal",),
    "groups": ("group",),
    "behaviours": ("behaviour",),
    "loggers": ("logger",),
    "periods": ("period",),
    "limits": ("limit",),
    "sessions": ("session",),
    "moments": ("moment",),
    "records": ("record",),
    "events": ("record",),
    "feeds": ("feed",),
    "weights": ("weighing",),
    "notes": ("note",),
    "context": ("context",),
    "conditions": ("zone", "at_utc"),
    "choices": ("moment", "zone"),
    "adjustments": ("adjustment",),
    "readings": ("logger", "at_utc"),
}
# Whatever table a column of this name stands in, it names a row there.
_NAMES = {
    "zone": "zones", "animal": "animals", "group": "groups", "behaviour": "behaviours", "logger": "loggers",
    "session": "sessions", "record": "records", "moment": "moments",
}  # fmt: skip


def foreign(table: str, columns: Collection[str]) -> list[tuple[str, str]]:
    """(column, table it names a row of), for the columns of a table."""
    return [(column, other) for column, other in _NAMES.items() if column in columns and other != table]
