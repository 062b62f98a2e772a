"""One drying zone: its readings day by day, each water put in, the keeper's limit, the forecast, and use below."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ...answers.climate.cycles import FOUND
from ...answers.climate.drying_days import DryingDays
from ...study.model import Declaration
from ..dates import clock_said, day_number, days_of, parts_of
from .canvas import (
    BLUE,
    FAINT,
    INK,
    MUTED,
    RUST,
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
from .change import MARKS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# With more sessions than this their marks would run together.
_MANY = 120
# With more than so many, what was felt is told by its first letter.
_MANY_FELT = 8
_HEAD, _PANEL, _GAP, _USE, _FOOT, _LEFT = 44, 132, 26, 58, 26, 44


Felt = Sequence[tuple[datetime, str]]
"""When a finger felt it, and how: dry, damp, wet, soaked."""


def drying_drawn(
    declared: Declaration, number: int, one: DryingDays, label: str, says: str, *, felt: Felt = ()
) -> str:
    """The zone's panel, and use of it beneath on the same days. ``says`` is what the answer says of it.

    What was ``felt`` by hand stands at the foot of the panel, beneath the logger's line.
    """
    felt = [(at, word) for at, word in felt if one.first <= at <= one.last]
    has_use = len(one.use) > 0
    height = _HEAD + _PANEL + (_GAP + _USE if has_use else 0) + _FOOT
    description = f"{says} {_described(declared, one)}{_felt_described(declared, felt)}"

    def paint(canvas: Canvas) -> None:
        head = canvas.sheet
        words(
            head,
            0,
            14,
            fitting(f"{label}: {one.quantity_said}", canvas.width - 4, USUAL, True),
            fontweight="bold",
        )
        _legend(head, one)
        wide = canvas.width - _LEFT - 4
        axes = canvas.axes(_LEFT, _HEAD, wide, _PANEL)
        _readings(axes, one)
        _felt(axes, felt)
        bottom = axes
        if has_use:
            axes.set_xticks([])
            bottom = canvas.axes(_LEFT, _HEAD + _PANEL + _GAP, wide, _USE)
            _use(bottom, one)
            words(head, _LEFT, _HEAD + _PANEL + _GAP - 7, "use of it, by session", SMALL, color=MUTED)
        label_times(bottom, parts_of(one.first, one.last, 4 if canvas.narrow else 9, declared.timezone))

    return both(f"drying{number}", f"{label}: drying and use", description, lambda _: height, paint)


def _felt_described(declared: Declaration, felt: Felt) -> str:
    told = ", ".join(f"{word} {clock_said(at, declared.timezone)}" for at, word in felt)
    return f" By hand it felt {told}." if told else ""


def _felt(axes: Axes, felt: Felt) -> None:
    """The word, or its first letter where many would run together, at the moment it was felt."""
    low = axes.get_ylim()[0]
    for at, word in felt:
        axes.plot([day_number(at)], [low], "|", ms=9, color=INK, mew=1.4, clip_on=False, zorder=4)
        says = word if len(felt) <= _MANY_FELT else word[0]
        words(axes, day_number(at), low + 1.5, says, 10.5, color=INK, ha="center", va="bottom")


def _described(declared: Declaration, one: DryingDays) -> str:
    waters = [
        f"{clock_said(w.at, declared.timezone)}{' (found in the readings)' if w.kind == FOUND else ''}"
        for w in one.waters
    ]
    told = (
        f"Water went in {', '.join(waters)}." if waters else "No water is on record or found in the readings."
    )
    known = one.daily[~np.isnan(one.daily["median"])]
    if len(known):
        told += (
            f" The 24-hour median ran from {known['median'].min():.0f} to {known['median'].max():.0f} % and ended at "
            f"{known['median'].iloc[-1]:.0f} %."
        )
    return told


def _legend(axes: Axes, one: DryingDays) -> None:
    y, x = 33.0, float(_LEFT)
    axes.plot([x, x + 18], [y - 4] * 2, color=BLUE, lw=2.2)
    words(axes, x + 23, y, "24-h median", SMALL, color=MUTED)
    x += 23 + width_of("24-h median", SMALL) + 14
    kinds = {w.kind == FOUND for w in one.waters}
    for found, says in ((False, "water"), (True, "found")):
        if found in kinds:
            axes.plot([x + 4], [y - 4], "v", ms=7, mfc="none" if found else INK, mec=INK, mew=1.1)
            words(axes, x + 13, y, says, SMALL, color=MUTED)
            x += 13 + width_of(says, SMALL) + 14
    if one.limit is not None:
        axes.plot([x, x + 18], [y - 4] * 2, color=RUST, lw=1.6, ls=(0, (4, 2.5)))
        words(axes, x + 23, y, "limit", SMALL, color=MUTED)


def _readings(axes: Axes, one: DryingDays) -> None:
    values = [v for v in one.daily["median"] if not np.isnan(v)]
    values += [v for column in ("low", "high") for v in one.ahead[column]] + (
        [one.limit] if one.limit is not None else []
    )
    low, high = max(np.floor(min(values) / 10) * 10, 0), min(np.ceil(max(values) / 10) * 10, 100)
    high = max(high, low + 20)
    axes.set_xlim(day_number(one.first), day_number(one.last))
    axes.set_ylim(low - 1, high + 6)
    step = 10 if high - low <= 40 else 20
    levels = np.arange(low, high + 1, step)
    axes.set_yticks(levels, [f"{v:.0f} %" for v in levels])
    axes.hlines(levels, *axes.get_xlim(), color=FAINT, lw=0.7, zorder=0)
    for piece in _pieces(one.daily):
        axes.plot(
            days_of(piece),
            piece["median"].to_numpy(float),
            color=BLUE,
            lw=2.2,
            zorder=3,
            solid_joinstyle="round",
        )
    if one.limit is not None:
        axes.axhline(one.limit, color=RUST, lw=1.6, ls=(0, (4, 2.5)), zorder=2)
    if len(one.ahead):
        at = days_of(one.ahead)
        bottom, top = (np.clip(one.ahead[c].to_numpy(float), low - 1, high + 6) for c in ("low", "high"))
        axes.fill_between(at, bottom, top, color=SHADE, lw=0, zorder=1)
        axes.plot(at, one.ahead["median"].to_numpy(float), color=BLUE, lw=1.5, ls=(0, (3, 2)), zorder=3)
        axes.axvline(at[0], color=MUTED, lw=0.9, ls=(0, (1, 2)), zorder=1)
        words(axes, at[0] + 1 / 3, high + 5, "forecast", 10.5, color=MUTED, va="top")
    for water in one.waters:
        found = water.kind == FOUND
        axes.axvline(day_number(water.at), color=INK, lw=1.1, ls=(0, (1, 2)) if found else "-", zorder=2)
        axes.plot(
            [day_number(water.at)],
            [high + 4],
            "v",
            ms=7,
            mfc="none" if found else INK,
            mec=INK,
            mew=1.1,
            zorder=4,
        )


def _pieces(daily: pd.DataFrame) -> Sequence[pd.DataFrame]:
    """Runs without a gap."""
    number = daily["median"].isna().cumsum()
    known = daily[daily["median"].notna()]
    return [part for _, part in known.groupby(number[known.index])]


def _use(axes: Axes, one: DryingDays) -> None:
    axes.set_xlim(day_number(one.first), day_number(one.last))
    top = next(t for t in (0.25, 0.5, 1.0) if t >= float(one.use["share"].max()) or t == 1.0)
    axes.set_ylim(-0.06 * top, 1.12 * top)
    axes.set_yticks([0, top], ["0", f"{100 * top:.0f} %"])
    axes.axhline(top, color=FAINT, lw=0.7, zorder=0)
    at, share = days_of(one.use), one.use["share"].to_numpy(float)
    # One line with gaps: a year has 400 sessions, and each stroke of its own would weigh as much as the rest.
    gaps = np.full(len(at), np.nan)
    strokes = np.column_stack([at, at, gaps]).ravel(), np.column_stack([0 * share, share, gaps]).ravel()
    axes.plot(*strokes, color=BLUE, lw=1.6 if len(at) <= _MANY else 0.9, zorder=2)
    for slot, part in one.use.groupby("slot") if len(at) <= _MANY else ():
        axes.plot(
            days_of(part),
            part["share"].to_numpy(float),
            MARKS.get(str(slot), "o"),
            ms=3.6,
            color=BLUE,
            zorder=3,
        )
    for water in one.waters:
        axes.axvline(
            day_number(water.at), color=INK, lw=0.9, ls=(0, (1, 2)) if water.kind == FOUND else "-", zorder=1
        )
