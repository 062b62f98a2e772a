"""Can two people agree: observers who watched the same animals at once, or one who recorded a session again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from ...tables import AD_LIBITUM
from ..answer import Answer
from ..columns import names, typed
from ..filters import select
from ..finding import Note, in_words, notes
from ..question import Question
from .columns import CONFUSED, PARTS, ROWS, SHOWN
from .judge import JudgedPair, KappaAims, findings, judge, nobody_together
from .matched import (
    AUTO,
    BY_SCAN,
    BY_TIME,
    MOST_OFFSET_S,
    NOT_FOUND,
    Matched,
    match,
    sessions_together,
)
from .several import several
from .words import cautions, clocks_said, headline, matching_said, sentence, several_said

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType

MATCHING = (AUTO, BY_SCAN, BY_TIME)
SHOWN_CONFUSIONS = 8


@dataclass(frozen=True)
class ObserversAnswer(Answer):
    """An answer that also shows, in a terminal, what was confused, the costliest first."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        from rich.text import Text

        from ..showing.brief import brief
        from ..showing.terminal import renderables

        if not self.full:
            yield from brief(self, options.max_width)
            return
        yield from renderables(replace(self, cautions=()), options.max_width)
        confused = self.parts.get("confusion")
        if confused is not None and len(confused):
            first = confused.head(SHOWN_CONFUSIONS)
            left = f" ({len(first)} of {len(confused)})" if len(first) < len(confused) else ""
            yield Text()
            yield Text(f"Confused, the costliest first{left}:")
            table = replace(
                self, table=first, shown=CONFUSED, headline="", basis="", findings=(), notes=(), cautions=()
            )
            yield from (r for r in renderables(table, options.max_width) if not isinstance(r, Text))
        yield from renderables(
            replace(self, headline="", basis="", findings=(), notes=(), shown=()), options.max_width
        )


def observers(
    question: Question,
    *,
    within_s: float | None = None,
    by: str = AUTO,
    use_offset: bool = False,
    bars: KappaAims | None = None,
) -> Answer:
    """Agreement on zone and behaviour over the moments that two observers recorded of the same animals.

    Records meet by scan number or by time, at most ``within_s`` apart (half the time between scans unless
    given); ``by`` forces one of the two. ``use_offset`` takes the difference between the two clocks, as estimated,
    off before matching. ``agree``: the lower 90 % limit of kappa reaches what is enough and kappa is not told from
    the aim; ``sharpen``: its upper limit lies below the aim. Raises ValueError for an unknown ``by``.
    """
    _check(by, within_s)
    declared, journals, filters = question.declared, question.journals, question.filters
    everybody = _rows(question)
    # Animals not told apart are counted, not named: there is nothing to compare name by name.
    rows = everybody[everybody["animal"].notna()].reset_index(drop=True)
    parts = {str(name): part for name, part in rows.groupby("session", sort=True)}
    slack = MOST_OFFSET_S if use_offset else within_s
    together, live = sessions_together(journals, parts, slack)
    matched = [
        match(journals, parts, sessions, by=by, within_s=within_s, use_offset=use_offset)
        for sessions in together.values()
    ]
    judged = [
        one for pair in matched for one in judge(declared, pair, filters.behaviours, bars or KappaAims())
    ]
    labels = {**question.labels, NOT_FOUND: NOT_FOUND}
    used = pd.Index([]).append([pd.Index(pd.concat([m.rows["i"], m.rows["j"]])) for m in matched])
    did = question.by("session").effort_of(rows.loc[used.unique()])
    groups = several(declared, matched)
    found = [f for one in judged for f in findings(one)] or [nobody_together(question, everybody)]
    tables = _parts(matched, judged, groups)
    return ObserversAnswer(
        answer="observers",
        study=declared.title,
        filters=filters,
        table=typed(pd.DataFrame([_row(one) for one in judged], columns=names(ROWS)), ROWS),
        findings=in_words(found, lambda f: sentence(f, declared, labels)),
        cautions=cautions(question.moments, matched, judged, live),
        effort={**did.to_dict(), "matched": sum(len(m.rows) for m in matched)},
        parts={name: typed(part, PARTS[name], labels) for name, part in tables.items()},
        shown=SHOWN,
        labels=labels,
        headline=headline(matched),
        notes=_notes(matched, groups),
    )


def _check(by: str, within_s: float | None) -> None:
    if by not in MATCHING:
        raise ValueError(f"by is one of {MATCHING}")
    if within_s is not None and within_s < 0:
        raise ValueError("within is zero seconds or more")


def _notes(matched: Sequence[Matched], groups: Sequence[dict[str, Any]]) -> tuple[Note, ...]:
    return notes(
        *(matching_said(m) for m in matched if len(m.rows)),
        *(clocks_said(m) for m in matched if not m.again),
        *(several_said(g) for g in groups),
    )


def _rows(question: Question) -> pd.DataFrame:
    """The moments of animals and groups, second observers' among them; ad libitum sightings have no moment."""
    out = question.moments["out"]
    every = question.moments.assign(out=out.where(out == AD_LIBITUM, ""))
    return select(every, replace(question.filters, behaviours=()))


def _row(one: JudgedPair) -> tuple[Any, ...]:
    a = one.found
    low, high = (None, None) if one.rare else (a.kappa_low, a.kappa_high)
    return (one.matched.pair, one.what, a.n, a.agreement, a.kappa, low, high, a.ac1)


def _parts(
    matched: Sequence[Matched], judged: Sequence[JudgedPair], groups: Sequence[dict[str, Any]]
) -> dict[str, pd.DataFrame]:
    confusion = _frame("confusion", [row for one in judged for row in one.confusions])
    clocks = [
        {
            "pair": m.pair, "second_ahead_s": m.clocks.seconds, "low": m.clocks.low, "high": m.clocks.high,
            "changes_matched": m.clocks.matched, "changes_possible": m.clocks.possible, "applied": m.applied,
        }
        for m in matched
        if not m.again
    ]  # fmt: skip
    return {
        "confusion": confusion.sort_values(
            ["kappa_lost", "moments"], ascending=False, kind="stable", ignore_index=True
        ),
        "counts": _frame("counts", [row for one in judged for row in one.counts]),
        "categories": _frame("categories", [row for one in judged for row in one.categories]),
        "clocks": _frame("clocks", clocks),
        "several": _frame("several", groups),
        "differing": _differing(matched),
    }


def _frame(part: str, rows: Sequence[dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=[f.name for f in PARTS[part] if not f.label_of])


def _differing(matched: Sequence[Matched]) -> pd.DataFrame:
    """Each moment on which they differ, to go back to the film or the notes."""
    columns = ["pair", "at", "animal", "session", "session_other", "zone", "zone_other", "behaviour",
               "behaviour_other"]  # fmt: skip
    found = []
    for one in matched:
        rows = one.rows
        both = rows["behaviour"].notna() & rows["behaviour_other"].notna()
        differ = (rows["zone"] != rows["zone_other"]) | (
            both & (rows["behaviour"] != rows["behaviour_other"])
        )
        found.append(rows[differ].assign(pair=one.pair)[columns])
    return pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=columns)
