"""One change: a dot for each session before and after, its settling time shaded, and what else happened then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import pandas as pd

from ...answers.records.on_record import Event
from ...answers.shifts.over_time import AFTER, BEFORE, OUTSIDE, SETTLING
from ...study.model import Declaration
from ...tables.phases import Adjustment
from ..dates import day_number, days_of, parts_of, short_day
from .canvas import (
    BLUE,
    FAINT,
    INK,
    MUTED,
    SHADE,
    SMALL,
    USUAL,
    Canvas,
    both,
    fitting,
    label_times,
    width_of,
    words,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# The mark of each time of day; filled after the change, hollow before it.
MARKS = {"night": "o", "day": "s", "dusk": "^", "dawn": "v", "any time": "o"}
_PANEL, _HEAD, _STRIP, _FOOT, _LEGEND, _LEFT = 120, 30, 19, 30, 24, 52


@dataclass(frozen=True, slots=True)
class Changed:
    """What is drawn of one change: its dots, the means of both sides by place, and the other events of its time."""

    change: Adjustment
    dots: pd.DataFrame
    means: dict[str, tuple[float, float]]
    events: Sequence[Event]
    others: Sequence[Adjustment]


def change_drawn(declared: Declaration, number: int, one: Changed, labels: dict[str, str]) -> str:
    """A panel for each place concerned, over strips for feeds, sheds and other changes."""
    places = list(dict.fromkeys(one.dots["place"]))
    first, last = _window(one)
    strips = _strips(one, first, last)
    says = _described(one, places, labels, strips)
    height = _LEGEND + len(places) * (_HEAD + _PANEL) + len(strips) * _STRIP + _FOOT

    def paint(canvas: Canvas) -> None:
        _legend(canvas, one)
        for i, place in enumerate(places):
            top = _LEGEND + i * (_HEAD + _PANEL)
            words(
                canvas.sheet,
                0,
                top + 21,
                fitting(labels.get(place, place), canvas.width - 8, USUAL, True),
                fontweight="bold",
            )
            axes = canvas.axes(_LEFT, top + _HEAD, canvas.width - _LEFT - 4, _PANEL)
            _panel(canvas, axes, one, place, first, last=last, named=i == 0)
        _events(canvas, _LEGEND + len(places) * (_HEAD + _PANEL), strips, declared, first, last=last)

    day = short_day(one.change.at.astimezone(declared.timezone).date())
    title = f"{one.change.what} on {day}: use before and after"
    return both(f"change{number}", title.capitalize(), says, lambda _: height, paint)


def _window(one: Changed) -> tuple[datetime, datetime]:
    near = one.dots[one.dots["side"] != OUTSIDE]
    at = near["at"] if len(near) else one.dots["at"]
    low = min([at.min().to_pydatetime(), one.change.at]) - timedelta(hours=18)
    high = max([at.max().to_pydatetime(), one.change.settled]) + timedelta(hours=18)
    return low, high


def _strips(
    one: Changed, first: datetime, last: datetime
) -> list[tuple[str, list[tuple[datetime, datetime | None]]]]:
    """Rows of events below the dots: only those with something in them."""
    kinds = (("fed", ("fed",)), ("shed", ("shedding", "shed")), ("handled", ("handled",)), ("ill", ("ill",)))
    listed: list[tuple[str, list[tuple[datetime, datetime | None]]]] = []
    for name, whats in kinds:
        found = [(e.at, e.until) for e in one.events if e.what in whats and _overlaps(e, first, last)]
        if found:
            listed.append((name, found))
    other = [(c.at, None) for c in one.others if first <= c.at <= last]
    return listed + ([("changes", [(a, u) for a, u in other])] if other else [])


def _overlaps(event: Event, first: datetime, last: datetime) -> bool:
    return event.at <= last and (event.until or event.at) >= first


def _described(one: Changed, places: Sequence[str], labels: dict[str, str], strips: Sequence[Any]) -> str:
    told = []
    for place in places:
        part = one.dots[one.dots["place"] == place]
        counts = {side: int((part["side"] == side).sum()) for side in (BEFORE, AFTER, SETTLING)}
        said = f"{labels.get(place, place)}: {counts[BEFORE]} dots before, {counts[AFTER]} after"
        if place in one.means:
            before, after = one.means[place]
            said += f", means {100 * before:.0f} % and {100 * after:.0f} %"
        told.append(f"{said}; {counts[SETTLING]} in the settling time")
    other = ", ".join(f"{name} {len(found)}" for name, found in strips)
    return ". ".join(told) + (f". Marked below: {other}." if other else ".")


def _legend(canvas: Canvas, one: Changed) -> None:
    axes = canvas.sheet
    slots = [s for s in MARKS if (one.dots["slot"] == s).any()]
    x, step = 6.0, 11 if canvas.narrow else 18
    for slot in slots if len(slots) > 1 else []:
        axes.plot([x], [11], MARKS[slot], ms=6, mfc="none", mec=MUTED, mew=1)
        words(axes, x + 9, 15, slot, SMALL, color=MUTED)
        x += 9 + width_of(slot, SMALL) + step
    side = ("before", "after") if canvas.narrow else ("hollow: before", "filled: after")
    for says, style in (
        (side[0], {"marker": "o", "mfc": "none", "mec": INK, "mew": 1.2}), (side[1], {"marker": "o", "color": BLUE}),
        ("settling", {"marker": "x", "color": MUTED, "mew": 1.2}),
    ):  # fmt: skip
        axes.plot([x], [11], ms=6, ls="none", **style)
        words(axes, x + 9, 15, says, SMALL, color=MUTED)
        x += 9 + width_of(says, SMALL) + step


def _panel(
    canvas: Canvas, axes: Axes, one: Changed, place: str, first: datetime, *, last: datetime, named: bool
) -> None:
    part = one.dots[one.dots["place"] == place]
    inside = part[(part["at"] >= pd.Timestamp(first)) & (part["at"] <= pd.Timestamp(last))]
    shown = inside["share"] if len(inside) else part["share"]
    top = next(t for t in (0.25, 0.5, 1.0) if t >= min(float(shown.max()), 1.0) or t == 1.0)
    axes.set_xlim(day_number(first), day_number(last))
    axes.set_ylim(-0.06 * top, 1.08 * top)
    axes.set_yticks([0, top / 2, top], ["0", f"{50 * top:g} %", f"{100 * top:.0f} %"])
    axes.set_xticks([])
    axes.hlines([0.0, top / 2, top], *axes.get_xlim(), color=FAINT, lw=0.7, zorder=0)
    change = one.change
    axes.axvspan(
        day_number(change.at),
        day_number(change.settled),
        facecolor="none",
        edgecolor=SHADE,
        hatch="////",
        lw=0,
        zorder=0.5,
    )
    axes.axvline(day_number(change.at), color=INK, lw=1.4, zorder=1)
    for other in one.others:
        axes.axvline(day_number(other.at), color=MUTED, lw=1, ls=(0, (4, 3)), zorder=1)
    for side in (OUTSIDE, BEFORE, SETTLING, AFTER):
        _dots(axes, inside[inside["side"] == side], side)
    if place in one.means:
        _means(axes, one, place, first, last)
    if named:
        _name_change(axes, canvas, one, first, last)


def _dots(axes: Axes, part: pd.DataFrame, side: str) -> None:
    for slot, dots in part.groupby("slot"):
        mark = MARKS.get(str(slot), "o")
        if side in (SETTLING, OUTSIDE):
            style: dict[str, Any] = {"marker": "x", "color": MUTED, "ms": 5, "mew": 1.1}
            if side == OUTSIDE:
                style = {"marker": mark, "mfc": "none", "mec": MUTED, "mew": 0.8, "ms": 4}
        elif side == BEFORE:
            style = {"marker": mark, "mfc": "none", "mec": INK, "mew": 1.2, "ms": 6}
        else:
            style = {"marker": mark, "color": BLUE, "ms": 6}
        axes.plot(days_of(dots), dots["share"].to_numpy(float), ls="none", zorder=3, **style)


def _means(axes: Axes, one: Changed, place: str, first: datetime, last: datetime) -> None:
    """The mean of each side as a line over its time."""
    part = one.dots[one.dots["place"] == place]
    for side, value, colour in zip((BEFORE, AFTER), one.means[place], (INK, BLUE), strict=True):
        at = part[part["side"] == side]["at"]
        if len(at):
            # A side of one day still has a line that can be seen.
            reach = 0.008 * (last - first)
            low, high = at.min().to_pydatetime() - reach, at.max().to_pydatetime() + reach
            axes.plot([day_number(low), day_number(high)], [value, value], color=colour, lw=2, zorder=2)


def _name_change(axes: Axes, canvas: Canvas, one: Changed, first: datetime, last: datetime) -> None:
    part = (one.change.at - first) / (last - first)
    says = one.change.what
    right = part * (canvas.width - _LEFT) + width_of(says, SMALL) + 8 < canvas.width - _LEFT
    low, high = axes.get_ylim()
    x = day_number(one.change.at)
    words(
        axes, x, high + 0.03 * (high - low), says if right else f"{says} ", SMALL,
        ha="left" if right else "right", va="bottom",
    )  # fmt: skip


def _events(
    canvas: Canvas, top: float, strips: Sequence[tuple[str, list[tuple[datetime, datetime | None]]]],
    declared: Declaration, first: datetime, *, last: datetime,
) -> None:  # fmt: skip
    wide = canvas.width - _LEFT - 4
    axes = canvas.axes(_LEFT, top + 6, wide, max(len(strips) * _STRIP, 1))
    axes.set_xlim(day_number(first), day_number(last))
    axes.set_ylim(max(len(strips), 1), 0)
    axes.set_yticks([])
    most = 4 if canvas.narrow else 9
    label_times(axes, parts_of(first, last, most, declared.timezone))
    for i, (name, found) in enumerate(strips):
        words(
            canvas.sheet,
            _LEFT - 6,
            top + 6 + i * _STRIP + 13,
            fitting(name, _LEFT - 6, 10.5),
            10.5,
            color=MUTED,
            ha="right",
        )
        for at, until in found:
            if until is not None and until > at:
                ends = [day_number(max(at, first)), day_number(min(until, last))]
                axes.plot(ends, [i + 0.5] * 2, color=INK, lw=4, solid_capstyle="butt")
            else:
                mark = "D" if name == "changes" else "|"
                axes.plot([day_number(at)], [i + 0.5], mark, ms=5 if mark == "D" else 9, color=INK, mew=1.4)
