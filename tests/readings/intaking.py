"""Take a text in as a file and read back what the store holds of it: the public doors, in one call."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from zoneuse.readings.layout import Hints
from zoneuse.readings.read.intake import Staged, stage
from zoneuse.readings.store.store import Readings, intakes, read

VIENNA = ZoneInfo("Europe/Vienna")
MADE = datetime(2026, 5, 1, tzinfo=UTC)
LOGGERS = ("L1", "L2", "L10")


def take_in(
    folder: Path,
    text: str | bytes,
    name: str = "L1.csv",
    zone: tzinfo = VIENNA,
    loggers: tuple[str, ...] = LOGGERS,
    encoding: str = "utf-8",
    **hints: object,
) -> Staged:
    """Write ``text`` to a file beside the study and take it in."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    staged = stage(folder, path, loggers, zone, Hints(**hints), intaken=intakes(folder)[0])  # type: ignore[arg-type]
    # Intakes are told apart by when they were made: each a minute after the one before.
    staged.commit(MADE + timedelta(minutes=len(intakes(folder)[0])))
    return staged


def stored(folder: Path, logger: str = "L1") -> Readings:
    return read(folder, logger)


def utc(*clock: int) -> int:
    return int(datetime(*clock, tzinfo=UTC).timestamp() * 1000)  # type: ignore[arg-type]


def values(readings: Readings, quantity: str) -> list[float | None]:
    return [None if np.isnan(v) else round(float(v), 6) for v in readings.values[quantity]]
