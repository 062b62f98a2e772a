"""Each session before and after a change as a dot: what the eye should see before it believes a number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from textual.content import Content

from ....study import visible
from ..background.crossing import Given, number, text
from .bars import dots, fit, rounded_up
from .blocks import OpenSessions, TextBlock, heading, wrapped

_SIGNS = {"before": "o", "settling": ".", "after": "x"}
_LEFT = 7


def before_and_after(given: Given, width: int, narrow: bool) -> list[TextBlock]:
    """For each change and place a finding speaks of, and each time of day, its sessions in order."""
    units = given.series.get("units", ())
    blocks: list[TextBlock] = []
    for finding in given.findings:
        if len(finding.about) < 2:
            continue
        change, place = finding.about[:2]
        mine = [
            u for u in units
            if text(u, "adjustment") == change and text(u, "place") == place and text(u, "side") in _SIGNS
        ]  # fmt: skip
        for slot in dict.fromkeys(text(u, "slot") for u in mine):
            here = [u for u in mine if text(u, "slot") == slot]
            if {"before", "after"} <= {text(u, "side") for u in here}:
                blocks += _one(given, change, place, slot, here, width=width, narrow=narrow)
    if not blocks:
        return []
    says = "o before, . settling, x after; each is one session or day, in order"
    return [*heading("Sessions before and after", width), wrapped(says, width, style="$muted"), *blocks]


def _one(
    given: Given, change: str, place: str, slot: str, units: Sequence[Mapping[str, Any]], *, width: int, narrow: bool
) -> list[TextBlock]:  # fmt: skip
    room = width - _LEFT
    each = 2 if len(units) * 2 + 4 <= room else 1
    columns, sides = _columns(_fitting(units, room // each - 2), each)
    most = rounded_up(max(number(u, "share") or 0.0 for u in units))
    height = 4 if narrow else 6
    drawn = dots(columns, height, most)
    label = visible(given.labels.get(place, place))
    counts = ", ".join(f"{n} {side}" for side, n in sides.items() if n)
    named = visible(given.labels.get(change, change))
    title = f"{named}: {label}, {slot}: {counts}"
    scale = [f"{100 * most:.0f} %", *[""] * (height - 2), "0 %"]
    rows = [f"{fit(word, _LEFT - 2, right=True)} {line}" for word, line in zip(scale, drawn, strict=True)]
    said = wrapped(title, width).lines
    return [TextBlock((*said, *map(Content, rows)), OpenSessions(f"{named}: {label}", (change, place)))]


def _fitting(units: Sequence[Mapping[str, Any]], room: int) -> list[Mapping[str, Any]]:
    """The sessions nearest to the change, where not all fit."""
    before = [u for u in units if text(u, "side") == "before"]
    rest = [u for u in units if text(u, "side") != "before"]
    half = room // 2
    kept_before = max(half, room - len(rest))
    kept_rest = room - min(len(before), kept_before)
    return [*before[-kept_before:], *rest[:kept_rest]]


def _columns(
    units: Sequence[Mapping[str, Any]], each: int
) -> tuple[list[tuple[str, float] | None], dict[str, int]]:
    """Dots with a parting line where the side changes, and how many there are on each side."""
    columns: list[tuple[str, float] | None] = []
    sides = dict.fromkeys(_SIGNS, 0)
    side = ""
    for unit in units:
        if side and text(unit, "side") != side:
            columns.append(None)
            columns += [(" ", 0.0)] * (each - 1)
        side = text(unit, "side")
        sides[side] += 1
        columns.append((_SIGNS[side], number(unit, "share") or 0.0))
        columns += [(" ", 0.0)] * (each - 1)
    return columns, sides
