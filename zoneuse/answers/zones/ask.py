"""Which zones are avoided, which favoured, how sure is that, and what would settle it."""

from __future__ import annotations

from typing import Protocol

import pandas as pd

from ...stats.space_use import Settling, ZoneUse, sample_size_to_settle
from .. import reasons
from ..answer import Answer
from ..columns import empty, typed
from ..effort import CLUSTERS
from ..finding import TOO_EARLY, Caution, Finding, in_words
from ..nothing import nothing
from ..question import Question
from ..records.budgets import ZONE, said, with_budgets
from ..showing.plain import rows as rows_of
from .columns import PARTS, ROWS, SHOWN
from .disagree import NOTHING, apart
from .followed import followed
from .judge import EVEN_WITHIN, call_zones, finding
from .tables import (
    clustered,
    cut_by,
    independent,
    indices_of,
    settling_of,
    tests_of,
    what_is_done_where,
)
from .words import apart_said, cautions, headline, sentence, turned_said

CUTS = ("by_animal", "by_slot")
AVAILABILITY = ("measured", "equal")


class Ask(Protocol):
    """The answer's table for a part of the moments, zones counted by amount or alike."""

    def __call__(self, part: pd.DataFrame, alike: bool = ...) -> tuple[pd.DataFrame, ZoneUse | None]: ...


def zones(
    question: Question,
    *,
    availability: str = "measured",
    even_within: tuple[float, float] = EVEN_WITHIN,
    finer: bool = True,
    cuts: bool = True,
    draws: int = 1999,
) -> Answer:
    """Use of each zone against what is offered, by independent units (sessions or days).

    Without ``cuts`` those by animal and slot are left out; without ``finer`` also what would turn a verdict.

    The unit "moment" treats every record as independent, as the published method of Neu, Byers & Peek
    (1974) does; the answer then says so. ``in proportion``: the 90 % interval of the ratio lies inside
    ``even_within``. Raises ValueError for an unknown unit or availability.
    """
    question = with_budgets(question, ZONE)
    # A budget of no time says nothing of where it was.
    rows, did = question.rows[question.rows["weight"] > 0].reset_index(drop=True), question.effort
    if question.unit not in CLUSTERS or availability not in AVAILABILITY:
        raise ValueError(f"cluster is one of {CLUSTERS}, availability one of {AVAILABILITY}")
    if not len(rows) or rows["zone"].isna().all():
        return _nothing(question)
    equal = availability == "equal"

    def ask(part: pd.DataFrame, alike: bool = equal) -> tuple[pd.DataFrame, ZoneUse | None]:
        if question.unit == "moment":
            return independent(question.declared, part, alike)
        return clustered(question, part, alike, draws=draws, even_within=even_within)

    table, use = ask(rows)
    settling = _settling(use, even_within, question.seed)
    table = _with_settling(table, use, settling)
    each, differing = apart(question, rows, equal) if finer else (NOTHING, {})
    found = tuple(
        finding(question, row, use, even_within, differing.get(row["zone"])) for row in rows_of(table)
    )
    tracked, lacking = followed(question) if finer else ({}, ())
    parts = {
        **({name: cut_by(rows, name.removeprefix("by_"), ask) for name in CUTS} if finer and cuts else {}),
        "by_enclosure": each,
        "indices": indices_of(question, table, rows, equal),
        "tests": tests_of(table, use),
        "settling": settling_of(table, settling),
        **tracked,
    }
    return Answer(
        answer="zones",
        study=question.declared.title,
        filters=question.filters,
        table=typed(table, ROWS, question.labels),
        findings=in_words(found, lambda f: sentence(f, question.labels)),
        cautions=apart_said(found, question.labels)
        + cautions(question, availability, use)
        + said(rows, question.unit)
        + (_what_if(question, table, ask, equal) if finer else ())
        + lacking,
        effort=did.to_dict(),
        parts={
            **{name: typed(part, PARTS[name], question.labels) for name, part in parts.items()},
            "activity_by_zone": what_is_done_where(rows),
        },
        seed=question.seed,
        shown=SHOWN,
        labels=question.labels,
        headline=headline(did, use),
    )


def _nothing(question: Question) -> Answer:
    facts = {"nothing": nothing(question)}
    found = (Finding((), TOO_EARLY, reason=reasons.NOTHING_SEEN, unit=question.unit, facts=facts),)
    return Answer(
        "zones", question.declared.title, empty(ROWS), in_words(found, lambda f: sentence(f, question.labels)),
        effort=question.effort.to_dict(), filters=question.filters,
    )  # fmt: skip


def _settling(use: ZoneUse | None, even_within: tuple[float, float], seed: int) -> Settling | None:
    """How many more units would probably settle each place; None where records count by themselves."""
    if use is None:
        return None
    undecided = call_zones(use, even_within).undecided
    return sample_size_to_settle(use, undecided, even_within=even_within, seed=seed)


def _with_settling(table: pd.DataFrame, use: ZoneUse | None, settling: Settling | None) -> pd.DataFrame:
    """Each place's forecast beside it; places never on offer are not in the table."""
    if use is None or settling is None:
        return table
    there = use.availability > 0
    return table.assign(more=settling.more[there], chance=settling.chance[there], most=settling.most)


def _what_if(question: Question, table: pd.DataFrame, ask: Ask, equal: bool) -> tuple[Caution, ...]:
    """Verdicts that would be others if what is offered were counted otherwise, or without the guesses."""
    found = []
    rows = question.rows
    if turned := _turned(table, ask(rows, not equal)[0]):
        kind = "counted by their amounts" if equal else "all counted alike"
        says = f"With zones {kind}, {turned_said(turned, question.labels)}."
        found.append(Caution("availability-decides", says))
    sure = rows[rows["sure"] | rows["zone"].isna()].reset_index(drop=True)
    if len(sure) < len(rows) and sure["zone"].notna().any():
        turned = _turned(table, ask(sure, equal)[0])
        told = turned_said(turned, question.labels) if turned else "no verdict would change"
        found.append(
            Caution("guesses-decide" if turned else "without-guesses", f"Without the guesses {told}.")
        )
    return tuple(found)


def _turned(table: pd.DataFrame, other: pd.DataFrame) -> dict[str, str]:
    """The places whose verdict differs, and what it would be."""
    both = table.merge(other[["zone", "verdict"]], on="zone", suffixes=("", "_other"))
    differ = both[both["verdict"] != both["verdict_other"]]
    return {str(r["zone"]): str(r["verdict_other"]) for r in rows_of(differ)}
