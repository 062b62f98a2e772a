"""What only shows when loggers are seen together, and with the lights: lamp, misplaced, swapped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import combinations
from pathlib import Path

import numpy as np

from zoneuse.study import Declaration, Logger, Placement, to_ms
from zoneuse.study.clock import lights_at

from ..store.store import intakes
from ..store.taken import Intake
from .quality import (
    CEILING,
    DRIER,
    LAMP,
    PINNED,
    SWAPPED,
    Flags,
    believed,
    drier_than_open,
    sees_lamp,
    stuck_at_ceiling,
    swapped_at,
)
from .series import Series, load_series

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_FOREVER_MS = 1 << 52
_DAY_MS = 86_400_000

Loaded = dict[str, dict[str, Series]]


def load_all(
    study: Path,
    declared: Declaration,
    since_ms: int | None = None,
    until_ms: int | None = None,
    intaken: Sequence[Intake] | None = None,
) -> Loaded:
    """All loggers' series by logger and quantity, corrected, with every flag, also those that need all of them."""
    if intaken is None:
        intaken = intakes(study)[0]
    loaded = {
        name: load_series(study, logger, since_ms, until_ms, intaken)
        for name, logger in declared.loggers.items()
    }
    return cross_flag(declared, loaded)


def cross_flag(declared: Declaration, loaded: Mapping[str, dict[str, Series]]) -> Loaded:
    """The same series with the flags added that compare loggers with each other and with the lights."""
    extra: dict[tuple[str, str], Flags] = {
        (name, q): np.zeros(len(s.times), np.uint16) for name, by_q in loaded.items() for q, s in by_q.items()
    }
    for name, logger in declared.loggers.items():
        for placement in logger.placed:
            _flag_lamp(declared, loaded.get(name, {}), placement, extra)
            _flag_drier(declared, loaded, logger, placement, extra)
            _flag_stuck_wet(declared, loaded, logger, placement, extra)
    for one, other in combinations(sorted(loaded), 2):
        _flag_swapped(declared, loaded, one, other, extra)
    return {
        name: {q: replace(s, flags=s.flags | extra[name, q]) for q, s in by_q.items()}
        for name, by_q in loaded.items()
    }


def span_ms(placement: Placement) -> tuple[int, int]:
    """A placement's start and end in ms; open ends lie before and after all readings."""
    start = -_FOREVER_MS if placement.start is None else to_ms(placement.start)
    return start, _FOREVER_MS if placement.until is None else to_ms(placement.until)


def _within(series: Series, placement: Placement) -> slice:
    return slice(*np.searchsorted(series.times, span_ms(placement)))


def _flag_lamp(
    declared: Declaration,
    by_q: Mapping[str, Series],
    placement: Placement,
    extra: dict[tuple[str, str], Flags],
) -> None:
    zone = declared.zones.get(placement.zone)
    # Under a basking lamp that is no fault: it is the place.
    if zone is None or zone.role == "basking" or not {"temperature_c", "humidity_pct"} <= set(by_q):
        return
    warm, moist = by_q["temperature_c"], by_q["humidity_pct"]
    part = _within(warm, placement)
    times = warm.times[part]
    if len(times) == 0:
        return
    lit = lit_spans(declared, zone.enclosure, int(times[0]), int(times[-1]))
    # Both quantities come from one file mostly, and so at the same times; else there is nothing to compare.
    if lit and np.array_equal(warm.times, moist.times):
        seen = sees_lamp(times, warm.values[part], moist.values[part], lit)
        for series in (warm, moist):
            extra[series.logger, series.quantity][part][seen] |= LAMP


