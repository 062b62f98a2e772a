"""What every question gets back: a table, what it means in words, what to be careful of, what it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import pandas as pd

from .. import __version__

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType

TOO_EARLY = "too early"
LOOKS_LIKE = "looks like"
FAIRLY_SURE = "fairly sure here"


@dataclass(frozen=True, slots=True)
class Finding:
    """One plain sentence with its verdict, and how far to trust it (``standing``; empty when too early)."""

    about: tuple[str, ...]
    verdict: str
    standing: str
    says: str


@dataclass(frozen=True, slots=True)
class Caution:
    """Something the reader must know before believing the numbers."""

    code: str
    says: str


@dataclass(frozen=True, slots=True)
class Column:
    """How a column of ``table`` is shown: its heading, and how its values are written.

    ``shown`` is text, share, ratio, count or number, or one of them with ``-range`` for NAME_low to
    NAME_high. ``narrow`` columns stay on a phone's 40 cells.
    """

    name: str
    heading: str
    shown: str = "text"
    narrow: bool = True


@dataclass(frozen=True)
class Answer:
    """The answer to one question about a study.

    ``table`` has one row per key with the columns DESIGN documents; ``parts`` are finer cuts by name;
    ``labels`` turn ids into what the keeper calls them; ``shown`` are the columns for a terminal; ``notes``
    are sentences beside the findings. ``first_rows`` are the rows a terminal shows where the rest would bury
    what matters; None shows all.
    """

    answer: str
    study: str
    table: pd.DataFrame
    findings: tuple[Finding, ...] = ()
    cautions: tuple[Caution, ...] = ()
    effort: Mapping[str, Any] = field(default_factory=dict)
    parts: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    seed: int | None = None
    shown: tuple[Column, ...] = ()
    labels: Mapping[str, str] = field(default_factory=dict)
    headline: str = ""
    notes: tuple[str, ...] = ()
    first_rows: tuple[int, ...] | None = None

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON: shares as fractions, missing as None, times as ISO text."""
        return {
            "answer": self.answer,
            "study": self.study,
            "zoneuse": __version__,
            "effort": plain(dict(self.effort)),
            "rows": rows(self.table),
            "parts": {name: rows(part) for name, part in self.parts.items()},
            "findings": [
                {"about": list(f.about), "verdict": f.verdict, "standing": f.standing, "says": f.says}
                for f in self.findings
            ],
            "cautions": [{"code": c.code, "says": c.says} for c in self.cautions],
            "seed": self.seed,
        }

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        from .shown import renderables

        return renderables(self, options.max_width)

    def _repr_html_(self) -> str:
        from .shown_html import html_of

        return html_of(self)


def rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    """A table as a list of plain dicts."""
    return [
        {str(name): plain(value) for name, value in zip(table.columns, values, strict=True)}
        for values in table.itertuples(index=False, name=None)
    ]


def plain(value: Any) -> Any:
    """A value as JSON knows it: no NaN, no numpy, times as ISO text."""
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [plain(v) for v in value]
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value.isoformat() if isinstance(value, date | datetime) else value


def standing(sessions: int, days: int, balanced: bool = True) -> str:
    """How far a finding can be trusted, by what it rests on; empty where it is too early to say anything.

    At least 5 sessions on 3 days for anything; 15 on 6, with nothing out of balance, for the surer grade
    (house rule: a choice, not a published threshold).
    """
    if sessions < 5 or days < 3:
        return ""
    return FAIRLY_SURE if sessions >= 15 and days >= 6 and balanced else LOOKS_LIKE
