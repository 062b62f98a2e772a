"""The times of made-up exports: one column or several, in many ways of writing, with their zone said or not."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

# kind: (names of the columns, strftime pattern with | between columns, order of dates if it is open)
CLOCKS: dict[str, tuple[list[str], str, str | None]] = {
    "iso": (["Date Time"], "%Y-%m-%d %H:%M:%S", None),
    "iso minutes": (["Timestamp"], "%Y-%m-%d %H:%M", None),
    "points": (["Datum/Uhrzeit"], "%d.%m.%Y %H:%M", "DMY"),
    "points short": (["Zeit"], "%d.%m.%y %H:%M:%S", "DMY"),
    "british": (["Date/Time"], "%d/%m/%Y %H:%M", "DMY"),
    "american": (["Time"], "%m/%d/%Y %H:%M:%S", "MDY"),
    "american half": (["Date Time"], "%m/%d/%y %I:%M:%S %p", "MDY"),
    "month name": (["Time"], "%d %b %Y %H:%M", None),
    "javascript": (["time"], "%a %b %d %Y %H:%M:%S", None),
    "clock first": (["Time"], "%H:%M %d.%m.%Y", "DMY"),
    "two columns": (["Date", "Time"], "%d.%m.%Y|%H:%M:%S", "DMY"),
    "clock column first": (["Time", "Date"], "%H:%M|%Y-%m-%d", None),
    "pointed clock": (["Date", "Time"], "%Y-%m-%d|%H.%M", None),
    "hhmm": (["Date", "Time"], "%Y-%m-%d|hhmm", None),
    "hour": (["Date", "Hour"], "%Y-%m-%d|hour", None),
    "day share": (["Date", "Time"], "%Y-%m-%d|share", None),
    "czech halves": (["Datum", "Čas"], "%Y-%m-%d|czech", None),
    "midnight and clock": (["Date", "Time"], "%Y-%m-%d 00:00:00|%H:%M:%S", None),
    "numbers": (["Year", "Month", "Day", "Hour", "Minute"], "%Y|month|day|hour|minute", None),
    "day of year": (["Year", "DOY", "HHMM"], "%Y|doy|hhmm", None),
    "compact": (["DateTime"], "%Y%m%d %H%M%S", None),
    "epoch s": (["time"], "epoch s", None),
    "epoch ms": (["Timestamp"], "epoch ms", None),
    "serial": (["Time"], "serial", None),
    "elapsed": (["Elapsed (min)"], "elapsed", None),
}
_PARTS: dict[str, Callable[[datetime], str]] = {
    "hhmm": lambda t: str(t.hour * 100 + t.minute),
    "hour": lambda t: str(t.hour),
    "minute": lambda t: str(t.minute),
    "month": lambda t: str(t.month),
    "day": lambda t: str(t.day),
    "doy": lambda t: str(t.timetuple().tm_yday),
    "share": lambda t: f"{(t.hour * 60 + t.minute) / 1440 + t.second / 86400:.8f}",
    "czech": lambda t: f"{(t.hour - 1) % 12 + 1}:{t.minute:02d} {'dop.' if t.hour < 12 else 'odp.'}",
}
_WITH_OFFSET = {"iso", "iso minutes", "points", "points short", "british", "american", "month name", "javascript",
                "two columns"}  # fmt: skip
_LETTERS = {0: "(UTC)", 60: "(MEZ)", 120: "(CEST)", -480: "(PST)", -300: "(EST)"}


@dataclass
class Written:
    names: list[str]
    pattern: str
    order: str | None
    clock: tzinfo
    times: list[datetime]
    said: str
    suffix: bool = False
    preamble: list[str] = field(default_factory=list)
    start: datetime | None = None

    @property
    def swap(self) -> bool:
        """Whether a spreadsheet could have turned the dates round."""
        return self.order in ("DMY", "MDY") and len(self.names) == 1

    def local(self, at: datetime) -> datetime:
        return at.astimezone(self.clock)

    def cells(self, at: datetime) -> list[str]:
        if self.pattern.startswith("epoch"):
            return [str(int(at.timestamp() * (1000 if self.pattern.endswith("ms") else 1)))]
        if self.pattern == "elapsed":
            return [f"{(at - self.times[0]).total_seconds() / 60:g}"]
        local = self.local(at)
        if self.pattern == "serial":
            days = (local.replace(tzinfo=UTC) - datetime(1899, 12, 30, tzinfo=UTC)).total_seconds() / 86400
            return [f"{days:.9f}"]
        found = [_PARTS[p](local) if p in _PARTS else local.strftime(p) for p in self.pattern.split("|")]
        if self.suffix:
            offset = local.strftime("%z")
            found[-1] += f" GMT{offset} (Some Zone)" if "%a" in self.pattern else f"{offset[:3]}:{offset[3:]}"
        return found

    def swapped(self, at: datetime) -> list[str]:
        local = self.local(at)
        if local.day > 12:
            return self.cells(at)
        turned = local.replace(tzinfo=None, month=local.day, day=local.month)
        return [turned.strftime("%Y-%m-%d %H:%M:%S")]


def write_times(rng: random.Random, kind: str, times: list[datetime], clock: tzinfo, where: str) -> Written:
    """How times are written; what the zone's statement does not fit is left out, and then the clock is the zone's."""
    names, pattern, order = CLOCKS[kind]
    made = Written(list(names), pattern, order, clock, times, f"{kind} {where}")
    # What a way of writing cannot say is left out of the truth: the hour alone has no minutes.
    whole = {"hour": 3600}.get(kind, 60)
    if kind == "hour":
        base = made.local(times[0]).replace(minute=0, second=0)
        shift = base - made.local(times[0])
        step = max((times[1] - times[0]).total_seconds(), whole)
        step = step // whole * whole
        times[:] = [
            times[0] + shift + (times[1] - times[0]) * 0 + i * timedelta(seconds=step)
            for i in range(len(times))
        ]
        made.times = times
    if kind.startswith("epoch"):
        return made
    if kind == "elapsed":
        made.start = times[0]
        if rng.random() < 0.5:
            made.preamble = [f"Start: {made.local(times[0]):%Y-%m-%d %H:%M:%S}"]
        if where in ("cell offset", "header letters", "header name", "header offset"):
            where = "preamble"
    minutes = int((made.local(times[0]).utcoffset() or times[0].utcoffset()).total_seconds() / 60)  # type: ignore[union-attr]
    sign = f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
    if where == "cell offset" and kind not in _WITH_OFFSET:
        where = "header offset"
    if where == "cell offset":
        made.suffix = True
    elif where == "header offset":
        made.names[-1] = f"{made.names[-1]} GMT{sign}"
    elif where == "header letters":
        made.names[0] = f"{made.names[0]} {_LETTERS[minutes]}"
    elif where == "header name":
        assert isinstance(clock, ZoneInfo)
        made.names[0] = f"{made.names[0]} ({clock.key})"
    elif where == "preamble":
        made.preamble = [*made.preamble, f"Time zone: GMT{sign}"]
    made.said = f"{kind} {where}"
    return made
