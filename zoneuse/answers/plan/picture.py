"""When watching was done and is planned, as a picture: hours down, days along."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta

from ...pictures import Blocks, Chart, Dots, Figure, Key, Scale, hours, span_said, time_ticks
from ...pictures.plot import Mark
from ...study import Declaration
from ...study.clock import lights_at
from ..answer import Answer
from ..phrases import counted
from ..showing.plain import rows
from ..showing.said import number, source
from .watched import Watched, sessions_by_hour

_SHORTEST = 0.35


def headline(answer: Answer) -> str:
    """When to watch next, in one sentence."""
    table = rows(answer.table)
    if not table:
        return answer.findings[0].says if answer.findings else "No session is planned."
    first = answer.labels.get(table[0]["when"], table[0]["when"])
    more = len(table) - 1
    rest = f", then {number(more)} more time{'' if more == 1 else 's'}" if more else ""
    return f"Watch next on {first}{rest}."


def figure(answer: Answer) -> Figure:
    """The strip of hours by days, gaps of days without a session left out as in the terminal."""
    part = rows(answer.parts["strip"]) if "strip" in answer.parts else []
    days = list(dict.fromkeys(r["day"] for r in part))
    at = {day: i for i, day in enumerate(days)}
    done = tuple(
        (at[r["day"]] + 0.1, at[r["day"]] + 0.9, float(r["hour"]), r["hour"] + 1.0)
        for r in part
        if r["sessions"]
    )
    planned = [r for r in part if r["planned"]]
    dots = Dots(tuple(at[r["day"]] + 0.5 for r in planned), tuple(r["hour"] + 0.5 for r in planned), "before")
    ticks = tuple((float(i), _day(day)) for i, day in enumerate(days) if i % max(len(days) // 7, 1) == 0)
    chart = Chart(
        Scale(0, max(len(days), 1), ticks), Scale(0, 24, hours().ticks[:-1]), (Blocks(done), dots), "", 200, down=True,
        key=(Key("bar", "session"), Key("before", "planned")), x_says="days with a session or a plan",
    )  # fmt: skip
    did = answer.effort
    says = "; ".join(f"{answer.labels.get(r['when'], r['when'])}: {r['covers']}" for r in rows(answer.table))
    return Figure(
        "plan", answer.headline.rstrip("."),
        f"Hours of the clock by day; {counted(did.get('sessions', 0), 'session')} on "
        f"{counted(did.get('days', 0), 'day')}",
        source(answer.study), (chart,) if part else (), f"Planned: {says or 'nothing'}.",
    )  # fmt: skip


def _day(day: str) -> str:
    from ...pictures.dates import short_day

    return short_day(date.fromisoformat(str(day)[:10]))


# --- every session, on the page ----------------------------------------------------------------------------------


def watched_figure(declared: Declaration, watched: Sequence[Watched]) -> Figure:
    """Days along, hours down; a bar for each session, a cross for each sighting in passing, dark hours shaded."""
    first, last = min(w.day for w in watched), max(w.day for w in watched)
    days = (last - first).days + 1
    passing = [w for w in watched if not w.counted]
    crosses = Dots(
        tuple((w.day - first).days + 0.5 for w in passing), tuple(w.from_hour for w in passing), "aside"
    )
    dark = _dark(declared, first, days)
    marks: tuple[Mark, ...] = (Blocks(tuple(dark), dark=True), _sessions(watched, first, days), crosses)
    entries = (
        (True, Key("bar", "session")), (bool(dark), Key("dark", "lights off")),
        (bool(passing), Key("passing", "seen in passing")),
    )  # fmt: skip
    key = tuple(entry for there, entry in entries if there)
    title, by_hour = _told(watched)
    says = f"From {span_said(first, last)}: {title}. Sessions by hour of the day: {by_hour}; none at other hours."
    chart = Chart(_days(declared, first, last), hours(), marks, "", 220, down=True, key=key)
    subtitle = "Hours of the clock by day"
    return Figure("watched", f"Watched in {title}", subtitle, source(declared.title), (chart,), says)


def _told(watched: Sequence[Watched]) -> tuple[str, str]:
    """``42 sessions on 35 days``, and how many there were at each hour."""
    done = [w for w in watched if w.counted]
    by_hour = ", ".join(f"{h}:00 {n}" for h, n in enumerate(sessions_by_hour(watched)) if n)
    sessions, days = len({w.session for w in done}), len({w.day for w in done})
    return f"{counted(sessions, 'session')} on {counted(days, 'day')}", by_hour or "none"


def _sessions(watched: Sequence[Watched], first: date, days: int) -> Blocks:
    """A bar for each session, wide enough to be seen where days are many."""
    half = min(max(0.36, 1.2 * days / 690), 5.0 * days / 690)
    boxes = []
    for w in (w for w in watched if w.counted):
        x = (w.day - first).days + 0.5
        boxes.append((x - half, x + half, w.from_hour, max(w.to_hour, w.from_hour + _SHORTEST)))
    return Blocks(tuple(boxes))


def _days(declared: Declaration, first: date, last: date) -> Scale:
    midnight = datetime.combine(first, time(), declared.timezone)
    after = datetime.combine(last + timedelta(days=1), time(), declared.timezone)
    start = midnight.timestamp() / 86_400
    ticks = tuple((at - start, said) for at, said in time_ticks(midnight, after, 8, declared.timezone))
    return Scale(0, (last - first).days + 1, ticks)


def _dark(declared: Declaration, first: date, days: int) -> list[tuple[float, float, float, float]]:
    """The dark hours of the first enclosure, in runs of days alike."""
    enclosure = next(iter(declared.enclosures))
    runs: list[tuple[int, int, tuple[float, float]]] = []
    for k in range(days):
        noon = datetime.combine(first + timedelta(days=k), time(12), declared.timezone)
        lights = lights_at(declared, enclosure, noon.astimezone(UTC))
        if lights is None:
            continue
        shift = (noon.dst() or timedelta()) / timedelta(hours=1) if lights.standard else 0.0
        span = (_hour(lights.off) + shift) % 24, (_hour(lights.on) + shift) % 24
        if runs and runs[-1][1] == k and runs[-1][2] == span:
            runs[-1] = runs[-1][0], k + 1, span
        else:
            runs.append((k, k + 1, span))
    boxes = []
    for begin, end, (off, on) in runs:
        for low, high in ((off, 24.0), (0.0, on)) if off > on else ((off, on),):
            if high > low:
                boxes.append((float(begin), float(end), low, high))
    return boxes


def _hour(at: time) -> float:
    return at.hour + at.minute / 60 + at.second / 3600
