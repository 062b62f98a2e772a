"""The climate in a terminal: a line and a small chart per zone, the findings, then the numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ...study import visible
from ..answer import Answer
from ..finding import TOO_EARLY, below
from ..quantities_said import brief, in_unit, said, symbol, unit
from ..showing.plain import rows
from .drying import CHART_AHEAD, CHART_DAYS, DRYING, RECHARGE, Drying

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType
    from rich.table import Table
    from rich.text import Text

_BLOCKS = "▁▂▃▄▅▆▇█"
_NARROW, _WIDE = 60, 100
# What is not printed: figures that rest on less than this. They stand in the table that --csv writes.
LEAST_SHOWN_H, LEAST_COVER = 12.0, 0.10
_UNTIL = {
    "limit": " to limit",
    "half of the rise": " to half",
    "next water": " to next",
    "gap in readings": " to a gap",
    None: " so far",
}


@dataclass(frozen=True)
class ClimateAnswer(Answer):
    """An answer that also shows a small chart for each zone that dries."""

    fahrenheit: bool = False
    drying: tuple[Drying, ...] = ()
    # Whole days from the newest reading to the time it is told at, and whether forecasts are counted up to then.
    old_days: int = 0
    told_at: bool = False

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        from rich.text import Text

        from ..showing.brief import brief
        from ..showing.terminal import renderables

        width = options.max_width
        if not self.full:
            yield from brief(self, width, chart_lines(self, width))
            return
        headline = replace(self, findings=(), cautions=(), shown=(), seed=None)
        yield from renderables(headline, width)
        lines = chart_lines(self, width)
        for line in lines:
            yield Text(line, no_wrap=True, overflow="crop")
        if lines:
            yield Text()
        told = tuple(below(self.findings, len(self.table)))
        rest = replace(self, headline="", basis="", findings=told, cautions=(), shown=(), seed=None)
        yield from renderables(rest, width)
        zones = self.parts.get("zones")
        if zones is not None and len(zones):
            yield from _numbers(self, zones, width)
        for name, title in (
            ("responses", "What each water did (* found in the readings):"),
            ("backtest", "Earlier forecasts:"),
        ):
            part = self.parts.get(name)
            if part is not None and len(part):
                yield Text()
                yield Text(title)
                yield _responses(self, part, width) if name == "responses" else _backtest(self, part, width)
        yield from renderables(replace(self, headline="", basis="", findings=(), shown=()), width)


# --- the small charts ---------------------------------------------------------------------------------------


def chart_lines(answer: ClimateAnswer, width: int) -> list[str]:
    """One line per zone (two where it is narrow): 14 daily medians, the 7 days ahead, and what they mean.

    ``×`` marks the day on which the limit is expected to be passed; ``·`` a day without enough readings.
    """
    shown = [d for d in answer.drying if np.isfinite(d.level)]
    if not shown:
        return []
    names = {d.cycles.zone: visible(answer.labels.get(d.cycles.zone, d.cycles.zone)) for d in shown}
    cells = min(max(len(n) for n in names.values()), 16)
    wide = width > _NARROW
    lines = []
    for one in shown:
        words = _words(one, wide)
        chart = _spark(answer.parts["chart"], one)
        name = names[one.cycles.zone]
        if wide:
            lines.append(f"{name[:cells].ljust(cells)}  {chart}  {words}")
        else:
            told = f"{name}: {words}"
            lines += [told] if len(told) <= width else [name[:width], f"  {words}"]
            lines.append(f"  {chart}".rstrip())
    scale = f"Daily medians of {CHART_DAYS} days › {CHART_AHEAD} ahead; × passes the limit"
    return [*lines, scale if wide else "14 days › 7 ahead; × passes the limit"]


def _words(one: Drying, wide: bool) -> str:
    unit = "%" if one.cycles.quantity == "humidity_pct" else "% soil"
    level = f"{'≥' * one.saturated}{one.level:.0f} {unit}"
    limit = ("no lower limit" if wide else "no limit") if one.limit is None else f"limit {one.limit:g}"
    days, low, high = one.days
    if one.verdict == RECHARGE:
        return f"{level}, {limit}: recharge now"
    if one.verdict == DRYING and np.isfinite(days):
        if not wide:
            return f"{level}, {limit} in {days:.0f} d"
        return f"{level}, {limit} in {days:.0f} d ({low:.0f}–{high:.0f})" if np.isfinite(high) else (
            f"{level}, {limit} in {days:.0f} d ({f'{low:.0f} or more' if low >= 0.5 else 'any day'})")  # fmt: skip
    if one.verdict == TOO_EARLY:
        return f"{level}, {limit}: too early"
    return f"{level}, {limit}: {one.verdict}"


def _spark(table: pd.DataFrame, one: Drying) -> str:
    mine = table[(table["zone"] == one.cycles.zone) & (table["quantity"] == one.cycles.quantity)]
    past = mine[~mine["ahead"].astype(bool)]["median"].to_numpy(float)
    ahead = mine[mine["ahead"].astype(bool)]["median"].to_numpy(float)
    known = np.r_[past, ahead, [] if one.limit is None else [one.limit]]
    known = known[~np.isnan(known)]
    low, high = float(known.min()), float(known.max())
    # A flat line stays flat: less than four points from top to bottom is drawn in the middle.
    if high - low < 4:
        low, high = (low + high) / 2 - 2, (low + high) / 2 + 2
    cells = [_block(v, low, high) for v in ahead]
    day = one.days[0]
    if np.isfinite(day) and one.verdict == DRYING and 1 <= round(day) <= len(cells):
        cells[round(day) - 1] = "×"
    return "".join(_block(v, low, high) for v in past) + "›" + "".join(cells).ljust(CHART_AHEAD)


def _block(value: float, low: float, high: float) -> str:
    if np.isnan(value):
        return "·"
    return _BLOCKS[int(np.clip(round((value - low) / (high - low) * 7), 0, 7))]


# --- the numbers --------------------------------------------------------------------------------------------


def _grid(headings: list[tuple[str, bool]], least: tuple[int, ...] = ()) -> Table:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for number, (heading, left) in enumerate(headings):
        room = least[number] if least else None
        table.add_column(Text(heading), justify="left" if left else "right", no_wrap=not left, min_width=room)
    return table


def _numbers(answer: ClimateAnswer, zones: pd.DataFrame, width: int) -> Iterator[RenderableType]:
    """Every zone and quantity; coverage and the sensor's check stand with every number."""
    from rich.text import Text

    yield Text()
    if width > _NARROW:
        wide, wet = width >= _WIDE, bool((zones["wet_h"] >= 0.5).any())
        headings = [("Zone", True), ("", True), ("Median", False)]
        headings += [("5–95 %", False)] if wide else []
        headings += [("Min–max", False), ("Day", False), ("Night", False)]
        headings += [("Wet h/d", False)] if wet else []
        headings += [("Out h", False), ("Cover", False), ("± (check)", False)]
        table = _grid(headings)
        for _, part in zones.groupby("zone", sort=False):
            for number, row in enumerate(rows(part)):
                name = visible(answer.labels.get(row["zone"], row["zone"])) if number == 0 else ""
                table.add_row(*(_text(c) for c in [name, *_cells_wide(answer, row, wide, wet)]))
        yield table
    else:
        # A phone has no room for a column of names: they stand above their numbers.
        for zone, part in zones.groupby("zone", sort=False):
            yield Text(visible(answer.labels.get(str(zone), str(zone))))
            headings = [("", True), ("Median", False), ("Min–max", False), ("Cover", False), ("±", False)]
            table = _grid(headings, (8, 6, 9, 5, 3))
            for row in rows(part):
                table.add_row(*(_text(c) for c in _cells_narrow(answer, row)))
            yield table
    yield Text(_key_of(zones, width > _NARROW))


