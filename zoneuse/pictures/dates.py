"""Dates as people say them, and the ones that stand under a time axis."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta, tzinfo

from .scales import Ticks

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
LONG = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
_STEPS = (1, 2, 3, 7, 14)
_MONTHS_APART = (1, 2, 3, 6, 12, 24, 60)


def day_said(day: date) -> str:
    """``4 March 2026``, whatever language the machine speaks.

    >>> day_said(date(2026, 3, 4))
    '4 March 2026'
    """
    return f"{day.day} {LONG[day.month - 1]} {day.year}"


def short_day(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]}"


def span_said(first: date, last: date) -> str:
    """``2 March to 18 April 2026``.

    >>> span_said(date(2026, 3, 2), date(2026, 4, 18)), span_said(date(2026, 3, 2), date(2026, 3, 2))
    ('2 March to 18 April 2026', '2 March 2026')
    """
    if first == last:
        return day_said(first)
    begin = f"{first.day} {LONG[first.month - 1]}" if first.year == last.year else day_said(first)
    return f"{begin} to {day_said(last)}"


def clock_said(at: datetime, zone: tzinfo) -> str:
    """``4 Mar 2026 21:30`` in the study's zone."""
    local = at.astimezone(zone)
    return f"{short_day(local.date())} {local.year} {local:%H:%M}"


def day_number(at: datetime) -> float:
    """A time as a number of days, to be drawn."""
    return at.timestamp() / 86_400


def ticks(first: datetime, last: datetime, most: int, zone: tzinfo) -> list[tuple[datetime, str]]:
    """Local midnights between two times with their words: at most ``most``, Mondays where weeks are meant."""
    low, high = first.astimezone(zone).date(), last.astimezone(zone).date()
    days = (high - low).days + 1
    step = next((s for s in _STEPS if days / s <= most), None)
    listed = _months(low, high, days, most) if step is None else _days(low, high, step)
    midnights = [(datetime.combine(day, time(), zone), said) for day, said in listed]
    return [(at, said) for at, said in midnights if first <= at <= last]


def time_ticks(first: datetime, last: datetime, most: int, zone: tzinfo) -> Ticks:
    """The same as day numbers, for a scale."""
    return tuple((day_number(at), said) for at, said in ticks(first, last, most, zone))


def _days(low: date, high: date, step: int) -> list[tuple[date, str]]:
    # Weeks begin on Mondays: ordinal 1 was one.
    offset = (-(low.toordinal() - 1)) % step
    return [
        (day, short_day(day))
        for k in range(offset, (high - low).days + 1, step)
        for day in (low + timedelta(days=k),)
    ]


def _months(low: date, high: date, days: int, most: int) -> list[tuple[date, str]]:
    apart = next((m for m in _MONTHS_APART if days / (30.4 * m) <= most), _MONTHS_APART[-1])
    numbers = range(low.year * 12 + low.month - 1, high.year * 12 + high.month, 1)
    return [
        (date(n // 12, n % 12 + 1, 1), MONTHS[n % 12] + (f" {n // 12}" if apart >= 12 or n % 12 == 0 else ""))
        for n in numbers
        if n % apart == 0
    ]
