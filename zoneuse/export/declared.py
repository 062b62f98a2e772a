"""What study.toml declares as tables: zones, animals, groups, behaviours, loggers, and everything that has dates."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, time
from typing import Any

import pandas as pd

from ..study import Declaration, Span
from .column import PackageColumn

_DECLARED = PackageColumn(
    "declared", "boolean", "false: on record, but study.toml does not declare it (any more)"
)
_LABEL = PackageColumn("label", "string", "what the keeper calls it")
_KEY = PackageColumn("key", "string", "the key that records it")
_FROM = PackageColumn(
    "from", "datetime", "from when it held, local time with its offset; empty: from the beginning"
)
_UNTIL = PackageColumn("until", "datetime", "until when it held; empty: to this day")

ZONES = (
    PackageColumn("zone", "string", "the zone's id"),
    _LABEL,
    _KEY,
    PackageColumn("enclosure", "string", "the enclosure it is part of"),
    PackageColumn("place", "string", "the zone's place, equal in enclosures of one layout"),
    PackageColumn("role", "string", "retreat, basking, perch, open, water, litter, burrow, feeding or other"),
    PackageColumn("serves", "string", "what it is there for, separated by spaces"),
    PackageColumn(
        "measured_in", "string", "what amounts are measured in: floor_cm2, surface_cm2, volume_l or places"
    ),
    PackageColumn("common", "string", "its name where studies are held together"),
    _DECLARED,
)
ANIMALS = (PackageColumn("animal", "string", "the animal's id"), _LABEL, _KEY, _DECLARED)
GROUPS = (
    PackageColumn("group", "string", "the group's id, of animals not told apart"), _LABEL, _KEY, _DECLARED,
)  # fmt: skip
BEHAVIOURS = (
    PackageColumn("behaviour", "string", "the behaviour's id"),
    _LABEL,
    _KEY,
    PackageColumn("lasts", "boolean", "true: a state; false: a momentary event"),
    PackageColumn("active", "boolean", "whether it counts as active; empty: neither"),
    PackageColumn("means", "string", "how it is told"),
    _DECLARED,
)
LOGGERS = (PackageColumn("logger", "string", "the logger's id"),)
PERIODS = (
    PackageColumn("period", "integer", "number of the row, from 1"),
    PackageColumn("zone", "string", "the zone it is about"),
    PackageColumn("animal", "string", "the animal it is about"),
    PackageColumn("group", "string", "the group it is about"),
    PackageColumn("logger", "string", "the logger it is about"),
    PackageColumn(
        "what",
        "string",
        "amount, cover, present, lives, size, placed (measures the zone), model (an empty model of the body lies "
        "in the zone) or worn (by the animal)",
    ),
    PackageColumn("value", "number", "of an amount, a cover (0 to 1) or a size"),
    PackageColumn("enclosure", "string", "where it lived"),
    PackageColumn("spot", "string", "where in the zone the logger lay"),
    _FROM,
    _UNTIL,
    PackageColumn("daily_from", "string", "clock time from which it is there each day, as 07:30"),
    PackageColumn("daily_until", "string", "clock time until which it is there each day"),
)
LIMITS = (
    PackageColumn("limit", "integer", "number of the row, from 1"),
    PackageColumn("zone", "string", "the zone's id"),
    PackageColumn("quantity", "string", "what is bounded, with its unit in the name"),
    PackageColumn("low", "number", "the keeper's lower bound"),
    PackageColumn("high", "number", "the keeper's upper bound"),
    _FROM,
    _UNTIL,
)

Row = dict[str, Any]


def zone_rows(declared: Declaration, named: Iterable[str]) -> list[Row]:
    """Every zone, those last that only records name."""
    rows: list[Row] = [
        {"zone": z.id, "label": z.label, "key": z.key or None, "enclosure": z.enclosure, "place": z.place,
         "role": z.role, "serves": " ".join(z.serves) or None,
         "measured_in": declared.enclosures[z.enclosure].measured_in, "common": z.common or None, "declared": True}
        for z in declared.zones.values()
    ]  # fmt: skip
    return rows + _undeclared("zone", declared.zones, named)


def animal_rows(declared: Declaration, named: Iterable[str]) -> list[Row]:
    """Every animal, those last that only records name."""
    return _keyed("animal", declared.animals) + _undeclared("animal", declared.animals, named)


def group_rows(declared: Declaration, named: Iterable[str]) -> list[Row]:
    """Every group of animals not told apart, those last that only records name."""
    return _keyed("group", declared.groups) + _undeclared("group", declared.groups, named)


def behaviour_rows(declared: Declaration, named: Iterable[str]) -> list[Row]:
    """Every behaviour, those last that only records name."""
    rows = _keyed("behaviour", declared.behaviours)
    for row, b in zip(rows, declared.behaviours.values(), strict=True):
        row |= {"lasts": b.lasts, "active": b.active, "means": b.means or None}
    return rows + _undeclared("behaviour", declared.behaviours, named)


def logger_rows(declared: Declaration) -> list[Row]:
    return [{"logger": name} for name in declared.loggers]


def period_rows(declared: Declaration) -> list[Row]:
    """Everything with dates: amounts, covers, presence, where animals lived, sizes of groups, where loggers lay."""
    found = [*_of_zones(declared), *_of_animals(declared), *_of_loggers(declared)]
    return [{"period": i, **row} for i, row in enumerate(found, 1)]


def limit_rows(declared: Declaration) -> list[Row]:
    """The keeper's own bounds."""
    found = [
        {"zone": zone, "quantity": quantity, "low": bounds.value.low, "high": bounds.value.high, **_span(bounds.span)}
        for zone, by_quantity in declared.limits.items()
        for quantity, timeline in by_quantity.items()
        for bounds in timeline
    ]  # fmt: skip
    return [{"limit": i, **row} for i, row in enumerate(found, 1)]


