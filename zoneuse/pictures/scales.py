"""Scales: from a value to its part of the way along an axis, and the ticks that stand there."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

_RATIOS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
# Where a scale of shares may end.
_SHARES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)

Ticks = tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class Scale:
    """``low`` to ``high``; ``log`` where values are ratios. ``ticks`` are values with their words."""

    low: float
    high: float
    ticks: Ticks = ()
    log: bool = False

    def part(self, value: float) -> float:
        """How far along the axis a value lies: 0 at its beginning, 1 at its end, beyond them outside the scale.

        A ratio of 0 has no place on a log scale: it is -inf, and a renderer marks it at the edge.
        """
        if not self.log:
            return (value - self.low) / (self.high - self.low)
        if value <= 0:
            return -math.inf
        return (math.log(value) - math.log(self.low)) / (math.log(self.high) - math.log(self.low))

    def inside(self, value: float) -> float:
        """The same, kept between 0 and 1."""
        return min(max(self.part(value), 0.0), 1.0)


def shares(values: Iterable[float | None]) -> Scale:
    """From 0 to a round share that holds all values, in per cent.

    >>> shares([0.35, None]).ticks
    ((0.0, '0'), (0.2, '20'), (0.4, '40 %'))
    """
    most = max((v for v in values if v is not None), default=0.1)
    top = next((end for end in _SHARES if most <= end + 1e-9), 1.0)
    step = {0.1: 0.05, 0.2: 0.1, 0.3: 0.1, 0.4: 0.2, 0.5: 0.25, 0.6: 0.2, 0.8: 0.2}.get(top, 0.25)
    count = round(top / step)
    ticks = tuple((k * step, f"{100 * k * step:.0f}{' %' if k == count else ''}") for k in range(count + 1))
    return Scale(0.0, top, ticks)


def ratios(values: Iterable[float | None]) -> Scale:
    """A log scale around 1 that holds what lies between a fiftieth and fifty times, and at least half to double."""
    known = [v for v in values if v is not None and v > 0]
    low = min([0.5, *(max(v, 0.02) for v in known)])
    high = max([2.0, *(min(v, 50.0) for v in known)])
    bottom = max(r for r in _RATIOS if r <= low * 1.0001)
    top = min(r for r in _RATIOS if r >= high * 0.9999)
    # A scale ends where its values do, not at the next round number.
    low, high = max(bottom, low / 1.15), min(top, high * 1.15)
    ticks = tuple((r, f"{r:g}") for r in _RATIOS if low * 0.999 <= r <= high * 1.001)
    return Scale(low, high, ticks, log=True)


def changes(values: Iterable[float | None]) -> Scale:
    """Either way from no change, in points of a share."""
    most = max((abs(v) for v in values if v is not None), default=0.1)
    top = next((end for end in (0.1, 0.2, 0.3, 0.4, 0.5, 0.75, 1.0) if most <= end), 1.0)
    half = {0.3: 0.15, 0.75: 0.375}.get(top, top / 2)
    parts = (-top, -half, 0.0, half, top) if top in (0.1, 0.2, 0.4, 0.5, 1.0) else (-top, 0.0, top)
    return Scale(-top, top, tuple((v, f"{100 * v:+.0f}".replace("-", "−") if v else "0") for v in parts))


def numbers(values: Iterable[float | None], unit: str = "", wanted: int = 5) -> Scale:
    """A round scale around plain numbers; the unit stands at the last tick."""
    known = [v for v in values if v is not None and math.isfinite(v)] or [0.0, 1.0]
    low, high = min(known), max(known)
    if high - low < 1e-9:
        low, high = low - 0.5, high + 0.5
    step = _round_step((high - low) / max(wanted - 1, 1))
    first, last = math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    count = round((last - first) / step)
    ticks = []
    for k in range(count + 1):
        said = f"{first + k * step:.{digits}f}"
        said = said.removeprefix("-") if float(said) == 0 else said
        ticks.append((first + k * step, f"{said} {unit}".rstrip() if k == count else said))
    return Scale(first, last, tuple(ticks))


def _round_step(rough: float) -> float:
    ten = 10.0 ** math.floor(math.log10(rough))
    return next(ten * m for m in (1.0, 2.0, 2.5, 5.0, 10.0) if ten * m >= rough * 0.999)


def hours() -> Scale:
    """The 24 hours of a day."""
    return Scale(0.0, 24.0, tuple((float(h), f"{h}:00") for h in (0, 6, 12, 18, 24)))
