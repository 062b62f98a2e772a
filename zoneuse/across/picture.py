"""The forest of many studies: a line for each above the mean, and where the next enclosure is expected."""

from __future__ import annotations

from collections.abc import Sequence

from ..pictures import EstimateRow, EstimateRows, Figure, Key, changes, numbers, ratios
from ..study import QUANTITIES
from .pool import CHANGE, CONDITION, ZONE, Pooled
from .words import figure_said, subject

_KEY = (Key("interval", "each enclosure, and the mean over keepers, with 95 % limits"),)
_NOTHING = {ZONE: 1.0, CONDITION: 1.0, CHANGE: 0.0}


def figure(rows: Sequence[Pooled], headline: str, subtitle: str) -> Figure:
    """One panel for each thing pooled. Tokens stand for keepers and enclosures."""
    panels = tuple(panel(row) for row in rows)
    says = " ".join(
        f"{subject(r.what, r.name)}: {len(r.studies)} enclosures of {r.keepers} keepers." for r in rows
    )
    return Figure("across", headline.rstrip("."), subtitle, "zoneuse across", panels, says)


def panel(row: Pooled) -> EstimateRows:
    """The studies in order of their estimates, the mean, and the next enclosure."""
    lines = [
        EstimateRow(
            f"{s.keeper[-4:]} {s.enclosure[:4]}", s.mean, s.low, s.high, said=figure_said(row, s.mean)
        )
        for s in sorted(row.studies, key=lambda s: (s.mean, s.keeper, s.enclosure))
    ]
    if row.mean is not None:
        lines.append(
            EstimateRow("mean", row.mean, row.low, row.high, said=figure_said(row, row.mean), claims=True)
        )
    if row.next_low is not None and row.next_high is not None:
        span = f"{figure_said(row, row.next_low)} to {figure_said(row, row.next_high)}"
        lines.append(EstimateRow("next one", None, row.next_low, row.next_high, said=span))
    values = [v for line in lines for v in (line.low, line.middle, line.high) if v is not None]
    unit = QUANTITIES[row.name].symbol if row.name in QUANTITIES else ""
    scale = (
        {ZONE: ratios, CONDITION: ratios, CHANGE: changes}[row.what](values)
        if row.what in _NOTHING
        else numbers(values, unit)
    )
    return EstimateRows(scale, tuple(lines), subject(row.what, row.name), _NOTHING.get(row.what), _KEY)
