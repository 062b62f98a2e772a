"""Small studies with readings of known climate, written through the store's own doors."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.making import session, study_folder
from zoneuse.readings.store.store import PartWriter, commit
from zoneuse.readings.store.taken import Intake

Floats = NDArray[np.float64]
START = datetime(2026, 3, 1, 0, 0, tzinfo=UTC)

THREE_ZONES = """
format = 1
title = "Three zones"
timezone = "Europe/Vienna"

[enclosure]
measured_in = "floor_cm2"
lights = {on = "08:00", off = "20:00"}

[zones.moss]
label = "Moss hide"
key = "m"
amount = 300
role = "retreat"
serves = ["humidity"]

[zones.open]
label = "Open floor"
key = "o"
amount = 900
role = "open"

[zones.stone]
label = "Warm stone"
key = "s"
amount = 200
role = "basking"

[loggers.L1]
placed = [{zone = "moss"}]
accuracy = {temperature_c = 0.5, humidity_pct = 3}
[loggers.L2]
placed = [{zone = "open"}]
accuracy = {temperature_c = 0.5, humidity_pct = 3}
[loggers.L3]
placed = [{zone = "stone"}]
accuracy = {temperature_c = 0.5, humidity_pct = 3}
"""
LIMIT = "\n[limits.moss]\nhumidity_pct = {low = 75}\n"


def grid(days: float) -> Floats:
    """Days from START, every half hour."""
    return np.arange(0, days, 1 / 48)


def put_readings(folder: Path, logger: str, t_days: Floats, values: Mapping[str, Floats]) -> None:
    """One logger's readings as a committed intake."""
    times = np.array([round((START + timedelta(days=float(d))).timestamp() * 1000) for d in t_days], np.int64)
    intake = f"{abs(hash((logger, len(t_days)))) % 16**8:08x}"
    writer = PartWriter(folder, intake, logger, tuple(values))
    writer.write(times, {q: np.asarray(v, float) for q, v in values.items()})
    part = writer.place()
    commit(folder, Intake(intake, f"{logger}.csv", "0" * 64, 1, "2026-06-01", (part,), kept=part.rows))


def three_zones(
    folder: Path, days: float = 14, extra: str = "", **given: Mapping[str, Floats | float]
) -> Path:
    """The study with each zone's temperature and humidity: constants or arrays over ``grid(days)``.

    ``given``: by logger (L1 moss, L2 open, L3 stone) {quantity: values}.
    """
    study_folder(folder, THREE_ZONES + extra)
    t = grid(days)
    random = np.random.default_rng(1)
    for logger, values in given.items():
        full = {
            q: np.broadcast_to(np.asarray(v, float), t.shape) + 0.05 * random.normal(size=t.size)
            for q, v in values.items()
        }
        put_readings(folder, logger, t, full)
    return folder


def dry_down(
    days: float, waters: tuple[float, ...], rate: float = 0.1, low: float = 60.0, high: float = 95.0
) -> Floats:
    """Humidity that falls from ``high`` towards ``low`` after each water (days); the first must be at 0 or before."""
    t = grid(days)
    since = np.min(np.where(t[:, None] >= np.array(waters), t[:, None] - np.array(waters), np.inf), axis=1)
    return np.asarray(low + (high - low) * np.exp(-rate * since) + 1.0 * np.sin(2 * np.pi * t), float)


def water(folder: Path, day: float, name: str, zones: tuple[str, ...] = ("moss",)) -> None:
    """Water put in, on record."""
    at = START + timedelta(days=day)
    journal = session(folder, at, method="record")
    journal.append("adjusted", at, adjustment=name, what="water", zones=list(zones), amount=2, unit="l")
    journal.append("closed", at + timedelta(seconds=5), reason="finished")
    journal.close()
