"""The strip of 24 hours by days: when somebody watched, with the dark hours shaded and the gaps glaring."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING

import numpy as np

from ...answers.plan.watched import Watched, sessions_by_hour
from ...study.clock import lights_at
from ...study.model import Declaration
from ..dates import parts_of, span_said
from .canvas import BLUE, FAINT, INK, MUTED, SHADE, SMALL, Canvas, both, label_times, width_of, words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_HEIGHT, _FOOT, _LEGEND, _LEFT = 230, 26, 26, 44
_SHORTEST_PX = 3.5


def watched_drawn(declared: Declaration, watched: Sequence[Watched]) -> str:
    """Days along, hours down; a bar for each session, a cross for each sighting in passing."""
    first, last = min(w.day for w in watched), max(w.day for w in watched)
    counted = [w for w in watched if w.counted]
    told = ", ".join(f"{h}:00 {n}" for h, n in enumerate(sessions_by_hour(watched)) if n)
    sessions, days_on = len({w.session for w in counted}), len({w.day for w in counted})
    says = (
        f"From {span_said(first, last)}: {sessions} sessions on {days_on} days. "
        f"Sessions by hour of the day: {told or 'none'}; none at the other hours."
    )

    def paint(canvas: Canvas) -> None:
        axes = canvas.axes(_LEFT, _LEGEND, canvas.width - _LEFT - 4, _HEIGHT)
        days = (last - first).days + 1
        axes.set_xlim(0, days)
        axes.set_ylim(24, 0)
        axes.set_yticks([0, 6, 12, 18], ["0:00", "6:00", "12:00", "18:00"])
        axes.hlines([0, 6, 12, 18, 24], 0, days, color=FAINT, lw=0.7, zorder=1)
        lit = _dark(axes, declared, first, days)
        _sessions(axes, watched, first, (canvas.width - _LEFT - 4) / days)
        midnight = datetime.combine(first, time(), declared.timezone)
        after = datetime.combine(last + timedelta(days=1), time(), declared.timezone)
        label_times(axes, parts_of(midnight, after, 4 if canvas.narrow else 9, declared.timezone))
        _legend(canvas, lit, len(counted) < len(watched))

    return both("watched", "When watching was done", says, lambda _: _LEGEND + _HEIGHT + _FOOT, paint)


def _noon(day: date, declared: Declaration) -> datetime:
    return datetime.combine(day, time(12), declared.timezone)


def _dark(axes: Axes, declared: Declaration, first: date, days: int) -> bool:
    """Shade the dark hours of the first enclosure; True where lights are declared."""
    enclosure = next(iter(declared.enclosures))
    runs: list[tuple[int, int, tuple[float, float]]] = []
    for k in range(days):
        noon = _noon(first + timedelta(days=k), declared)
        lights = lights_at(declared, enclosure, noon.astimezone(UTC))
        if lights is None:
            continue
        shift = (noon.dst() or timedelta()) / timedelta(hours=1) if lights.standard else 0.0
        hours = (_hours(lights.off) + shift) % 24, (_hours(lights.on) + shift) % 24
        if runs and runs[-1][1] == k and runs[-1][2] == hours:
            runs[-1] = runs[-1][0], k + 1, hours
        else:
            runs.append((k, k + 1, hours))
    for begin, end, (off, on) in runs:
        for low, high in ((off, 24.0), (0.0, on)) if off > on else ((off, on),):
            if high > low:
                axes.fill_between([begin, end], low, high, color=SHADE, lw=0, zorder=0, alpha=0.55)
    return bool(runs)


def _hours(at: time) -> float:
    return at.hour + at.minute / 60 + at.second / 3600


def _sessions(axes: Axes, watched: Sequence[Watched], first: date, px: float) -> None:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    half = min(max(0.72, 2.4 / px), 10 / px) / 2
    least = _SHORTEST_PX * 24 / _HEIGHT
    corners = []
    for row in (w for w in watched if w.counted):
        x, top = (row.day - first).days + 0.5, row.from_hour
        bottom = max(row.to_hour, top + least)
        corners.append([(x - half, top), (x + half, top), (x + half, bottom), (x - half, bottom)])
    if corners:
        # One shape for all of them: a year of sessions stays small.
        bars = Path.make_compound_path_from_polys(np.array(corners, np.float64))
        axes.add_patch(PathPatch(bars, facecolor=BLUE, edgecolor="none", zorder=3))
    passing = [w for w in watched if not w.counted]
    days = [(w.day - first).days + 0.5 for w in passing]
    axes.plot(days, [w.from_hour for w in passing], "x", ms=4.5, color=INK, mew=1, zorder=4)


def _legend(canvas: Canvas, lit: bool, passing: bool) -> None:
    from matplotlib.patches import Rectangle

    axes = canvas.sheet
    axes.add_patch(Rectangle((_LEFT, 7), 12, 7, facecolor=BLUE, edgecolor="none"))
    words(axes, _LEFT + 18, 15, "session", SMALL, color=MUTED)
    x = _LEFT + 18 + width_of("session", SMALL) + 18
    if lit:
        axes.add_patch(Rectangle((x, 5), 14, 12, facecolor=SHADE, edgecolor="none", alpha=0.55))
        words(axes, x + 20, 15, "lights off", SMALL, color=MUTED)
        x += 20 + width_of("lights off", SMALL) + 18
    if passing:
        axes.plot([x + 4], [11], "x", ms=5, color=INK, mew=1)
        words(axes, x + 13, 15, "in passing", SMALL, color=MUTED)
