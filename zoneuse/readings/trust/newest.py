"""The newest value of each zone, put where the recorder can read it without any of the heavy parts.

``readings/newest.json`` is derived from the store and may be deleted at any time::

    {"format": 1, "zones": {"moss_end": {"humidity_pct": {"value": 81.2, "at": "…Z", "logger": "L1"}}}}
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from zoneuse.study import Declaration, Logger

from ...study import refuse_elsewhere, write_whole
from ..store.store import intakes, parts_of, readings_folder
from ..store.taken import Intake
from .cross_checks import span_ms
from .series import load_series

FILE_NAME = "newest.json"
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
# Flags need some readings around the newest one to be judged by.
_LOOK_BACK_MS = 2 * 86_400_000


def newest_values(study: Path, declared: Declaration, intaken: Sequence[Intake]) -> dict[str, dict[str, Any]]:
    """By zone and quantity: the newest believed value of the loggers placed there, its time and its logger."""
    zones: dict[str, dict[str, Any]] = {}
    for logger in declared.loggers.values():
        for zone, quantity, value, at_ms in _newest_of(study, logger, intaken):
            held = zones.setdefault(zone, {})
            if quantity not in held or held[quantity]["at_ms"] < at_ms:
                held[quantity] = {"value": round(value, 3), "at_ms": at_ms, "logger": logger.id}
    return zones


def _newest_of(study: Path, logger: Logger, intaken: Sequence[Intake]) -> list[tuple[str, str, float, int]]:
    last = max((part.last_ms for _, part in parts_of(intaken, logger.id)), default=None)
    if last is None:
        return []
    found = []
    for quantity, series in load_series(study, logger, last - _LOOK_BACK_MS, None, intaken).items():
        good = ~np.isnan(series.believed)
        for placement in logger.placed:
            start, end = span_ms(placement)
            here = np.flatnonzero(good & (series.times >= start) & (series.times < end))
            if len(here):
                row = here[-1]
                found.append((placement.zone, quantity, float(series.values[row]), int(series.times[row])))
    return found


def refresh_newest(study: Path, declared: Declaration) -> None:
    """Write ``newest.json`` anew from what is stored."""
    intaken, _ = intakes(study)
    zones = newest_values(study, declared, intaken)
    said = {
        zone: {
            quantity: {"value": v["value"], "at": _iso(v["at_ms"]), "logger": v["logger"]}
            for quantity, v in by_q.items()
        }
        for zone, by_q in zones.items()
    }
    text = json.dumps({"format": 1, "zones": said}, ensure_ascii=False, indent=1)
    place = readings_folder(study)
    refuse_elsewhere(study, place)
    if (place / FILE_NAME).is_symlink():  # it is derived: a link is no more than a name to replace
        (place / FILE_NAME).unlink()
    write_whole(place / FILE_NAME, text.encode())


def _iso(ms: int) -> str:
    return (_EPOCH + timedelta(milliseconds=ms)).isoformat(timespec="seconds").replace("+00:00", "Z")
