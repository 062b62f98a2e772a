"""When the keeper could watch: ``weekdays 19:00-23:00`` and what people write instead, read as times of the week."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

from .clock import to_utc

WINDOW_FORMS = 'days and hours such as "weekdays 19:00-23:00", "mon, wed 7-8:30" or "sat-sun 14:00-16:00"'
_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_SHORT = {"tues": 1, "weds": 2, "thur": 3, "thurs": 3}
_SETS = {
    "daily": range(7), "everyday": range(7), "every day": range(7), "any day": range(7), "always": range(7),
    "weekday": range(5), "weekdays": range(5), "workdays": range(5),
    "weekend": (5, 6), "weekends": (5, 6),
}  # fmt: skip
_CLOCK = r"(\d{1,2})(?:[:.h](\d{2}))?\s*(am|pm)?"
_HOURS = re.compile(rf"^(?P<days>.*?)[\s,:]*\b(?P<hours>{_CLOCK}\s*-\s*{_CLOCK})$")
_DAY_MIN = 24 * 60


@dataclass(frozen=True, slots=True)
class Window:
    """Weekdays (Monday is 0), and minutes of the local day; ``closes`` beyond 1440 is on the day after."""

    days: frozenset[int]
    opens: int
    closes: int

    def on(self, day: date, zone: tzinfo) -> tuple[datetime, datetime] | None:
        """The times in UTC from and until it holds on a day; None where it does not."""
        if day.weekday() not in self.days:
            return None
        return _at(day, self.opens, zone), _at(day, self.closes, zone)


def _at(day: date, minutes: int, zone: tzinfo) -> datetime:
    later, rest = divmod(minutes, _DAY_MIN)
    return to_utc(datetime.combine(day + timedelta(days=later), time(*divmod(rest, 60))), zone)


def parse_window(text: str) -> Window | None:
    """One entry of ``[watching] can``; None where it cannot be understood.

    >>> parse_window("Sat, Sun 7-8:30")
    Window(days=frozenset({5, 6}), opens=420, closes=510)
    >>> parse_window("mon-fri 9pm to 1am") == parse_window("weekdays 21:00–01:00")
    True
    """
    words = " ".join(text.lower().replace("–", "-").replace("—", "-").split())
    words = re.sub(r"\s+(?:to|till|until)\s+", "-", words)
    found = _HOURS.match(words)
    if not found:
        return None
    days = _days(found["days"].strip(" ,:"))
    first, last = re.findall(_CLOCK, found["hours"])
    opens, closes = _minutes(first), _minutes(last)
    if days is None or opens is None or closes is None or opens in (closes, _DAY_MIN):
        return None
    return Window(days, opens, closes if closes > opens else closes + _DAY_MIN)


def _minutes(clock: tuple[str, str, str]) -> int | None:
    hour, minute, half = int(clock[0]), int(clock[1] or 0), clock[2]
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    if minute > 59 or hour * 60 + minute > _DAY_MIN:
        return None
    return hour * 60 + minute


def _days(text: str) -> frozenset[int] | None:
    if not text:
        return frozenset(range(7))
    found: set[int] = set()
    text = re.sub(r"\b(every|any) day\b", "daily", text)
    text = re.sub(r"\s*-\s*", "-", re.sub(r"\band\b|[&+/]", ",", text))
    for name in re.split(r"[,\s]+", text):
        if not name or name in ("on", "at", "from", "every"):
            continue
        if name in _SETS:
            found |= set(_SETS[name])
            continue
        ends = [_day(n) for n in name.split("-")]
        if len(ends) > 2 or any(end is None for end in ends):
            return None
        first, last = ends[0] or 0, ends[-1] or 0
        found |= {(first + k) % 7 for k in range((last - first) % 7 + 1)}
    return frozenset(found) or None


def _day(name: str) -> int | None:
    """A weekday by its name, its plural, or its beginning of at least two letters that fit only one."""
    word = name.rstrip(".").removesuffix("s") if len(name) > 5 else name.rstrip(".")
    if word in _SHORT:
        return _SHORT[word]
    fits = [k for k, full in enumerate(_NAMES) if len(word) >= 2 and full.startswith(word)]
    return fits[0] if len(fits) == 1 else None
