"""A date or its clock in columns of numbers: year, month and day apart, an hour, 1405, a fraction of a day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from .time_text import DAY_MS, NO_OFFSET, Ints, TimeParts, full_year, take_apart_texts

Numbers = NDArray[np.float64]
DATE, CLOCK = "date", "clock"
YEAR, MONTH, DAY, DAY_OF_YEAR = "year", "month", "day", "day of year"
HOUR, MINUTE, SECOND = "hour", "minute", "second"
HHMM, HHMMSS, HH_MM, HOURS, DAY_SHARE = "hhmm", "hhmmss", "hh.mm", "hours", "day share"
TEXT_ROLES = frozenset({DATE, CLOCK})
_MINUTE_MS, _HOUR_MS = 60_000, 3_600_000


def clock_ms(role: str, numbers: Numbers) -> tuple[Ints, NDArray[np.bool_]]:
    """Ms since midnight of clock times written as numbers in one way, and which of them are times.

    >>> clock_ms("hhmm", np.array([5.0, 1405.0, 1275.0]))
    (array([  300000, 50700000,        0]), array([ True,  True, False]))
    """
    whole = np.floor(np.nan_to_num(numbers, nan=-1.0))
    exact = whole == numbers
    if role == HOURS:
        ms, ok = np.rint(numbers * 3600) * 1000, (numbers >= 0) & (numbers <= 24)
    elif role == DAY_SHARE:
        ms, ok = np.rint(numbers * 86_400) * 1000, (numbers >= 0) & (numbers <= 1)
    elif role == HH_MM:
        minutes = np.rint((numbers - whole) * 100)
        ms, ok = whole * _HOUR_MS + minutes * _MINUTE_MS, (whole >= 0) & (whole < 24) & (minutes < 60)
    elif role == HHMM:
        hour, minute = np.floor_divide(whole, 100), np.mod(whole, 100)
        ms, ok = hour * _HOUR_MS + minute * _MINUTE_MS, exact & (hour >= 0) & (hour < 24) & (minute < 60)
    elif role == HHMMSS:
        hour, minute, second = whole // 10_000, whole // 100 % 100, whole % 100
        ms = hour * _HOUR_MS + minute * _MINUTE_MS + second * 1000
        ok = exact & (hour >= 0) & (hour < 24) & (minute < 60) & (second < 60)
    else:
        size, most = {HOUR: (_HOUR_MS, 24), MINUTE: (_MINUTE_MS, 59), SECOND: (1000, 59)}[role]
        ms, ok = whole * size, exact & (whole >= 0) & (whole <= most)
    ok = np.asarray(ok & ~np.isnan(numbers), np.bool_)
    return np.where(ok, ms, 0).astype(np.int64), ok


def combine(
    roles: Sequence[str], texts: Mapping[int, TimeParts], numbers: Mapping[int, Numbers]
) -> tuple[TimeParts, ...]:
    """The date and its clock of rows whose parts stand apart; ``texts`` and ``numbers`` by place in ``roles``."""
    count = len(next(iter(texts.values())).ok) if texts else len(next(iter(numbers.values())))
    at = {role: i for i, role in enumerate(roles)}
    date = texts[at[DATE]] if DATE in at else _date(at, numbers)
    if CLOCK in at:
        return date, texts[at[CLOCK]]
    ms, ok = np.zeros(count, np.int64), np.ones(count, np.bool_)
    found = False
    for role in (HOUR, MINUTE, SECOND, HHMM, HHMMSS, HH_MM, HOURS, DAY_SHARE):
        if role in at:
            part, good = clock_ms(role, numbers[at[role]])
            ms, ok, found = ms + part, ok & good, True
    return (date, _parts(ms, ok)) if found else (date,)


def _date(at: Mapping[str, int], numbers: Mapping[int, Numbers]) -> TimeParts:
    year = np.nan_to_num(numbers[at[YEAR]], nan=-1.0)
    whole = np.floor(year) == year
    years = full_year(year.astype(np.int64))
    if DAY_OF_YEAR in at:
        day = np.nan_to_num(numbers[at[DAY_OF_YEAR]], nan=-1.0)
        whole &= (np.floor(day) == day) & (day >= 1) & (day <= 366)
        # The day of the year as a real date: counted on from the first of January.
        january = (years - 1970).astype("datetime64[Y]").astype("datetime64[D]")
        dates = january + (np.where(whole, day, 1).astype(np.int64) - 1).astype("timedelta64[D]")
        months = dates.astype("datetime64[M]")
        month = months.astype(np.int64) % 12 + 1
        days = (dates - months.astype("datetime64[D]")).astype(np.int64) + 1
        whole &= dates.astype("datetime64[Y]").astype(np.int64) + 1970 == years
    else:
        parts = [np.nan_to_num(numbers[at[role]], nan=-1.0) for role in (MONTH, DAY)]
        whole &= np.logical_and.reduce([np.floor(p) == p for p in parts])
        month, days = (p.astype(np.int64) for p in parts)
    made = _parts(np.zeros(len(year), np.int64), whole)
    return TimeParts(years, month, days, made.year, made.day_ms, made.offset_min, whole, whole, ())


def _parts(day_ms: Ints, ok: NDArray[np.bool_]) -> TimeParts:
    """A clock as the parts of a written time without a date; ``year`` 0 is KNOWN."""
    count = len(day_ms)
    zeros = np.zeros(count, np.int64)
    return TimeParts(
        zeros, zeros, zeros, zeros, day_ms % (DAY_MS + 1), np.full(count, NO_OFFSET, np.int64),
        np.zeros(count, np.bool_), ok, (),
    )  # fmt: skip


def parts_of_texts(roles: Sequence[str], columns: Sequence[Sequence[str]]) -> tuple[TimeParts, ...]:
    """The same for cells as written; without ``roles`` each column is text taken apart for itself."""
    if not roles:
        return tuple(take_apart_texts(list(texts)) for texts in columns)
    texts = {i: take_apart_texts(list(columns[i])) for i, role in enumerate(roles) if role in TEXT_ROLES}
    numbers = {i: _numbers(columns[i]) for i, role in enumerate(roles) if role not in TEXT_ROLES}
    return combine(roles, texts, numbers)


def _numbers(texts: Sequence[str]) -> Numbers:
    found = np.full(len(texts), np.nan)
    for i, text in enumerate(texts):
        try:
            found[i] = float(text.replace(",", "."))
        except ValueError:
            continue
    return np.where(np.isfinite(found), found, np.nan)
