"""Time in the keeper's terms: the study's zone, its days, its slots, and what "yesterday 21:30" means."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from .model import Declaration, Lights, Presence, Zone, value_at

SLOTS = ("dawn", "day", "dusk", "night")
ANY_TIME = "any time"
YEARS = range(1900, 2200)
# Half an hour either side: together the hour around lights-on and the hour around lights-off.
_AROUND_MIN = 30
_DAY_MIN = 24 * 60


def to_utc(value: datetime | date, zone: tzinfo) -> datetime:
    """A date (local midnight), a local time or a time with offset, in UTC.

    A clock time that comes twice when summer time ends is the first of the two. Raises FarError outside the
    years 1900 to 2199: tables of times end there, and nobody watched then.
    """
    if value.year not in YEARS:
        raise FarError(f"the year {value.year} lies outside {YEARS[0]} to {YEARS[-1]}")
    if not isinstance(value, datetime):
        value = datetime.combine(value, time())
    if value.tzinfo is None:
        value = value.replace(tzinfo=zone)
    utc = value.astimezone(UTC)
    if utc.year not in YEARS:
        raise FarError(f"{value.isoformat()} lies outside {YEARS[0]} to {YEARS[-1]}, by UTC")
    return utc


def only_utc(local: datetime, zone: tzinfo) -> datetime:
    """The one UTC time a clock time can be. Raises ValueError where summer time skipped it, or made it come twice.

    >>> from zoneinfo import ZoneInfo
    >>> only_utc(datetime(2026, 3, 29, 2, 30), ZoneInfo("Europe/Vienna"))
    Traceback (most recent call last):
        ...
    ValueError: 2026-03-29 02:30 did not exist: the clocks were put forward over it
    """
    if local.tzinfo is not None:
        return to_utc(local, zone)
    first, second = (local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1))
    if first == second:
        return to_utc(local, zone)
    if first.astimezone(zone).replace(tzinfo=None) != local:
        raise ValueError(f"{local:%Y-%m-%d %H:%M} did not exist: the clocks were put forward over it")
    written = " or ".join(f"{at.astimezone(zone):%Y-%m-%dT%H:%M%z}" for at in (first, second))
    raise TwiceError(f"{local:%Y-%m-%d %H:%M} came twice that night; give the offset too: {written}")


class FarError(ValueError):
    """A time outside the years that tables of times hold."""


class TwiceError(ValueError):
    """A clock time that came twice when summer time ended."""


def to_ms(at: datetime) -> int:
    """An aware time as whole milliseconds since 1970 UTC, as readings hold it.

    >>> to_ms(datetime(1970, 1, 1, 0, 0, 1, 500_000, tzinfo=UTC))
    1500
    """
    return round(at.timestamp() * 1000)


def from_ms(ms: int) -> datetime:
    """The time, in UTC, of so many milliseconds since 1970.

    >>> from_ms(1500).isoformat()
    '1970-01-01T00:00:01.500000+00:00'
    """
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=ms)


def study_day(declared: Declaration, at: datetime) -> date:
    """The day a moment counts for: days begin at ``day_starts``, so a night can be one day."""
    local = at.astimezone(declared.timezone)
    day = local.date()
    return day if local.time() >= declared.day_starts else day - timedelta(days=1)


def lights_at(declared: Declaration, enclosure: str, at: datetime) -> Lights | None:
    return value_at(declared.enclosures[enclosure].lights, at)


def _minutes(value: time) -> float:
    return value.hour * 60 + value.minute + value.second / 60


def _timer_minutes(declared: Declaration, lights: Lights, at: datetime) -> float:
    local = at.astimezone(declared.timezone)
    if lights.standard:
        local -= local.dst() or timedelta()
    return _minutes(local.time())


def slot_at(declared: Declaration, enclosure: str, at: datetime) -> str:
    """dawn and dusk are the hours around lights-on and lights-off, day and night the rest."""
    lights = lights_at(declared, enclosure, at)
    if lights is None:
        return ANY_TIME
    now = _timer_minutes(declared, lights, at)
    on, off = _minutes(lights.on), _minutes(lights.off)
    if _apart(now, on):
        return "dawn"
    if _apart(now, off):
        return "dusk"
    return "day" if (now - on) % _DAY_MIN < (off - on) % _DAY_MIN else "night"


def _apart(now: float, turn: float) -> bool:
    """Whether a clock minute lies in the hour around a turn of the lights, its end excluded."""
    return (now - turn + _AROUND_MIN) % _DAY_MIN < 2 * _AROUND_MIN


def hours_since_lights_on(declared: Declaration, enclosure: str, at: datetime) -> float | None:
    """Hours from the last lights-on, 0 up to 24; None where no lights are declared."""
    lights = lights_at(declared, enclosure, at)
    if lights is None:
        return None
    return (_timer_minutes(declared, lights, at) - _minutes(lights.on)) % _DAY_MIN / 60


def _daily_holds(declared: Declaration, zone: Zone, presence: Presence, at: datetime) -> bool:
    if presence.daily is None:
        return True
    lights = lights_at(declared, zone.enclosure, at)
    start, end = presence.daily
    # A lamp hangs on the same timer as the lights, so it follows summer time only if they do.
    standard = lights is not None and lights.standard
    now = _timer_minutes(declared, Lights(start, end, standard), at)
    return (now - _minutes(start)) % _DAY_MIN < (_minutes(end) - _minutes(start)) % _DAY_MIN


def zone_offered(declared: Declaration, zone: Zone, at: datetime) -> bool:
    """Whether a zone is there at a moment (built, not taken away, and lit if it lives by its lamp)."""
    return any(p.span.holds(at) and _daily_holds(declared, zone, p, at) for p in zone.present)


_CLOCK = r"(?P<h>\d{1,2}):(?P<m>\d{2})(?::(?P<s>\d{2}))?"
_AGO = re.compile(r"(?P<n>\d+(?:\.\d+)?)\s*(?P<u>min|m|h|d|w)(?:\w*)\s+ago")
_DAY_CLOCK = re.compile(rf"(?P<day>today|yesterday)(?:\s+{_CLOCK})?")
_BARE_CLOCK = re.compile(_CLOCK)
_UNITS = {"min": "minutes", "m": "minutes", "h": "hours", "d": "days", "w": "weeks"}
WHEN_FORMS = 'an ISO time, "now", "2h ago", "21:30", "yesterday 21:30"'


def parse_when(text: str, now: datetime, zone: tzinfo) -> datetime:
    """A time given on the command line, in UTC.

    Understands ISO dates and times (local unless they carry an offset), ``now``, ``2h ago``, ``21:30``,
    ``today 7:15`` and ``yesterday 21:30``. Raises ValueError with what is understood, or the years that are held.

    >>> from zoneinfo import ZoneInfo
    >>> at = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
    >>> parse_when("yesterday 21:30", at, ZoneInfo("Europe/Vienna")).isoformat()
    '2026-03-01T20:30:00+00:00'
    """
    words = " ".join(text.strip().lower().split())
    if words == "now":
        return now.astimezone(UTC)
    today = now.astimezone(zone).date()
    try:
        if found := _AGO.fullmatch(words):
            return to_utc(now.astimezone(UTC) - timedelta(**{_UNITS[found["u"]]: float(found["n"])}), zone)
        if found := _DAY_CLOCK.fullmatch(words):
            day = today - timedelta(days=1) if found["day"] == "yesterday" else today
            if found["h"] is None:
                return to_utc(day, zone)
            written = datetime.combine(day, _clock(found))
        elif found := _BARE_CLOCK.fullmatch(words):
            written = datetime.combine(today, _clock(found))
        elif re.fullmatch(r"\d{4}-\d{2}-\d{2}", words):
            return to_utc(date.fromisoformat(words), zone)
        else:
            written = datetime.fromisoformat(words.upper())
        to_utc(written, zone)
    except (FarError, OverflowError):
        raise FarError(f"{text!r} lies outside the years {YEARS[0]} to {YEARS[-1]} (by UTC)") from None
    except ValueError:
        raise ValueError(f"{text!r} is not a time; it can be {WHEN_FORMS}") from None
    return only_utc(written, zone)


def _clock(found: re.Match[str]) -> time:
    return time(int(found["h"]), int(found["m"]), int(found["s"] or 0))


_DURATION = re.compile(r"(?P<n>\d+(?:\.\d+)?)\s*(?P<u>min|h|d|w)")


def parse_duration_h(text: str) -> float:
    """``2d``, ``36 h``, ``90min``, ``4w`` as hours. Raises ValueError with what is understood."""
    found = _DURATION.fullmatch(text.strip().lower())
    if not found:
        raise ValueError(f"{text!r} is not a length of time; it can be 90min, 36h, 2d or 4w")
    return float(found["n"]) * {"min": 1 / 60, "h": 1.0, "d": 24.0, "w": 168.0}[found["u"]]


def iso_local(at: datetime, zone: tzinfo) -> str:
    """A time as files hold it: the study's clock, with offset, to the millisecond.

    >>> from zoneinfo import ZoneInfo
    >>> iso_local(datetime(2026, 3, 2, 12, 0, tzinfo=UTC), ZoneInfo("Europe/Vienna"))
    '2026-03-02T13:00:00.000+01:00'
    """
    return at.astimezone(zone).isoformat(timespec="milliseconds")


def spoken_time(at: datetime, zone: tzinfo) -> str:
    """A time as people say it: ``2 Mar 2026 13:00``."""
    local = at.astimezone(zone)
    return f"{local.day} {local:%b %Y %H:%M}"
