"""A date and its clock that stand in several columns: which they are, and how their numbers are meant."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..times.number_parts import (
    CLOCK,
    DATE,
    DAY,
    DAY_OF_YEAR,
    DAY_SHARE,
    HH_MM,
    HHMM,
    HHMMSS,
    HOUR,
    HOURS,
    MINUTE,
    MONTH,
    SECOND,
    YEAR,
    clock_ms,
    parts_of_texts,
)  # fmt: skip
from ..times.time_text import DAY_MS, Ints, days_since_1970, take_apart_texts
from .columns import FileColumn
from .headers import tokens_of

_NAMES = {
    YEAR: "year yr yyyy yy jahr année annee año ano anno jaar år rok",
    MONTH: "month mon mm mo mnth monat mois mes mês mese maand måned månad miesiąc",
    DAY: "day dd dy dom mday tag jour día dia giorno dag dzień",
    DAY_OF_YEAR: "doy jday julian yday jd",
    HOUR: "hour hours hr hh h stunde std heure hora ora uur time godzina",
    MINUTE: "minute minutes min mm mn mi minuto minuut minuten",
    SECOND: "second seconds sec ss s sekunde seconde segundo secondo",
}
_WORDS = {role: frozenset(names.split()) for role, names in _NAMES.items()}
_CLOCKS = frozenset({
    "time", "clock", "hour", "hours", "hr", "uhrzeit", "zeit", "heure", "hora", "ora", "orario", "uur", "tijd",
    "tid", "klokkeslett", "klockslag", "czas", "čas", "aika", "hhmm", "hhmmss", "时间", "時刻", "시간", "время",
    "ώρα",
})  # fmt: skip
_WAYS = (HHMM, HHMMSS, HOUR, HH_MM, HOURS, DAY_SHARE)
# A way of reading a clock is taken where steps of one length make up this share of all, and no other way's do.
_STEADY, _CLEARLY, _MANY = 0.8, 0.15, 20


def number_clock(date: FileColumn, columns: Sequence[FileColumn]) -> tuple[list[FileColumn], tuple[str, ...]]:
    """The columns of numbers that hold the clock beside a column of dates, and their roles; empty: none do."""
    for column in columns:
        if column.kind != "number" or column.meaning.quantity or column.meaning.excluded:
            continue
        words = set(tokens_of(column.header))
        if not words & _CLOCKS:
            continue
        if words & (_WORDS[HOUR] - {"time"}) and _whole(column, 0, 24):
            finer = [c for role in (MINUTE, SECOND) if (c := _named(role, columns)) is not None]
            roles = (HOUR, MINUTE, SECOND)[: 1 + len(finer)]
            return [column, *finer], roles
        if way := _way(date, column):
            return [column], (way,)
    return [], ()


def _named(role: str, columns: Sequence[FileColumn]) -> FileColumn | None:
    most = {YEAR: 9999, MONTH: 12, DAY: 31, DAY_OF_YEAR: 366, HOUR: 24, MINUTE: 59, SECOND: 59}[role]
    for column in columns:
        words = tokens_of(column.header)
        day_of_year = words[:3] == ["day", "of", "year"]
        fits = day_of_year if role == DAY_OF_YEAR else False
        # The first word counts: a zone may stand behind it.
        fits = fits or (bool(words) and words[0] in _WORDS[role] and not day_of_year)
        if column.kind == "number" and fits and _mostly_whole(column, most):
            return column
    return None


def _whole(column: FileColumn, low: int, high: int) -> bool:
    numbers = column.numbers
    return bool(numbers) and all(n == int(n) and low <= n <= high for n in numbers)


def _mostly_whole(column: FileColumn, most: int) -> bool:
    """Whether three of four numbers are whole and no greater: lines after the table may put others below them."""
    numbers = column.numbers
    return sum(n == int(n) and 0 <= n <= most for n in numbers) * 4 >= len(numbers) * 3 if numbers else False


def _way(date: FileColumn, column: FileColumn) -> str:
    """How a column's numbers are a clock; empty where none of the ways, or more than one, gives steady steps."""
    rows = [(d, c) for d, c in zip(date.cells, column.cells, strict=True) if d and c]
    if len(rows) < 2:
        return ""
    parts = take_apart_texts([d for d, _ in rows])
    days, _ = days_since_1970(parts.first, parts.second, parts.third)
    whole_day = np.r_[True, days[1:] != days[:-1]].cumsum()
    numbers = np.array([_plain_number(c) for _, c in rows])
    graded = _graded(numbers, whole_day)
    # A clock that never reaches 1 is a part of a day, and not the first hour of every day.
    fine = bool((np.abs(numbers * 100 - np.rint(numbers * 100)) > 1e-6).any())
    if numbers.max() < 1 and fine and any(way == DAY_SHARE for _, way in graded):
        graded = [g for g in graded if g[1] == DAY_SHARE]
    return _clearly_best(graded, len(rows))


