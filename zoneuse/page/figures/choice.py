"""Conditions used against conditions offered at the same moments: a pair of marks for each span of values."""

from __future__ import annotations

from typing import Any

import pandas as pd

from ...answers.answer import Answer
from ...answers.quantities_said import in_unit, label, unit
from ...answers.showing.plain import rows
from ...study.quantities import QUANTITIES
from .canvas import BLUE, FAINT, INK, MUTED, SMALL, USUAL, Canvas, both, width_of, words

_ROW, _HEAD, _FOOT, _LEGEND, _GUTTER = 24, 28, 26, 26, 40


def choice_drawn(prefer: Answer, quantities: list[str], fahrenheit: bool) -> str:
    """A panel for each quantity, side by side where there is room."""
    bins = prefer.parts["bins"]
    panels = [(q, _of(bins, q)) for q in quantities]
    says = " ".join(_described(q, part, fahrenheit) for q, part in panels)
    most = max(len(part) for _, part in panels)
    panel = _HEAD + most * _ROW + _FOOT

    def tall(width: int) -> int:
        return _LEGEND + (panel if width > 500 else panel * len(panels) + 14 * (len(panels) - 1))

    def paint(canvas: Canvas) -> None:
        _legend(canvas)
        wide = canvas.width if canvas.narrow else (canvas.width - _GUTTER * (len(panels) - 1)) / len(panels)
        for i, (quantity, part) in enumerate(panels):
            left = 0.0 if canvas.narrow else i * (wide + _GUTTER)
            top = _LEGEND + (i * (panel + 14) if canvas.narrow else 0)
            _panel(canvas, left, top, wide, quantity, part=part, fahrenheit=fahrenheit)

    return both("choice", "Conditions used against conditions offered", says, tall, paint)


def _of(bins: pd.DataFrame, quantity: str) -> list[dict[str, Any]]:
    return rows(bins[bins["quantity"] == quantity])


def span_said(quantity: str, row: dict[str, Any], fahrenheit: bool) -> str:
    """``11.6–12.5 °C``."""
    low, high = (in_unit(quantity, row[k], fahrenheit) for k in ("low", "high"))
    digits = 0 if QUANTITIES[quantity].brief_digits == 0 and high - low >= 1.5 else 1
    return f"{low:.{digits}f}–{high:.{digits}f} {unit(quantity, fahrenheit)}"


def _described(quantity: str, part: list[dict[str, Any]], fahrenheit: bool) -> str:
    told = "; ".join(
        f"{span_said(quantity, r, fahrenheit)}: {100 * r['used']:.0f} % of the time, "
        f"{100 * r['offered']:.0f} % of what was offered"
        for r in part
    )
    return f"{label(quantity).capitalize()}: {told}."


def _legend(canvas: Canvas) -> None:
    axes = canvas.sheet
    axes.plot([6], [11], "o", ms=7, mfc="none", mec=INK, mew=1.4)
    words(axes, 16, 15, "share of what was offered", SMALL, color=MUTED)
    x = 16 + width_of("share of what was offered", SMALL) + 22
    axes.plot([x], [11], "o", ms=8, color=BLUE)
    words(axes, x + 10, 15, "share of the time", SMALL, color=MUTED)


def _panel(
    canvas: Canvas,
    left: float,
    top: float,
    wide: float,
    quantity: str,
    *,
    part: list[dict[str, Any]],
    fahrenheit: bool,
) -> None:
    heads = [span_said(quantity, r, fahrenheit) for r in part]
    gutter = max(width_of(h, SMALL) for h in heads) + 12
    words(canvas.sheet, left, top + 16, label(quantity).capitalize(), USUAL, fontweight="bold")
    axes = canvas.axes(left + gutter, top + _HEAD, wide - gutter - 10, len(part) * _ROW)
    most = max(max(r["used"], r["offered"]) for r in part) * 100
    step = 5 if most <= 22 else 10 if most <= 45 else 20 if most <= 80 else 25
    axes.set_xlim(-step * 0.12, most * 1.06)
    axes.set_ylim(len(part), 0)
    ticks = [step * k for k in range(int(most * 1.06 // step) + 1)]
    axes.set_xticks(ticks, [f"{t} %" for t in ticks])
    axes.set_yticks([])
    for t in ticks:
        axes.axvline(t, color=FAINT, lw=0.7, zorder=0)
    # The highest values stand at the top.
    for i, row in enumerate(reversed(part)):
        y = i + 0.5
        used, offered = 100 * row["used"], 100 * row["offered"]
        axes.plot([used, offered], [y, y], color=MUTED, lw=1.4, zorder=1)
        axes.plot([offered], [y], "o", ms=7, mfc="none", mec=INK, mew=1.4, zorder=2)
        axes.plot([used], [y], "o", ms=8, color=BLUE, zorder=3)
        words(
            canvas.sheet,
            left + gutter - 12,
            top + _HEAD + y * _ROW + 4,
            heads[len(part) - 1 - i],
            SMALL,
            ha="right",
        )
