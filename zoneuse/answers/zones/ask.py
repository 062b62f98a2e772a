"""Which places are avoided, which are sought, how sure is that, and what would settle it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

import pandas as pd

from ...journal.reader import Journals
from ...stats.intervals.effort import Settling, units_to_settle
from ...stats.intervals.zone_use import ZoneUse
from ...study.model import Declaration
from ..answer import Answer
from ..columns import Column
from ..effort import CLUSTERS, Effort, effort, usual_cluster
from ..filters import Filters, select
from ..finding import TOO_EARLY, Caution, Finding
from ..plain import rows as rows_of
from ..question import labels_of
from .tables import (
    COLUMNS,
    clustered,
    cut_by,
    independent,
    indices_of,
    settling_of,
    tests_of,
    what_is_done_where,
)
from .words import cautions, finding, headline

CUTS = ("by_animal", "by_slot")
AVAILABILITY = ("measured", "equal")
SHOWN = (
    Column("zone", "Zone"),
    Column("available", "Offered", "share", narrow=False),
    Column("used", "Used", "share"),
    Column("used", "95 %", "share-range", narrow=False),
    Column("ratio", "Ratio", "ratio"),
    Column("ratio", "95 %", "ratio-range"),
    Column("moments", "Moments", "count", narrow=False),
    Column("sessions", "Sessions", "count", narrow=False),
)


class Ask(Protocol):
    """The answer's table for a part of the moments, zones counted by amount or alike."""

    def __call__(self, part: pd.DataFrame, alike: bool = ...) -> tuple[pd.DataFrame, ZoneUse | None]: ...


def zones(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    cluster: str | None = None,
    availability: str = "measured",
    even_within: tuple[float, float] = (0.67, 1.5),
    finer: bool = True,
    cuts: bool = True,
    draws: int = 1999,
    seed: int = 1,
) -> Answer:
    """Use of each zone against what is offered, by independent units (sessions or days).

    Without ``cuts`` those by animal and slot are left out; without ``finer`` also what would turn a verdict.

    ``cluster`` "moment" treats every record as independent, as the published method of Neu, Byers & Peek
    (1974) does; the answer then says so. ``in proportion``: the 90 % interval of the ratio lies inside
    ``even_within``. Raises ValueError for an unknown cluster or availability.
    """
    rows = select(moments, filters)
    unit = cluster or usual_cluster(rows)
    if unit not in CLUSTERS or availability not in AVAILABILITY:
        raise ValueError(f"cluster is one of {CLUSTERS}, availability one of {AVAILABILITY}")
    did = effort(rows, journals, unit)
    if not len(rows) or rows["zone"].isna().all():
        return _nothing(declared, did)
    equal = availability == "equal"

    def ask(part: pd.DataFrame, alike: bool = equal) -> tuple[pd.DataFrame, ZoneUse | None]:
        if unit == "moment":
            return independent(declared, part, alike)
        return clustered(declared, part, alike, unit, draws, seed, even_within)

    table, use = ask(rows)
    settling = units_to_settle(use, even_within=even_within, seed=seed) if use is not None else None
    table = _with_settling(table, use, settling)
    labels = labels_of(declared)
    return Answer(
        answer="zones",
        study=declared.title,
        table=table[COLUMNS],
        findings=tuple(finding({**row, "unit": unit}, did, use, labels) for row in rows_of(table)),
        cautions=cautions(declared, rows, did, availability)
        + (_what_if(rows, table, ask, equal, labels) if finer else ()),
        effort=did.to_dict(),
        parts={
            **(
                {name: cut_by(rows, name.removeprefix("by_"), ask) for name in CUTS} if finer and cuts else {}
            ),
            "indices": indices_of(declared, table, rows, unit, equal),
            "tests": tests_of(table, use),
            "settling": settling_of(table, settling),
            "activity_by_zone": what_is_done_where(rows),
        },
        seed=seed,
        shown=SHOWN,
        labels=labels,
        headline=headline(did, use),
    )


def _nothing(declared: Declaration, did: Effort) -> Answer:
    says = "Nothing was seen in what was asked for, so nothing can be said yet."
    empty = pd.DataFrame(columns=COLUMNS)
    return Answer(
        "zones", declared.title, empty, (Finding((), TOO_EARLY, "", says=says),), effort=did.to_dict()
    )


def _with_settling(table: pd.DataFrame, use: ZoneUse | None, settling: Settling | None) -> pd.DataFrame:
    """Each place's forecast beside it; places never on offer are not in the table."""
    if use is None or settling is None:
        return table
    there = use.available > 0
    return table.assign(more=settling.more[there], chance=settling.chance[there], most=settling.most)


def _what_if(
    rows: pd.DataFrame, table: pd.DataFrame, ask: Ask, equal: bool, labels: Mapping[str, str]
) -> tuple[Caution, ...]:
    """Verdicts that would be others if what is offered were counted otherwise, or without the guesses."""
    found = []
    other = ask(rows, not equal)[0]
    kind = "by their amounts" if equal else "all alike"
    if turned := _turned(table, other, labels):
        found.append(Caution("availability-decides", f"With zones counted {kind}, {turned}."))
    sure = rows[rows["sure"] | rows["zone"].isna()].reset_index(drop=True)
    if len(sure) < len(rows) and sure["zone"].notna().any():
        turned = _turned(table, ask(sure, equal)[0], labels)
        says = f"Without the guesses {turned}." if turned else "Without the guesses no verdict would change."
        found.append(Caution("without-guesses", says))
    return tuple(found)


def _turned(table: pd.DataFrame, other: pd.DataFrame, labels: Mapping[str, str]) -> str:
    """The places whose verdict differs, in words: ``Moss end would be favoured``."""
    both = table.merge(other[["zone", "verdict"]], on="zone", suffixes=("", "_other"))
    differ = both[both["verdict"] != both["verdict_other"]]
    words = [f"{labels[r['zone']]} would be {r['verdict_other']}" for r in rows_of(differ)]
    return ", ".join(words)
