"""Which columns hold the time, and in what form and zone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, tzinfo

import numpy as np

from ..times.local_time import to_utc, zone_words
from ..times.time_shapes import KNOWN, TimeShape
from ..times.time_text import DAY_MS, days_since_1970, take_apart_texts
from .columns import Column
from .headers import elapsed_unit_ms
from .layout import CALENDAR, ELAPSED, EPOCH, SERIAL, Hints, Question, TimeColumns
from .preamble import VAGUE_NAMES, Told, abbreviation_fits, zone_in
from .splitting import is_moment

_EPOCHS = ((3e8, 4.2e9, 1000.0), (3e11, 4.2e12, 1.0), (3e14, 4.2e15, 1e-3), (3e17, 4.2e18, 1e-6))


def find_time(
    columns: Sequence[Column], told: Told, hints: Hints, zone: tzinfo
) -> tuple[TimeColumns | None, list[Question], list[str]]:
    """The time of a table, what must be asked about it, and what is worth saying. None: there is no time."""
    chosen = _explicit(columns, hints) or _calendar(columns)
    if chosen:
        return _calendar_time(chosen, told, hints, zone)
    return _numeric_time(columns, told, hints, zone)


def _explicit(columns: Sequence[Column], hints: Hints) -> list[Column]:
    wanted = [name for name, what in hints.columns if what == "at"]
    return [c for c in columns if is_named(c, wanted) and c.kind in ("full", "date", "clock")]


def is_named(column: Column, names: Sequence[str]) -> bool:
    """Whether a column is meant by one of these names: its header, or its number from 1."""
    return any(n == str(column.at + 1) or n.casefold() == column.header.casefold() != "" for n in names)


def _calendar(columns: Sequence[Column]) -> list[Column]:
    full = [c for c in columns if c.kind == "full"]
    if full:
        sure = [c for c in full if zone_in(c.header) is not None]
        named = [c for c in full if c.meaning.role == "time"]
        return [(sure or named or full)[0]]
    dates = [c for c in columns if c.kind == "date" or _compact_date(c)]
    clocks = [c for c in columns if c.kind == "clock" or _compact_clock(c)]
    if dates and clocks:
        return [dates[0], clocks[0]]
    # A date alone is a time at midnight only where nothing finer stands beside it.
    return dates[:1]


def _compact_date(column: Column) -> bool:
    cells = [c for c in column.cells if c]
    if column.kind != "number" or column.meaning.role != "time" or not all(len(c) == 8 for c in cells):
        return False
    parts = take_apart_texts(cells)
    return bool(parts.ok.all() and days_since_1970(parts.first, parts.second, parts.third)[1].all())


def _compact_clock(column: Column) -> bool:
    """A column of 1405 or 140500, named as a time and real as one."""
    cells = [c for c in column.cells if c]
    if column.kind != "number" or column.meaning.role != "time" or not all(len(c) in (4, 6) for c in cells):
        return False
    return bool(cells) and bool(take_apart_texts(cells).ok.all())


def _calendar_time(
    chosen: list[Column], told: Told, hints: Hints, zone: tzinfo
) -> tuple[TimeColumns, list[Question], list[str]]:
    shapes: dict[TimeShape, int] = {}
    for column in chosen:
        texts = [c for c in column.cells if is_moment(c) or c.isdigit()]
        shapes |= dict(take_apart_texts(texts).shapes)
    dated = [s for s in shapes if s.date]
    clocked = [s for s in shapes if s.clock]
    own = bool(clocked) and all(s.utc or s.offset_sign or s.sure_zone is not None for s in clocked)
    header_zone = next((z for c in chosen if (z := zone_in(c.header)) is not None), None)
    used, source, own, questions, notes = _zone(shapes, header_zone, told, hints, zone, own, chosen)
    open_order = any(s.year != KNOWN for s in dated)
    plain = len(chosen) == 1 and all(_is_iso(s) for s in shapes) and bool(dated)
    iso = "" if not plain else "utc" if own and all(s.utc or s.offset_sign for s in shapes) else "local"
    if iso == "local" and (any(s.utc or s.offset_sign or s.zone_name for s in shapes)):
        iso = ""
    digits = max((s.fraction[1] - s.fraction[0] for s in shapes if s.fraction), default=0)
    time = TimeColumns(
        tuple(c.at for c in chosen), CALENDAR, order="" if open_order else "YMD", own_offset=own, zone=used,
        zone_from=source, iso=iso, fraction_digits=digits,
    )  # fmt: skip
    return time, questions, notes


def _is_iso(shape: TimeShape) -> bool:
    """Whether pyarrow's own ISO reader takes this shape: 2026-04-03 14:05[:06[.250]][Z|+02:00]."""
    starts = [span[0] for span in (*shape.date, *shape.clock)]
    plain = starts[:5] == [0, 5, 8, 11, 14] and (len(starts) == 5 or starts[5] == 17)
    return plain and shape.year == KNOWN and not shape.month and not shape.half and shape.dashed


