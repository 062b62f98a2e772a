"""Which columns hold the time, and in what form and zone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, tzinfo

import numpy as np

from ..layout import CALENDAR, ELAPSED, EPOCH, SERIAL, TZ_OVER_EACH, Hints, LeftOpen, TimeColumns
from ..times.local_time import to_utc, zone_words
from ..times.number_parts import (
    CLOCK,
    DATE,
    DAY_SHARE,
    HH_MM,
    HHMM,
    HHMMSS,
    HOUR,
    HOURS,
    SECOND,
    TEXT_ROLES,
)
from ..times.time_shapes import KNOWN, TimeShape
from ..times.time_text import DAY_MS, days_since_1970, take_apart_texts
from .columns import FileColumn
from .date_parts import number_clock, real_dates, split_date
from .headers import elapsed_unit_ms
from .preamble import Told, abbreviation_fits
from .splitting import is_moment
from .zone_words import ZoneSaid, zone_said

_CLOCK_ROLES = (CLOCK, HOUR, HHMM, HHMMSS, HH_MM, HOURS, DAY_SHARE)
_EPOCHS = ((3e8, 4.2e9, 1000.0), (3e11, 4.2e12, 1.0), (3e14, 4.2e15, 1e-3), (3e17, 4.2e18, 1e-6))


def find_time(
    columns: Sequence[FileColumn], told: Told, hints: Hints, zone: tzinfo
) -> tuple[TimeColumns | None, list[LeftOpen], list[str]]:
    """The time of a table, what must be asked about it, and what is worth saying. None: there is no time."""
    wanted = [name for name, what in hints.columns if what == "at"]
    if not wanted:
        chosen, roles = _calendar(columns)
        if chosen:
            return _calendar_time(chosen, roles, told, hints, zone)
        return _numeric_time(columns, told, hints, zone)
    named = [c for c in columns if is_named(c, wanted)]
    chosen, roles = _calendar(named)
    if chosen and {c.at for c in chosen} == {c.at for c in named}:
        return _calendar_time(chosen, roles, told, hints, zone)
    if len(named) == 1 and not chosen:
        return _numeric_time(columns, told, hints, zone)
    return None, [], []


def is_named(column: FileColumn, names: Sequence[str]) -> bool:
    """Whether a column is meant by one of these names: its header, or its number from 1."""
    return any(n == str(column.at + 1) or n.casefold() == column.header.casefold() != "" for n in names)


def _calendar(columns: Sequence[FileColumn]) -> tuple[list[FileColumn], tuple[str, ...]]:
    """The columns that hold date and clock, and their roles where some of them are numbers."""
    clocked = [c for c in columns if c.kind == "clock" or _compact_clock(c)]
    full, days, dummies = _full(columns, clocked)
    if full:
        return [_plainest(full)], ()
    dates = [c for c in columns if c.kind == "date" or _compact_date(c)] or days
    if dates:
        return _dated(dates, [*clocked, *dummies], columns)
    found, roles = split_date(columns)
    return (found, roles) if found and real_dates(roles, found) else ([], ())


def _full(
    columns: Sequence[FileColumn], clocks: Sequence[FileColumn]
) -> tuple[list[FileColumn], list[FileColumn], list[FileColumn]]:
    """Columns of whole moments; those of them that are dates alone, and clocks alone, as workbooks write these."""
    full = [c for c in columns if c.kind == "full"]
    # In workbooks a date is written with midnight, and a clock with a day long ago.
    days = [c for c in full if _always_midnight(c)]
    dummies = [c for c in full if c not in days and _long_ago(c)]
    if days and (clocks or dummies or number_clock(days[0], columns)[0]):
        return [c for c in full if c not in (*days, *dummies)], days, dummies
    return full, [], []


def _dated(
    dates: Sequence[FileColumn], clocks: Sequence[FileColumn], columns: Sequence[FileColumn]
) -> tuple[list[FileColumn], tuple[str, ...]]:
    """The first date with its clock: a column of clock times, or of numbers that are one."""
    clocks = clocks or [c for c in columns if c.kind == "full" and _long_ago(c)]
    if clocks:
        return [dates[0], clocks[0]], ()
    found, roles = number_clock(dates[0], [c for c in columns if c not in dates])
    # A date alone is a time at midnight only where nothing finer stands beside it.
    return [dates[0], *found], (DATE, *roles) if found else ()


def _plainest(full: Sequence[FileColumn]) -> FileColumn:
    """Of several columns of moments the one whose header names a zone, or a time."""
    sure = [c for c in full if zone_said(c.header).zone is not None]
    named = [c for c in full if c.meaning.role == "time"]
    return (sure or named or full)[0]


def _always_midnight(column: FileColumn) -> bool:
    parts = take_apart_texts([c for c in column.cells if c])
    return bool(parts.ok.any()) and not parts.day_ms[parts.ok].any()


def _long_ago(column: FileColumn) -> bool:
    """Clock times as workbooks write them: on one and the same day about 1900."""
    parts = take_apart_texts([c for c in column.cells if c])
    days = {int(y) for y in parts.first[parts.ok]}
    return bool(days) and bool((parts.year[parts.ok] == KNOWN).all()) and days <= {1899, 1900, 1904}


def _compact_date(column: FileColumn) -> bool:
    cells = [c for c in column.cells if c]
    if column.kind != "number" or column.meaning.role != "time" or not all(len(c) == 8 for c in cells):
        return False
    parts = take_apart_texts(cells)
    return bool(parts.ok.all() and days_since_1970(parts.first, parts.second, parts.third)[1].all())


def _compact_clock(column: FileColumn) -> bool:
    """A column of 1405 or 140500, named as a time and real as one."""
    cells = [c for c in column.cells if c]
    if column.kind != "number" or column.meaning.role != "time" or not all(len(c) in (4, 6) for c in cells):
        return False
    return bool(cells) and bool(take_apart_texts(cells).ok.all())


def _calendar_time(
    chosen: list[FileColumn], roles: tuple[str, ...], told: Told, hints: Hints, zone: tzinfo
) -> tuple[TimeColumns, list[LeftOpen], list[str]]:
    shapes = _shapes(chosen, roles)
    dated = [s for s in shapes if s.date]
    clocked = [s for s in shapes if s.clock]
    own = bool(clocked) and all(map(_has_zone, clocked))
    said = next(filter(None, (zone_said(c.header) for c in chosen)), ZoneSaid())
    used, source, own, questions, notes = _zone(shapes, said, told, hints, zone, own=own, chosen=chosen)
    open_order = any(s.year != KNOWN for s in dated)
    iso = _iso(shapes, own=own) if len(chosen) == 1 and not roles and dated else ""
    time = TimeColumns(
        tuple(c.at for c in chosen), CALENDAR, order="" if open_order else "YMD", own_offset=own, zone=used,
        zone_from=source, iso=iso, fraction_digits=_fraction_digits(shapes), roles=roles,
        dated_only=not clocked and not set(roles) & set(_CLOCK_ROLES), seconds=_tells_seconds(clocked, roles),
    )  # fmt: skip
    return time, questions, notes


def _shapes(chosen: Sequence[FileColumn], roles: tuple[str, ...]) -> dict[TimeShape, int]:
    """The forms the texts of these columns are written in."""
    shapes: dict[TimeShape, int] = {}
    for i, column in enumerate(chosen):
        if not roles or roles[i] in TEXT_ROLES:
            texts = [c for c in column.cells if is_moment(c) or c.isdigit()]
            shapes |= dict(take_apart_texts(texts).shapes)
    return shapes


def _fraction_digits(shapes: Iterable[TimeShape]) -> int:
    return max((s.fraction[1] - s.fraction[0] for s in shapes if s.fraction), default=0)


def _tells_seconds(clocked: Sequence[TimeShape], roles: tuple[str, ...]) -> bool:
    return any(len(s.clock) > 2 for s in clocked) or bool(
        {SECOND, HHMMSS, HOURS, DAY_SHARE}.intersection(roles)
    )


def _has_zone(shape: TimeShape) -> bool:
    """Whether a time of this form says itself how far from UTC it is."""
    return bool(shape.utc or shape.offset_sign or shape.sure_zone is not None)


def _iso(shapes: Iterable[TimeShape], *, own: bool) -> str:
    """ "utc" or "local" where pyarrow reads all these forms by itself; empty where it does not."""
    if not all(_is_iso(s) for s in shapes):
        return ""
    if own and all(s.utc or s.offset_sign for s in shapes):
        return "utc"
    return "" if any(s.utc or s.offset_sign or s.zone_name for s in shapes) else "local"


def _is_iso(shape: TimeShape) -> bool:
    """Whether pyarrow's own ISO reader takes this shape: 2026-04-03 14:05[:06[.250]][Z|+02:00]."""
    starts = [span[0] for span in (*shape.date, *shape.clock)]
    plain = starts[:5] == [0, 5, 8, 11, 14] and (len(starts) == 5 or starts[5] == 17)
    return plain and shape.year == KNOWN and not shape.month and not shape.half and shape.dashed


