"""What every question gets back: a table, what it means in words, what to be careful of, what it rests on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pandas as pd

from ..version import __version__
from .columns import SCHEMA, Column
from .filters import Filters
from .finding import Caution, Finding, Note
from .showing.plain import plain, rows

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType

    from ..pictures import Figure
    from ..study import Declaration


@dataclass(frozen=True)
class Answer:
    """The answer to one question about a study.

    ``headline`` answers the question in one sentence, ``basis`` says what it rests on.
    ``table`` has one row per key with the columns DESIGN documents; ``parts`` are finer cuts by name;
    ``labels`` turn ids into what the keeper calls them; ``shown`` are the columns for a terminal; ``notes``
    are sentences beside the findings. ``first_rows`` are the rows a terminal shows where the rest would bury
    what matters; None shows all. ``full`` prints every sentence and the whole table; ``declared`` is what the keeper
    declared, which pictures need.
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
    notes: tuple[Note, ...] = ()
    first_rows: tuple[int, ...] | None = None
    filters: Filters = field(default_factory=Filters)
    basis: str = ""
    full: bool = False
    declared: Declaration | None = field(default=None, repr=False, compare=False)

    def figure(self) -> Figure:
        """The answer as a picture. ``zoneuse.figures.drawn_as(figure, ".svg")`` makes the bytes of a file of it."""
        from .registry import answer_kind, picture_of

        return picture_of(answer_kind(self.answer)).figure(self)  # type: ignore[no-any-return]

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON: shares as fractions, missing as None, times as ISO text."""
        return {
            "schema": SCHEMA,
            "answer": self.answer,
            "study": self.study,
            "zoneuse": __version__,
            "filters": self.filters.to_dict(),
            "effort": plain(dict(self.effort)),
            "rows": rows(self.table),
            "parts": {name: rows(part) for name, part in self.parts.items()},
            "findings": [finding_dict(f) for f in self.findings],
            "cautions": [{"code": c.code, "says": c.says} for c in self.cautions],
            "seed": self.seed,
        }

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        from .showing.brief import brief
        from .showing.terminal import renderables

        return renderables(self, options.max_width) if self.full else brief(self, options.max_width)

    def _repr_html_(self) -> str:
        from .showing.notebook import html_of

        return html_of(self)


def finding_dict(finding: Finding) -> dict[str, Any]:
    """A finding as plain values."""
    ahead = finding.forecast
    return {
        "about": list(finding.about), "verdict": finding.verdict, "standing": finding.standing,
        "reason": finding.reason,
        "confounders": [
            {"code": c.code, "about": list(c.about), "what": c.what, "side": c.side, "on": plain(c.on)}
            for c in finding.confounders
        ],
        "numbers": {name: {"value": plain(n.value), "unit": n.unit} for name, n in finding.numbers.items()},
        "forecast": ahead and {"more": ahead.more, "chance": plain(ahead.chance), "most": ahead.most},
        "unit": finding.unit, "compared": finding.compared, "says": finding.says,
    }  # fmt: skip