def _zone(
    shapes: dict[TimeShape, int], header_zone: tzinfo | None, told: Told, hints: Hints, zone: tzinfo,
    own: bool, chosen: list[Column],
) -> tuple[tzinfo, str, bool, list[Question], list[str]]:  # fmt: skip
    """The zone of the written times, where that is known from, whether each time has its own, and more."""
    stated = header_zone or told.zone
    if own:
        if stated is None or _agrees(shapes, stated):
            notes = ["the times carry their own offset; --tz was not needed"] if hints.zone else []
            return UTC, "each time", True, [], notes
        if hints.zone is not None:
            return (
                hints.zone,
                "--tz",
                False,
                [],
                [f"the file names two time zones; read as {zone_words(hints.zone)}"],
            )
        asks = f"The header says {stated}, but the times end in another offset"
        return zone, "", False, [Question("zone", asks, "--tz ZONE")], []
    if hints.zone is not None:
        differs = stated is not None and zone_words(stated) != zone_words(hints.zone)
        notes = [f"the file says {stated}; --tz {zone_words(hints.zone)} was followed"] if differs else []
        return hints.zone, "--tz", False, [], notes
    if stated is not None:
        return stated, "the file", False, [], []
    name = next((s.zone_name for s in shapes if s.zone_name in VAGUE_NAMES), "") or told.zone_name
    if name and not _name_fits(chosen, zone, name):
        asks = f"The file's times are in {name}, which can be several zones"
        return zone, "", False, [Question("zone", asks, "--tz ZONE")], []
    return zone, "the study", False, [], []


def _agrees(shapes: dict[TimeShape, int], stated: tzinfo) -> bool:
    if not all(s.utc for s in shapes if s.clock):
        return True
    return str(stated) == "UTC"


def _name_fits(chosen: list[Column], zone: tzinfo, name: str) -> bool:
    cells = [c for c in chosen[0].cells if is_moment(c)][:1]
    parts = take_apart_texts(cells)
    if not len(parts.ok) or parts.year[0] != KNOWN:
        return False
    days, _ = days_since_1970(parts.first, parts.second, parts.third)
    return abbreviation_fits(zone, name, int(days[0]) * DAY_MS + int(parts.day_ms[0]))


def _numeric_time(
    columns: Sequence[Column], told: Told, hints: Hints, zone: tzinfo
) -> tuple[TimeColumns | None, list[Question], list[str]]:
    numeric = [c for c in columns if c.kind == "number" and c.numbers]
    wanted = [name for name, what in hints.columns if what == "at"]
    named = [c for c in numeric if is_named(c, wanted)] or [
        c for c in numeric if c.meaning.role in ("time", "elapsed")
    ]
    unnamed = [c for c in numeric if not c.header]
    for column in (*named, *unnamed):
        low, high = min(column.numbers), max(column.numbers)
        for least, most, unit_ms in _EPOCHS:
            if least <= low and high <= most:
                return TimeColumns((column.at,), EPOCH, unit_ms, own_offset=True, zone=UTC,
                                   zone_from="each time"), [], []  # fmt: skip
    for column in named:
        low, high = min(column.numbers), max(column.numbers)
        if low >= 20_000 and high <= 80_000 and column.meaning.role == "time":
            used = hints.zone or zone_in(column.header) or told.zone or zone
            source = "--tz" if hints.zone else "the file" if used is not zone else "the study"
            return TimeColumns((column.at,), SERIAL, float(DAY_MS), zone=used, zone_from=source), [], []
    return _elapsed(named, told, hints, zone)


def _elapsed(
    named: Sequence[Column], told: Told, hints: Hints, zone: tzinfo
) -> tuple[TimeColumns | None, list[Question], list[str]]:
    if not named:
        return None, [], []
    column = named[0]
    used = hints.zone or told.zone or zone
    questions = []
    unit = elapsed_unit_ms(column.header)
    if not unit:
        return None, [], []
    start_ms = 0
    if hints.start is not None:
        start_ms = int(hints.start.timestamp() * 1000)
    elif told.start_ms is not None:
        start_ms = int(to_utc(np.array([told.start_ms], np.int64), used).early[0])
    else:
        asks = f"{column.header!r} counts from when the logger was started, and the file does not say when that was"
        questions.append(Question("start", asks, "--start TIME"))
    time = TimeColumns((column.at,), ELAPSED, unit, zone=used, zone_from="the start", start_ms=start_ms)
    return time, questions, []