def _of_zones(declared: Declaration) -> Iterator[Row]:
    for zone in declared.zones.values():
        for what, timeline in (("amount", zone.amount), ("cover", zone.cover)):
            for dated in timeline:
                yield {"zone": zone.id, "what": what, "value": dated.value, **_span(dated.span)}
        for presence in zone.present:
            on, off = presence.daily or (None, None)
            yield {
                "zone": zone.id, "what": "present", **_span(presence.span),
                "daily_from": _clock(on), "daily_until": _clock(off),
            }  # fmt: skip


def _of_animals(declared: Declaration) -> Iterator[Row]:
    for kind, those in (("animal", declared.animals), ("group", declared.groups)):
        for one in those.values():
            for home in one.lives:
                yield {kind: one.id, "what": "lives", "enclosure": home.value, **_span(home.span)}
            for span in one.present:
                yield {kind: one.id, "what": "present", **_span(span)}
    for group in declared.groups.values():
        for size in group.size:
            yield {"group": group.id, "what": "size", "value": size.value, **_span(size.span)}


def _of_loggers(declared: Declaration) -> Iterator[Row]:
    for logger in declared.loggers.values():
        for what, places in (("placed", logger.placed), ("model", logger.model_in)):
            for place in places:
                yield {
                    "logger": logger.id, "zone": place.zone, "what": what, "spot": place.spot or None,
                    "from": place.start, "until": place.until,
                }  # fmt: skip
        for worn in logger.worn:
            yield {"logger": logger.id, "animal": worn.animal, "what": "worn", **_span(worn.span)}


def _keyed(kind: str, declared: Mapping[str, Any]) -> list[Row]:
    return [
        {kind: one.id, "label": one.label, "key": one.key or None, "declared": True}
        for one in declared.values()
    ]


def _undeclared(kind: str, declared: Mapping[str, Any], named: Iterable[str]) -> list[Row]:
    return [{kind: name, "declared": False} for name in sorted(set(named) - set(declared))]


def _span(span: Span) -> dict[str, datetime | None]:
    return {"from": span.start, "until": span.until}


def _clock(at: time | None) -> str | None:
    return None if at is None else f"{at:%H:%M}"


def frame(rows: list[Row], columns: Iterable[PackageColumn]) -> pd.DataFrame:
    """Rows as a frame with every column, whichever of them the rows name."""
    return pd.DataFrame({c.name: pd.Series([r.get(c.name) for r in rows], dtype=object) for c in columns})