def _zone(
    shapes: dict[TimeShape, int], said: ZoneSaid, told: Told, hints: Hints, zone: tzinfo,
    *, own: bool, chosen: list[FileColumn],
) -> tuple[tzinfo, str, bool, list[LeftOpen], list[str]]:  # fmt: skip
    """The zone of the written times, where that is known from, whether each time has its own, and more."""
    stated = said.zone or (None if said.vague else told.zone)
    if own:
        return _own_zone(shapes, stated, hints, zone)
    if hints.zone is not None:
        return hints.zone, "--tz", False, [], _unlike_the_file(stated, hints.zone)
    if stated is not None:
        return stated, "the file", False, [], []
    if any(map(_has_zone, (s for s in shapes if s.clock))):
        asks = "Some of the file's times end in an offset and others do not"
        return zone, "", False, [LeftOpen("zone", asks, "--tz ZONE")], []
    name = _unsure_name(shapes) or said.vague or told.zone_name
    if name and not _name_fits(chosen, zone, name):
        return zone, "", False, [_several_zones(name)], []
    return zone, "the study", False, [], []


def _own_zone(
    shapes: dict[TimeShape, int], stated: tzinfo | None, hints: Hints, zone: tzinfo
) -> tuple[tzinfo, str, bool, list[LeftOpen], list[str]]:
    """The same where each time carries its own offset, and the file may state another."""
    if stated is None or _agrees(shapes, stated):
        notes = ["the times carry their own offset; --tz was not needed"] if hints.zone else []
        return UTC, "each time", True, [], notes
    if hints.zone is not None:
        notes = [f"the file names two time zones; read as {zone_words(hints.zone)}"]
        return hints.zone, TZ_OVER_EACH, False, [], notes
    asks = f"The header says {stated}, but the times end in another offset"
    return zone, "", False, [LeftOpen("zone", asks, "--tz ZONE")], []


