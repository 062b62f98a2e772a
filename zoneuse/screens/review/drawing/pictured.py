"""The rows of an answer's picture, as every face draws them; a row opens the sessions behind it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import Any

from ....pictures import EstimateRow, EstimateRows, Key, LetterLine, Scale, panel_lines
from ..background.crossing import Given, number, text
from .blocks import OpenSessions, TextBlock, plain_lines


def pictured(given: Given, width: int) -> list[TextBlock]:
    """Blocks of the answer's rows; none where it has none."""
    crossed = given.series.get("figure", ())
    if not crossed:
        return []
    panel = _panel(crossed[0], crossed[1:])
    return [
        _block(row, list(lines)) for row, lines in groupby(panel_lines(panel, width), key=lambda one: one.row)
    ]


def _block(row: EstimateRow | None, lines: list[LetterLine]) -> TextBlock:
    said = [line.says for line in lines]
    if row is None:
        return plain_lines(*said, style="$muted")
    return plain_lines(*said, opens=OpenSessions(row.name, row.about))


def _panel(first: Mapping[str, Any], rest: tuple[Mapping[str, Any], ...]) -> EstimateRows:
    low, high = number(first, "low"), number(first, "high")
    ticks = tuple((float(value), str(said)) for value, said in first.get("ticks", ()))
    scale = Scale(0.0 if low is None else low, 1.0 if high is None else high, ticks, bool(first.get("log")))
    against = text(first, "against")
    key = (Key("reference", against),) if against else ()
    return EstimateRows(scale, tuple(_rows(rest)), text(first, "heading"), number(first, "reference"), key)


def _rows(crossed: tuple[Mapping[str, Any], ...]) -> Iterator[EstimateRow]:
    for one in crossed:
        yield EstimateRow(
            text(one, "name"), number(one, "middle"), number(one, "low"), number(one, "high"), number(one, "offered"),
            number(one, "before"), text(one, "said"), text(one, "verdict"), text(one, "needs"),
            bool(one.get("claims")), text(one, "group"), tuple(map(str, one.get("about", ()))),
        )  # fmt: skip