def _key_of(zones: pd.DataFrame, wide: bool) -> str:
    said = (
        ["± what the sensor can tell (* usual accuracy, none declared)"]
        if not zones["accuracy_declared"].all()
        else []
    )
    if wide:
        said.append("check: days since its salt check")
        said.append("Out h: hours outside your limits")
        if (zones["wet_h"] >= 0.5).any():
            said.append("Wet h/d: hours a day at the sensor's ceiling")
    if any(map(too_little, rows(zones))):
        said.append(f"–: less than {LEAST_SHOWN_H:.0f} h or {100 * LEAST_COVER:.0f} % of the time is covered")
    return "; ".join(said)


def _value(answer: ClimateAnswer, row: dict[str, Any], key: str, difference: bool = False) -> str:
    """A figure as it is printed; a dash where it rests on too little."""
    unsaid = row[key] is None or (key != "accuracy" and too_little(row))
    return "–" if unsaid else brief(row["quantity"], row[key], answer.fahrenheit, difference)


# A median at the sensor's ceiling says "at least", what follows from it "at least" or "at most".
_SIGNS = {"at least": "≥", "at most": "≤"}


def _median(answer: ClimateAnswer, row: dict[str, Any]) -> str:
    return ("" if too_little(row) else _SIGNS.get(row["bound"] or "", "")) + _value(answer, row, "median")


def median_said(row: dict[str, Any], fahrenheit: bool) -> str:
    """A zone's median and the middle 90 % of its time with units, as pages print it; a dash from too little cover."""
    if too_little(row):
        return "–"
    quantity = row["quantity"]
    low, high = (in_unit(quantity, row[key], fahrenheit) for key in ("p05", "p95"))
    sign = _SIGNS.get(row["bound"] or "", "")
    return f"{sign}{said(quantity, row['median'], fahrenheit)} ({low:.1f}–{high:.1f} {unit(quantity, fahrenheit)})"


def sensor_said(row: dict[str, Any], fahrenheit: bool) -> str:
    """How far the sensor may be off, one-sided where the median lies at its ceiling."""
    if row["bound"] is None:
        return f"±{said(row['quantity'], row['accuracy'], fahrenheit, True)}"
    down, up = (said(row["quantity"], row[key], fahrenheit, True) for key in ("lower_by", "upper_by"))
    return f"−{down} +{up}"