def _unsure_name(shapes: Iterable[TimeShape]) -> str:
    """The letters behind the times that several zones go by."""
    return next((s.zone_name for s in shapes if s.zone_name and s.sure_zone is None), "")


def _unlike_the_file(stated: tzinfo | None, given: tzinfo) -> list[str]:
    differs = stated is not None and zone_words(stated) != zone_words(given)
    return [f"the file says {stated}; --tz {zone_words(given)} was followed"] if differs else []


def _several_zones(name: str) -> LeftOpen:
    asks = f"The file's times are in {name}, which can be several zones"
    return LeftOpen("zone", asks, "--tz ZONE")


def _agrees(shapes: dict[TimeShape, int], stated: tzinfo) -> bool:
    if not all(s.utc for s in shapes if s.clock):
        return True
    return str(stated) == "UTC"


def _name_fits(chosen: list[FileColumn], zone: tzinfo, name: str) -> bool:
    if chosen[0].kind not in ("full", "date"):
        return False
    cells = [c for c in chosen[0].cells if is_moment(c)]
    parts = take_apart_texts([cells[0], cells[-1]] if cells else [])
    if not len(parts.ok) or (parts.year != KNOWN).any():
        return False
    days, _ = days_since_1970(parts.first, parts.second, parts.third)
    # With a clock in another column, the day's two ends: on the day of a change its name fits one of them only.
    return all(
        abbreviation_fits(zone, name, int(day) * DAY_MS + at)
        for day, ms in zip(days, parts.day_ms, strict=True)
        for at in ((0, DAY_MS - 1) if len(chosen) > 1 else (int(ms),))
    )


