"""An answer in a terminal: the sentence first, then the table, then the cautions; no colour needed."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Protocol

import pandas as pd
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from ...pictures import Figure
from ...study import visible
from ..columns import Column
from ..finding import Caution, Finding, Note, below, trust_said
from .plain import rows
from .said import points

_NARROW = 60
_UNIT = re.compile(r"(\d) (?=[%°])")


class Printed(Protocol):
    """What of an answer is printed."""

    @property
    def headline(self) -> str: ...
    @property
    def basis(self) -> str: ...
    @property
    def findings(self) -> Sequence[Finding]: ...
    @property
    def notes(self) -> Sequence[Note]: ...
    @property
    def cautions(self) -> Sequence[Caution]: ...
    @property
    def table(self) -> pd.DataFrame: ...
    @property
    def shown(self) -> Sequence[Column]: ...
    @property
    def first_rows(self) -> tuple[int, ...] | None: ...
    @property
    def labels(self) -> Mapping[str, str]: ...
    @property
    def seed(self) -> int | None: ...
    def figure(self) -> Figure: ...


# What a row of shifts holds in units of its own.
_NO_SHARE = ("condition", "event", "moves")


def renderables(answer: Printed, width: int) -> Iterator[RenderableType]:
    """The pieces of an answer in reading order, for a console ``width`` cells wide."""
    if answer.headline:
        yield wrapped(answer.headline, width)
        yield Text()
    if answer.basis:
        yield wrapped(answer.basis, width)
        yield Text()
    for finding in below(answer.findings, len(answer.table)):
        trust = f" ({trust_said(finding.standing)})" if finding.standing else ""
        yield wrapped(f"{finding.says}{trust}", width, "· ", "  ")
    for note in answer.notes:
        yield wrapped(note.says, width, "· ", "  ")
    picked = answer.table if answer.first_rows is None else answer.table.iloc[list(answer.first_rows)]
    if len(picked) and answer.shown:
        yield Text()
        yield _table(answer, rows(picked), width)
    if len(picked) < len(answer.table):
        yield Text()
        more = len(answer.table) - len(picked)
        yield wrapped(f"Rows not shown here: {more:,}; --all shows them.", width)
    if answer.cautions:
        yield Text()
        yield Text("Careful:")
    for caution in answer.cautions:
        yield wrapped(caution.says, width, "- ", "  ")
    if answer.seed is not None:
        yield Text()
        yield Text(f"Random draws: seed {answer.seed}.", style="dim")


def wrapped(text: str, width: int, first: str = "", rest: str = "") -> Text:
    """Words broken into lines of a width."""
    # A value and its unit stay on one line.
    kept = _UNIT.sub("\\1\u00a0", visible(text))
    return Text(
        textwrap.fill(
            kept,
            max(width, 20),
            initial_indent=first,
            subsequent_indent=rest,
            break_on_hyphens=False,
        ).replace("\u00a0", " ")
    )


def _table(answer: Printed, picked: list[dict[str, Any]], width: int) -> Table:
    wide = width > _NARROW
    table = Table(box=None, pad_edge=False, padding=(0, 2 if wide else 1, 0, 0))
    columns = [column for column in answer.shown if wide or column.narrow]
    for column in columns:
        left = column.shown in ("text", "first")
        table.add_column(
            Text(column.heading), justify="left" if left else "right", no_wrap=not left, overflow="fold"
        )
    for row in picked:
        table.add_row(*(Text(cell(column, row, answer)) for column in columns))
    return table


def cell(column: Column, row: dict[str, Any], answer: Printed) -> str:
    """One value as it is read: shares as per cent, ranges in words, missing as a dash."""
    if column.shown.endswith("-range"):
        low, high = row[f"{column.name}_low"], row[f"{column.name}_high"]
        kind = column.shown.removesuffix("-range")
        kind = "number" if row.get("what") in _NO_SHARE else kind
        return "–" if _missing(low) else f"{_number(low, kind).removesuffix(' %')} to {_number(high, kind)}"
    if column.shown == "limits":
        kind = "number" if _missing(row.get("share")) else "share"
        return f"{_number(row['low'], kind).removesuffix(' %')} to {_number(row['high'], kind)}"
    if column.shown == "first":
        named = [row[name] for name in column.name.split(" or ") if not _missing(row[name])]
        return " ".join(visible(answer.labels.get(str(n), str(n))) for n in named) or "–"
    value = row[column.name]
    if row.get("what") in _NO_SHARE and column.shown in ("share", "points"):
        return _number(value, "number")
    if column.shown == "text":
        return visible(answer.labels.get(str(value), str(value))) if not _missing(value) else "–"
    return _number(value, column.shown)


def _missing(value: Any) -> bool:
    return value is None or (isinstance(value, float) and not math.isfinite(value))


def _number(value: Any, kind: str) -> str:
    if _missing(value):
        return "–"
    if kind == "share":
        return f"{100 * value:.0f} %"
    if kind == "ratio":
        return f"{value:.2f}" if value < 10 else f"{value:.0f}"
    if kind == "points":
        return points(value)
    if kind == "chance":
        return f"{value:.3f}" if value >= 0.001 else "<.001"
    if kind == "count":
        return f"{value:,.0f}"
    return f"{value:.1f}".replace("-", "−")
