"""The climate drawn as SVG: each drying zone's readings, its waters, its limit and the forecast.

Written by hand rather than with a plotting library: a few lines, bands and words need none, and matplotlib alone
would take a second to load.
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

import numpy as np
from numpy.typing import NDArray

from ...answers.climate.cycles import FOUND, ZoneCycles
from ...answers.climate.drying import Drying
from ...answers.climate.shown import ClimateAnswer
from ...answers.finding import TOO_EARLY
from ...stats.drying.drying import centred_medians
from ...study.quantities import QUANTITIES

Floats = NDArray[np.float64]
_WIDTH, _LEFT, _RIGHT, _TOP, _HEIGHT, _GAP = 860, 52, 16, 58, 150, 62
_PAST_DAYS, _AHEAD_DAYS = 42.0, 14.0
# Okabe & Ito 2008, blue and vermilion, darkened for thin lines on white.
_BLUE, _RED, _GREY, _INK = "#00558a", "#a83c00", "#8a8a8a", "#222222"


@dataclass(frozen=True)
class _Panel:
    """Maps days (from the newest reading) and per cent to the drawing."""

    top: float
    first: float
    last: float
    low: float
    high: float

    def x(self, day: float) -> float:
        part = (day - self.first) / (self.last - self.first)
        return _LEFT + part * (_WIDTH - _LEFT - _RIGHT)

    def y(self, value: float) -> float:
        return self.top + _HEIGHT * (1 - (value - self.low) / (self.high - self.low))


def climate_svg(answer: ClimateAnswer, zone: tzinfo) -> str:
    """A panel for each zone that can dry: up to six weeks back, two weeks ahead. ``zone``: for the dates."""
    shown = [d for d in answer.drying if np.isfinite(d.level)]
    height = _TOP + len(shown) * (_HEIGHT + _GAP) + 10
    body = [_text(_LEFT, 22, answer.study, 16, weight="bold"), *_legend()]
    if not shown:
        body.append(_text(_LEFT, 50, "No readings that can dry.", 13))
    newest = max((d.cycles.at_ms(d.cycles.newest) for d in shown), default=0)
    for number, one in enumerate(shown):
        body += _drawn(one, answer, _TOP + 22 + number * (_HEIGHT + _GAP), zone, newest)
    title = html.escape(f"Climate of {answer.study}")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDTH}" height="{height}" viewBox="0 0 {_WIDTH} {height}" '
        f'font-family="sans-serif" role="img"><title>{title}</title>'
        f'<rect width="100%" height="100%" fill="#ffffff"/>{"".join(body)}</svg>\n'
    )


def _legend() -> list[str]:
    y = 42
    return [
        _line([(_LEFT, y - 4), (_LEFT + 22, y - 4)], _GREY, 1), _text(_LEFT + 27, y, "readings", 11),
        _line([(_LEFT + 90, y - 4), (_LEFT + 112, y - 4)], _BLUE, 2.2), _text(_LEFT + 117, y, "24-hour median", 11),
        f'<rect x="{_LEFT + 222}" y="{y - 10}" width="22" height="11" fill="{_BLUE}" fill-opacity="0.18"/>',
        _text(_LEFT + 249, y, "forecast, 80 %", 11),
        _line([(_LEFT + 342, y - 4), (_LEFT + 364, y - 4)], _RED, 1.4, "6 3"), _text(_LEFT + 369, y, "your limit", 11),
        _line([(_LEFT + 442, y - 10), (_LEFT + 442, y + 1)], _INK, 1.2),
        _text(_LEFT + 448, y, "water (dotted: found)", 11),
    ]  # fmt: skip


def _drawn(one: Drying, answer: ClimateAnswer, top: float, zone: tzinfo, newest_ms: int) -> list[str]:
    """One panel; all panels share their days, counted from the newest reading of any zone."""
    cycles = one.cycles
    zero = (newest_ms - cycles.start_ms) / 86_400_000
    since = -_PAST_DAYS
    day = cycles.t - zero
    seen = day >= since
    at = np.arange(max(since, -zero) + 0.5, cycles.newest - zero - 0.5 + 1e-9, 0.25)
    daily = centred_medians(cycles.t, cycles.values, at + zero)
    path = one.forecast.path[: int(_AHEAD_DAYS) + 1] if one.forecast and one.verdict != TOO_EARLY else None
    low, high = _range(cycles.values[seen], one, path)
    panel = _Panel(top, since, _AHEAD_DAYS, low, high)
    name = answer.labels.get(cycles.zone, cycles.zone)
    unit = QUANTITIES[cycles.quantity].label
    body = [
        _text(_LEFT, top - 8, f"{name}, {unit}: {_says(one)}", 12, weight="bold"),
        *_axes(panel, newest_ms, zone),
        *_runs(panel, day[seen], cycles.values[seen], _GREY, 0.8, gap=2 / 24 + 3 * _step(cycles)),
        *_runs(panel, at, daily, _BLUE, 2.2, gap=0.3),
    ]
    if path is not None:
        body += _band(panel, one.now_day - zero, path)
    if one.limit is not None:
        y = panel.y(one.limit)
        body.append(_line([(panel.x(since), y), (panel.x(_AHEAD_DAYS), y)], _RED, 1.4, "6 3"))
    for turn in cycles.recharges:
        if turn.day - zero >= since:
            x = panel.x(turn.day - zero)
            body.append(_line([(x, top), (x, top + _HEIGHT)], _INK, 1.2, "2 3" if turn.kind == FOUND else ""))
    return body


def _says(one: Drying) -> str:
    level, limit = f"{one.level:.0f} %", "" if one.limit is None else f", limit {one.limit:g} %"
    days, low, high = one.days
    if one.verdict == "drying" and np.isfinite(days):
        until = f"{low:.0f} to {high:.0f}" if np.isfinite(high) else f"{low:.0f} or more"
        return f"{level}{limit}: in about {days:.0f} days ({until})"
    return f"{level}{limit}: {one.verdict}"


def _step(cycles: ZoneCycles) -> float:
    return float(np.median(np.diff(cycles.t))) if len(cycles.t) > 1 else 0.0


def _range(values: Floats, one: Drying, path: Floats | None) -> tuple[float, float]:
    known = [values[~np.isnan(values)]]
    if one.limit is not None:
        known.append(np.array([one.limit]))
    if path is not None:
        known.append(path.ravel())
    all_of_them = np.concatenate(known)
    low, high = float(all_of_them.min()), float(all_of_them.max())
    return max(np.floor(low / 5) * 5, 0.0), max(np.ceil(high / 5) * 5, np.floor(low / 5) * 5 + 5)


def _axes(panel: _Panel, newest_ms: int, zone: tzinfo) -> list[str]:
    body = [
        f'<rect x="{_LEFT}" y="{panel.top}" width="{_WIDTH - _LEFT - _RIGHT}" height="{_HEIGHT}" fill="none" '
        f'stroke="#cccccc"/>'
    ]
    step = 5 if panel.high - panel.low <= 25 else 10 if panel.high - panel.low <= 50 else 20
    for value in np.arange(np.ceil(panel.low / step) * step, panel.high + 0.1, step):
        y = panel.y(float(value))
        body.append(_line([(_LEFT, y), (_WIDTH - _RIGHT, y)], "#ececec", 1))
        body.append(_text(_LEFT - 6, y + 4, f"{value:.0f} %", 10, "end"))
    newest = datetime.fromtimestamp(newest_ms / 1000, zone)
    midnight = newest.replace(hour=0, minute=0, second=0, microsecond=0)
    for back in range(-int(_AHEAD_DAYS), int(_PAST_DAYS) + 1):
        date = midnight - timedelta(days=back)
        x_day = (date - newest) / timedelta(days=1)
        if date.toordinal() % 7 or not panel.first <= x_day <= panel.last:
            continue
        x = panel.x(x_day)
        body += [_line([(x, panel.top + _HEIGHT), (x, panel.top + _HEIGHT + 4)], _GREY, 1),
                 _text(x, panel.top + _HEIGHT + 16, f"{date.day} {date:%b}", 10, "middle")]  # fmt: skip
    x = panel.x(0.0)
    return [*body, _line([(x, panel.top), (x, panel.top + _HEIGHT)], "#bbbbbb", 1, "1 3")]


def _runs(panel: _Panel, day: Floats, values: Floats, colour: str, width: float, *, gap: float) -> list[str]:
    """A line through what is there, broken where readings are missing."""
    good = ~np.isnan(values)
    day, values = day[good], values[good]
    if not len(day):
        return []
    # Some 1,500 points are more than the drawing has pixels.
    thin = max(len(day) // 1500, 1)
    day, values = day[::thin], values[::thin]
    cuts = np.flatnonzero(
        np.diff(day) > max(gap, 1.5 * thin * float(np.median(np.diff(day))) if len(day) > 1 else gap)
    )
    pieces = zip(np.split(day, cuts + 1), np.split(values, cuts + 1), strict=True)
    return [
        _line([(panel.x(d), panel.y(v)) for d, v in zip(ds, vs, strict=True)], colour, width)
        for ds, vs in pieces
        if len(ds) > 1
    ]


def _band(panel: _Panel, start: float, path: Floats) -> list[str]:
    days = [start + i for i in range(len(path)) if start + i <= panel.last]
    clipped = np.clip(path[: len(days)], panel.low, panel.high)
    upper = [(panel.x(d), panel.y(v)) for d, v in zip(days, clipped[:, 2], strict=True)]
    lower = [(panel.x(d), panel.y(v)) for d, v in zip(days, clipped[:, 0], strict=True)]
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in [*upper, *reversed(lower)])
    middle = [(panel.x(d), panel.y(v)) for d, v in zip(days, clipped[:, 1], strict=True)]
    band = f'<polygon points="{points}" fill="{_BLUE}" fill-opacity="0.18"/>'
    return [band, _line(middle, _BLUE, 1.6, "4 3")] if len(days) > 1 else []


def _line(points: Sequence[tuple[float, float]], colour: str, width: float, dashes: str = "") -> str:
    at = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<polyline points="{at}" fill="none" stroke="{colour}" stroke-width="{width}"{dashed}/>'


def _text(x: float, y: float, words: str, size: int, anchor: str = "start", *, weight: str = "normal") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" font-weight="{weight}" '
        f'fill="{_INK}">{html.escape(words)}</text>'
    )