def _numeric_time(
    columns: Sequence[FileColumn], told: Told, hints: Hints, zone: tzinfo
) -> tuple[TimeColumns | None, list[LeftOpen], list[str]]:
    """A time that is one number: since 1970, since 1900 as spreadsheets count, or since the logger was started."""
    named, unnamed = _numeric(columns, hints)
    for column in (*named, *unnamed):
        if unit_ms := _epoch_unit_ms(column):
            return TimeColumns((column.at,), EPOCH, unit_ms, own_offset=True, zone=UTC,
                               zone_from="each time"), [], []  # fmt: skip
    for column in named:
        if min(column.numbers) >= 20_000 and max(column.numbers) <= 80_000 and column.meaning.role == "time":
            return _serial(column, told, hints, zone)
    return _elapsed(named, told, hints, zone)


def _numeric(columns: Sequence[FileColumn], hints: Hints) -> tuple[list[FileColumn], list[FileColumn]]:
    """Columns of numbers that are named as a time, and those without a name, which may be one."""
    numeric = [c for c in columns if c.kind == "number" and c.numbers]
    wanted = [name for name, what in hints.columns if what == "at"]
    if wanted:
        return [c for c in numeric if is_named(c, wanted)], []
    return [c for c in numeric if c.meaning.role in ("time", "elapsed")], [c for c in numeric if not c.header]


def _epoch_unit_ms(column: FileColumn) -> float:
    """The unit in which a column counts from 1970, ms; 0 where it does not."""
    low, high = min(column.numbers), max(column.numbers)
    return next((unit_ms for least, most, unit_ms in _EPOCHS if least <= low and high <= most), 0.0)


def _serial(
    column: FileColumn, told: Told, hints: Hints, zone: tzinfo
) -> tuple[TimeColumns, list[LeftOpen], list[str]]:
    """Days since 1900, as spreadsheets count them, in a zone that must be known."""
    said = zone_said(column.header)
    name = said.vague or ("" if said.zone else told.zone_name)
    if name and hints.zone is None:
        return TimeColumns((column.at,), SERIAL), [_several_zones(name)], []
    used = hints.zone or said.zone or told.zone or zone
    source = "--tz" if hints.zone else "the file" if used is not zone else "the study"
    return TimeColumns((column.at,), SERIAL, float(DAY_MS), zone=used, zone_from=source), [], []


def _elapsed(
    named: Sequence[FileColumn], told: Told, hints: Hints, zone: tzinfo
) -> tuple[TimeColumns | None, list[LeftOpen], list[str]]:
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
        first = f"; its first row says {column.numbers[0]:g}" if column.numbers[0] else ""
        asks = f"{column.header!r} counts from when the logger was started, and the file does not say when that was"
        questions.append(
            LeftOpen("start", asks + first, "--start TIME" + (", that of its 0" if first else ""))
        )
    time = TimeColumns((column.at,), ELAPSED, unit, zone=used, zone_from="the start", start_ms=start_ms)
    return time, questions, []