def lit_spans(declared: Declaration, enclosure: str, low_ms: int, high_ms: int) -> list[tuple[int, int]]:
    """When the lights of an enclosure were on, day by day, as (on, off) in ms."""
    found = []
    for number in range(low_ms // _DAY_MS - 1, high_ms // _DAY_MS + 2):
        noon = _EPOCH + timedelta(days=number, hours=12)
        lights = lights_at(declared, enclosure, noon)
        if lights is None:
            continue
        day = noon.astimezone(declared.timezone).date()
        on = datetime.combine(day, lights.on, declared.timezone)
        summer = (on.dst() or timedelta()) if lights.standard else timedelta()
        off = datetime.combine(day, lights.off, declared.timezone)
        if off <= on:
            off += timedelta(days=1)
        found.append((to_ms(on.astimezone(UTC) + summer), to_ms(off.astimezone(UTC) + summer)))
    return found


def _flag_drier(
    declared: Declaration, loaded: Mapping[str, Mapping[str, Series]], logger: Logger, placement: Placement,
    extra: dict[tuple[str, str], Flags],
) -> None:  # fmt: skip
    zone = declared.zones.get(placement.zone)
    inside = loaded.get(logger.id, {}).get("humidity_pct")
    if zone is None or zone.role != "retreat" or inside is None:
        return
    part = _within(inside, placement)
    for name, other in declared.loggers.items():
        outside = loaded.get(name, {}).get("humidity_pct")
        for place in other.placed:
            there = declared.zones.get(place.zone)
            if outside is None or there is None or there.role != "open" or there.enclosure != zone.enclosure:
                continue
            open_part = _within(outside, place)
            drier = drier_than_open(
                inside.times[part],
                inside.believed[part],
                outside.times[open_part],
                outside.believed[open_part],
            )
            extra[logger.id, "humidity_pct"][part][drier] |= DRIER


def _flag_stuck_wet(
    declared: Declaration, loaded: Mapping[str, Mapping[str, Series]], logger: Logger, placement: Placement,
    extra: dict[tuple[str, str], Flags],
) -> None:  # fmt: skip
    """A sensor at its ceiling is doubted only where temperature, or dry sensors beside it, speak against it."""
    moist, warm = (loaded.get(logger.id, {}).get(q) for q in ("humidity_pct", "temperature_c"))
    zone = declared.zones.get(placement.zone)
    if moist is None or zone is None:
        return
    part = _within(moist, placement)
    ceiling = (moist.flags[part] & CEILING) > 0
    if not ceiling.any():
        return
    same = warm is not None and np.array_equal(warm.times, moist.times)
    temperature = warm.values[part] if warm is not None and same else np.full(len(ceiling), np.nan)
    neighbours = [
        (series.times[there], series.values[there])
        for name, other in declared.loggers.items()
        if name != logger.id and (series := loaded.get(name, {}).get("humidity_pct")) is not None
        for place in other.placed
        if place.zone in declared.zones and declared.zones[place.zone].enclosure == zone.enclosure
        for there in [_within(series, place)]
    ]
    stuck = stuck_at_ceiling(moist.times[part], ceiling, temperature, neighbours)
    extra[logger.id, "humidity_pct"][part][stuck] |= PINNED


def _flag_swapped(
    declared: Declaration, loaded: Mapping[str, Mapping[str, Series]], one: str, other: str,
    extra: dict[tuple[str, str], Flags],
) -> None:  # fmt: skip
    moves = [
        edge for name in (one, other) for p in declared.loggers[name].placed for edge in span_ms(p)
    ]  # fmt: skip
    for quantity in ("humidity_pct", "temperature_c"):
        a, b = loaded[one].get(quantity), loaded[other].get(quantity)
        if a is None or b is None:
            continue
        believed_a, believed_b = believed(a.values, a.flags), believed(b.values, b.flags)
        at = swapped_at((a.times, believed_a), (b.times, believed_b))
        # Loggers moved about then are expected to read differently.
        if at is None or any(abs(at - edge) <= 2 * _DAY_MS for edge in moves):
            continue
        for name, by_q in ((one, loaded[one]), (other, loaded[other])):
            for q, series in by_q.items():
                extra[name, q][series.times >= at] |= SWAPPED
        return
