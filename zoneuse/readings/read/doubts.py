"""What only the whole file can tell: times that cannot be true, several series in one, shares taken for per cent."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import tzinfo

from zoneuse.study import fault

from ...study import from_ms
from ..layout import Hints, Layout, LeftOpen, UndecidedError
from ..recognise.columns import is_site_header
from ..recognise.headers import DEGREES
from ..recognise.preamble import read_preamble
from ..recognise.refusals import IN_ONE_COLUMN
from ..recognise.said_beside import several_units, zone_question
from ..times.local_time import zone_words
from .file_reader import FileReader
from .measured import known_unit
from .order import RowStep
from .sink import Sink

# Rows of one time that differ: a few are a fault of the logger, one in twenty is another series.
_MOST_SHARED = 0.05
_AS_WRITTEN = "--as-written if every time is right as it stands"
_OLDEST_MS = 978_307_200_000  # 2001-01-01: a clock that was never set begins in 1970, 1980 or 2000
_DAY_MS = 86_400_000
_AHEAD_MS = 2 * _DAY_MS
_SHOWN = 6
_MOST_CODES, _MOST_BEYOND = 5, 0.2
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
_DATED = re.compile(r"\d{4}|\d:\d\d")


def check_file(reader: FileReader) -> None:
    """Raise UndecidedError or ProblemError where what was read cannot be one series of true times."""
    layout, hints = reader.layout, reader.hints
    _check_share(layout, reader.humidity_high)
    _check_range(reader)
    _check_steady(reader)
    _check_foot(reader)
    doubtful = any(_in_doubt(sink) for sink in reader.sinks.values())
    if not layout.by and not hints.as_written:
        _check_series(layout, reader.names, hints, doubtful)
    if len(reader.date_styles) > 1 and not hints.as_written:
        asks = (
            "Its dates are written in two ways in one column: a spreadsheet may have turned day and month of some of "
            "them round"
        )
        raise UndecidedError((LeftOpen("as_written", asks, _AS_WRITTEN, ("yes",)),))
    for sink in reader.sinks.values() if not hints.as_written else ():
        if layout.time.dated_only and (sink.twice or sink.clashes):
            raise fault(
                "no-clock", reader.path, "", "several readings have one date, and no column was understood as their "
                "clock", "a date and a clock time (14:05) for each reading",
                remedy=IN_ONE_COLUMN,
            )  # fmt: skip
        if asks := _doubt(sink, hints):
            raise UndecidedError((LeftOpen("as_written", f"{sink.logger}: {asks}", _AS_WRITTEN, ("yes",)),))


def _check_share(layout: Layout, humidity_high: float) -> None:
    open_unit = next((v for v in layout.values if v.unit_open), None)
    if open_unit and float("-inf") < humidity_high <= 1.0:
        number = open_unit.column + 1
        others = "".join(
            f" --column {v.column + 1}={v.given_as}" for v in layout.values if v is not open_unit
        )
        raise UndecidedError((LeftOpen(
            "columns", f"The humidity in {open_unit.header or f'column {number}'!r} never exceeds 1: it may be a "
            "fraction or a percentage",
            f"--column {number}=humidity_fraction{others} or --column {number}=humidity_pct{others}",
        ),))  # fmt: skip


def _check_range(reader: FileReader) -> None:
    """A code for "no sensor" is one number or two; many numbers outside anything measured are another unit."""
    beyond = {text: n for text, n in reader.counts.missing.items() if _NUMBER.fullmatch(text)}
    if len(beyond) > _MOST_CODES and sum(beyond.values()) > _MOST_BEYOND * max(reader.counts.rows, 1):
        shown = ", ".join(list(beyond)[:3])
        raise fault(
            "out-of-range", reader.path, "", f"{sum(beyond.values()):,} of its numbers lie outside anything measured "
            f"({shown} …): they may be in tenths, or something else than their names say",
            "°C or °F, and % humidity", remedy="Look at them in a spreadsheet program; divide tenths by ten, and save "
            "it as CSV",
        )  # fmt: skip


def _check_steady(reader: FileReader) -> None:
    """Columns that say the unit or the zone of every row must say one thing throughout."""
    for column in reader.layout.steady:
        names = [n for n in reader.names[column] if n]
        if len(reader.names[column]) > 1:
            header = reader.layout.headers[column]
            if all(known_unit(n) in DEGREES.values() for n in names):
                raise several_units(reader.path, column, header, names)
            raise UndecidedError((zone_question(column, header, names),))


def _check_foot(reader: FileReader) -> None:
    """What stands below the table may name a zone as well as what stands above it."""
    time, hints = reader.layout.time, reader.hints
    if time.own_offset or hints.zone is not None or time.zone is None:
        return
    told = read_preamble(line for line in reader.foot if not _DATED.search(line))
    if told.zone_name or (told.zone is not None and zone_words(told.zone) != zone_words(time.zone)):
        said = told.zone_name or zone_words(told.zone or time.zone)
        given = "ZONE" if told.zone is None else _flag(told.zone)
        asks = f"Below its table the file names a time zone ({said}), and its times were read in another"
        raise UndecidedError((LeftOpen("zone", asks, f"--tz {given}"),))


def _flag(zone: tzinfo) -> str:
    """A zone as --tz takes it."""
    name = getattr(zone, "key", None)
    return name or str(zone).removeprefix("UTC") or "UTC"


def _in_doubt(sink: Sink) -> bool:
    return bool(sink.clashes or sink.order.back or sink.twice > _MOST_SHARED * max(sink.given, 1))


def _of_several_names(layout: Layout, names: Mapping[int, Mapping[str, None]]) -> list[int]:
    """The label columns that hold more than one name and that no --where narrows to one."""
    given = {column for column, _ in layout.where}
    return [c for c in layout.labels if c not in given and sum(map(bool, names.get(c, {}))) > 1]


def _check_series(
    layout: Layout, names: Mapping[int, Mapping[str, None]], hints: Hints, doubtful: bool
) -> None:
    """One file, several sites: named by a column that says so, or by any column of names where times repeat."""
    several = _of_several_names(layout, names)
    sites = [c for c in several if not layout.headers[c] or is_site_header(layout.headers[c])]
    asked = sites or (several if doubtful else [])
    if not asked:
        return
    by = ",".join(str(c + 1) for c in asked[:3])
    told = "; ".join(f"{c + 1} {layout.column_name(c)!r} ({_some(names[c])})" for c in asked[:_SHOWN])
    first = next(n for n in names[asked[0]] if n)
    series = f"--series {first}=LOGGER" if len(asked) == 1 else "--series NAME/NAME=LOGGER"
    raise UndecidedError((LeftOpen(
        "by", f"It holds several series, told apart by column{'s' * (len(asked) > 1)} {told}",
        f"--by {by} with {series} for each, or --where {asked[0] + 1}={first} for one of them, or --as-written if all "
        "are one logger's",
    ),))  # fmt: skip


def _some(names: Mapping[str, None]) -> str:
    full = [n for n in names if n]
    more = f" and {len(full) - 4} more" if len(full) > 4 else ""
    return ", ".join(full[:4]) + more


def _doubt(sink: Sink, hints: Hints) -> str:
    """What cannot be true of one logger's times; empty where nothing is in doubt."""
    order = sink.order
    if order.leap is not None:
        return f"time leaps by years: {_step(order.leap)}. The clock may have been set anew, or dates be mixed up"
    if sink.given and sink.rows and sink.first_ms < _OLDEST_MS:
        return f"it begins on {_said(sink.first_ms)}: the logger's clock may never have been set"
    if hints.now is not None and sink.rows and sink.last_ms > hints.now.timestamp() * 1000 + _AHEAD_MS:
        return f"it ends on {_said(sink.last_ms)}, which is still to come"
    usual = order.usual_step_ms
    days = sink.given * usual / _DAY_MS
    if order.months and usual <= _DAY_MS and order.months * 2 >= days - 1:
        return "time leaps by a month at midnight: day and month may stand the wrong way round in some dates"
    if order.first_back is not None:
        count = f"in {order.back:,} places, first" if order.back > 1 else "once,"
        return (
            f"time goes back {count} {_step(order.first_back)}. The clock may have been set back, dates be written in "
            "two ways, or several series be mixed"
        )  # fmt: skip
    if sink.clashes > _MOST_SHARED * max(sink.given, 1):
        return (
            f"{sink.clashes:,} of {sink.given:,} readings have the time of another and differ from it: seconds may be "
            "missing, or several series be mixed"
        )
    return ""


def _step(step: RowStep) -> str:
    return f"at line {step.line}, from {_said(step.from_ms)} to {_said(step.to_ms)} (UTC)"


def _said(ms: int) -> str:
    at = from_ms(ms)
    return f"{at.day} {at:%b %Y %H:%M}"