def _graded(numbers: NDArray[np.float64], whole_day: NDArray[np.int64]) -> list[tuple[float, str]]:
    """The ways in which all the numbers are clock times, each with how steady the steps then are."""
    graded = []
    for way in _WAYS:
        ms, ok = clock_ms(way, numbers)
        if ok.all() and len(set(ms.tolist())) > 1:
            # Oldest first or newest first.
            steady = max(_steadiness(sign * whole_day * DAY_MS + ms, whole_day) for sign in (1, -1))
            graded.append((steady, way))
    return graded


def _plain_number(cell: str) -> float:
    """The number a cell holds, NaN where it is none; the comma may part the decimals."""
    text = cell.replace(",", ".")
    return float(text) if text.replace(".", "").isdigit() else np.nan


def _clearly_best(graded: list[tuple[float, str]], rows: int) -> str:
    """The way whose steps are steadiest, where none comes near it."""
    if not graded:
        return ""
    best, way = max(graded)
    next_best = sorted(graded)[-2][0] if len(graded) > 1 else 0.0
    perfect = best == 1.0 > next_best and rows >= _MANY
    clear = next_best <= best - _CLEARLY or perfect
    return way if best >= _STEADY and clear else ""


def _steadiness(at_ms: Ints, day: Ints) -> float:
    """The share of steps that have the usual length; the lesser of that within days and across midnights."""
    steps, across = np.abs(np.diff(at_ms)), np.diff(day) != 0
    moved = steps > 0
    if not (moved & ~across).any():
        return 0.0
    lengths, counts = np.unique(steps[moved & ~across], return_counts=True)
    usual = lengths[counts.argmax()]
    within = float(counts.max() / counts.sum())
    return min(within, float((steps[across] == usual).mean())) if across.any() else within


def _named_date(columns: Sequence[FileColumn]) -> tuple[list[FileColumn], list[str]]:
    """The columns of a year, a month and a day, or of a year and its day; empty: no such columns."""
    year = _named(YEAR, columns)
    month, day = _named(MONTH, columns), _named(DAY, columns)
    of_year = _named(DAY_OF_YEAR, columns)
    if year is None:
        return [], []
    if month is not None and day is not None:
        return [year, month, day], [YEAR, MONTH, DAY]
    if of_year is None and day is None and month is None:
        of_year = _long_day(columns)
    return ([year, of_year], [YEAR, DAY_OF_YEAR]) if of_year is not None else ([], [])


def split_date(columns: Sequence[FileColumn]) -> tuple[list[FileColumn], tuple[str, ...]]:
    """Columns of a year, a month and a day (or the day of the year), with the clock's; empty: no such columns."""
    found, roles = _named_date(columns)
    if not found:
        return [], ()
    left = [c for c in columns if c not in found]
    text = next((c for c in left if c.kind == "clock"), None)
    if text is not None:
        return [*found, text], (*roles, CLOCK)
    for role in (HOUR, MINUTE, SECOND):
        if (one := _named(role, left)) is None:
            break
        found.append(one)
        roles.append(role)
    if HOUR not in roles and (one := _hhmm(left)) is not None:
        found.append(one)
        roles.append(HHMM)
    return found, tuple(roles)


def _long_day(columns: Sequence[FileColumn]) -> FileColumn | None:
    """A column called day whose numbers go beyond a month's: the day of the year."""
    for column in columns:
        if tokens_of(column.header) in (["day"], ["tag"], ["jour"]) and _whole(column, 1, 366):
            return column if max(column.numbers) > 31 else None
    return None


def _hhmm(columns: Sequence[FileColumn]) -> FileColumn | None:
    for column in columns:
        called = set(tokens_of(column.header)) & _CLOCKS and column.kind == "number" and column.numbers
        if called and clock_ms(HHMM, np.array(column.numbers))[1].all() and max(column.numbers) > 24:
            return column
    return None


def real_dates(roles: Sequence[str], columns: Sequence[FileColumn]) -> bool:
    """Whether nearly all sampled rows of such columns are dates that exist."""
    rows = [cells for cells in zip(*(c.cells for c in columns), strict=True) if all(cells)]
    if not rows:
        return False
    date = parts_of_texts(roles, list(zip(*rows, strict=True)))[0]
    good = date.ok & days_since_1970(date.first, date.second, date.third)[1]
    return DATE in roles or bool(good.mean() >= 0.9)