def wet_said(row: dict[str, Any]) -> str:
    """How long a day the air was saturated, as far as the sensor tells."""
    return "–" if row["wet_h"] is None or too_little(row) else f"{row['wet_h']:.0f} h a day"


def _span(answer: ClimateAnswer, row: dict[str, Any], low: str, high: str) -> str:
    return f"{_value(answer, row, low)}–{_value(answer, row, high)}"


def _tell(answer: ClimateAnswer, row: dict[str, Any]) -> str:
    star = "" if row["accuracy_declared"] else "*"
    if row["bound"] is None:
        return _value(answer, row, "accuracy", True) + star
    # One-sided: what lies below and above it.
    down, up = (brief(row["quantity"], row[key], answer.fahrenheit, True) for key in ("lower_by", "upper_by"))
    return f"−{down} +{up}{star}"


def _cells_narrow(answer: ClimateAnswer, row: dict[str, Any]) -> list[str]:
    return [
        symbol(row["quantity"], answer.fahrenheit), _median(answer, row), _span(answer, row, "minimum", "maximum"),
        f"{100 * row['covered']:.0f} %", _tell(answer, row),
    ]  # fmt: skip


def _cells_wide(answer: ClimateAnswer, row: dict[str, Any], wide: bool, wet: bool) -> list[str]:
    little = too_little(row)
    outside = [v for v in (row["below_limit_h"], row["above_limit_h"]) if v is not None]
    cells = [symbol(row["quantity"], answer.fahrenheit), _median(answer, row)]
    cells += [_span(answer, row, "p05", "p95")] if wide else []
    cells += [
        _span(answer, row, "minimum", "maximum"),
        *(_value(answer, row, key) for key in ("day", "night")),
    ]
    if wet:
        cells.append("–" if row["wet_h"] is None or little else f"{row['wet_h']:.0f}")
    cells += [f"{sum(outside):.0f}" if outside and not little else "–", f"{100 * row['covered']:.0f} %"]
    check = ""
    if row["quantity"] == "humidity_pct":
        check = " (never)" if row["check_age_days"] is None else f" ({row['check_age_days']:.0f} d)"
    return [*cells, _tell(answer, row) + check]


def too_little(row: dict[str, Any]) -> bool:
    """Whether a zone's figures rest on too few hours to be printed."""
    return bool(row["hours"] < LEAST_SHOWN_H or row["covered"] < LEAST_COVER)


def _text(cell: str) -> Text:
    from rich.text import Text

    return Text(cell)


def _responses(answer: ClimateAnswer, part: pd.DataFrame, width: int) -> Table:
    """One row per water; a star marks one that was found in the readings and is not on record."""
    wide = width > _NARROW
    headings = [("Zone", True), ("When", True), ("Poured", False)]
    headings += [("Before", False), ("Peak", False)] if wide else [("Peak", False)]
    if wide:
        headings += [("Rise", False), ("Half gone", False), ("Above limit", False)]
    table = _grid([*headings, ("Held, days" if wide else "Held d", False)])
    for row in rows(part):
        cells = [
            visible(answer.labels.get(row["zone"], row["zone"])),
            _day(row["at"]) + ("" if row["adjustment"] else "*"),
        ]
        poured = "–" if row["amount"] is None else f"{row['amount']:g} {row['unit'] or ''}".rstrip()
        cells += [poured, *([_whole(row["before"])] if wide else []), _whole(row["peak"])]
        if wide:
            cells += [_whole(row["rise"]), _days_said(row["half_days"]), _days_said(row["above_limit_days"])]
        until = _UNTIL[row["held_until"]] if wide else ""
        table.add_row(*(_text(c) for c in [*cells, _whole(row["held_days"]) + until]))
    return table


def _day(at: str) -> str:
    when = datetime.fromisoformat(at)
    return f"{when.day} {when:%b %y}"


def _backtest(answer: ClimateAnswer, part: pd.DataFrame, width: int) -> Table:
    before = "Days before" if width > _NARROW else "Ahead"
    headings = [("Zone", True), ("Crossed", True), (before, False), ("Said", False), ("80 %", False)]
    table = _grid([*headings, ("Held", False)])
    for row in rows(part):
        low, high = row["days_left_low"], row["days_left_high"]
        limits = (
            "–"
            if row["held"] is None
            else f"{_whole(low)} or more"
            if high is None
            else f"{low:.0f}–{high:.0f}"
        )
        cells = [visible(answer.labels.get(row["zone"], row["zone"])), _day(row["crossed_at"])]
        cells += [f"{row['days_before']}", _whole(row["days_left"]), limits]
        cells.append({True: "yes", False: "no", None: "too early"}[row["held"]])
        table.add_row(*(_text(c) for c in cells))
    return table


def _days_said(days: float | None) -> str:
    return "–" if days is None else f"{days:.1f} d" if days < 2 else f"{days:.0f} d"


def _whole(value: float | None) -> str:
    return "–" if value is None else f"{value:.0f}"
