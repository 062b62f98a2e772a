"""Two names or more held against each other: treatments, or phases that need not be neighbours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....tables.availability import places_of
from ....tables.phases import Adjustment
from ... import reasons
from ...finding import TOO_EARLY, Caution, Finding, Note
from ...phrases import counted, listed, plural
from ...question import Question
from ..come_and_gone import GONE, NEW, unmoved
from ..phases import Sides
from .asked import TwoSides
from .design import BLOCKS, PAIRS, Design, design_of
from .held import held, order_of
from .judge import Comparison, finding, judged, order_matters, row_of
from .measures import ZONE
from .named import ARROW, ENCLOSURE, TREATMENT, named
from .rehoused import homes_held
from .repeated import allowing_for_repeats
from .words import units_said


@dataclass(slots=True)
class ComparedSides:
    """What came of it: rows of the table and of the parts, findings, cautions, notes, and how it was done."""

    rows: list[dict[str, Any]] = field(default_factory=list)
    by_unit: list[dict[str, Any]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def add(self, other: ComparedSides) -> None:
        """What another one found, behind this one's."""
        for name in self.__slots__:
            getattr(self, name).extend(getattr(other, name))


def between(
    question: Question, rows: pd.DataFrame, names: Sequence[str], changes: Sequence[Adjustment], *,
    held_within: float, draws: int,
) -> ComparedSides:  # fmt: skip
    """Two names, or each against the first. Raises ProblemError for a name that is none, and for an overlap."""
    told = named(question.declared, rows, names)
    asked = homes_held(question, changes, rows, told.names) if told.kind == ENCLOSURE else []
    if asked:
        return compared(question, asked, held_within=held_within, draws=draws)
    for k in range(1, len(told.names)):
        keep = np.isin(told.side, (0, k))
        pair = told.names[0], told.names[k]
        asked.append(
            TwoSides(
                rows[keep].reset_index(drop=True), told.side[keep] == k, pair,
                (told.labels[pair[0]], told.labels[pair[1]]), (ARROW.join(pair),), dated=told.kind != TREATMENT,
            )
        )  # fmt: skip
    return compared(question, asked, held_within=held_within, draws=draws)


def compared(
    question: Question, asked: Sequence[TwoSides], *, held_within: float, draws: int
) -> ComparedSides:
    """All comparisons, judged as one family."""
    found, made = ComparedSides(), []
    for one in asked:
        comparison = _comparison(question, one, found, held_within=held_within, draws=draws)
        if comparison is not None:
            made.append((one, comparison))
    number = sum(len(c.held) for _, c in made)
    for (one, c), rows in zip(made, judged([c for _, c in made]), strict=True):
        sessions = tuple(int(one.rows["session"][side].nunique()) for side in (~one.late, one.late))
        for j in rows:
            found.rows.append(row_of(c, j, one.adjustment, (sessions[0], sessions[1])))
            found.by_unit += _units(one, c.design, j.held)
        told = [finding(c, j, number) for j in rows]
        found.findings += _spoken(told)
        found.said.append(units_said(c.design))
    return found


def _spoken(told: Sequence[Finding]) -> list[Finding]:
    """What is said: what was expected or claimed, else the zones, else the clearest."""
    first = [f for f in told if f.facts["expected"] is not None or f.verdict != TOO_EARLY]
    zones = [f for f in told if f.facts["what"] == ZONE]
    return first or zones[:3] or list(told[:3])


def _comparison(
    question: Question, one: TwoSides, found: ComparedSides, *, held_within: float, draws: int
) -> Comparison | None:
    rows, late, declared = one.rows, one.late, question.declared
    found.cautions += one.cautions
    empty = [name for name, side in zip(one.labels, (~late, late), strict=True) if not side.any()]
    if empty:
        found.findings.append(_nothing(question, one, empty))
        return None
    design = design_of(rows, late, question.cluster, max(len(places_of(declared)), 1))
    if one.homes and design.unit == "enclosure" and rows.groupby("enclosure")["animal"].nunique().max() == 1:
        # A move of one animal is that animal, held against itself.
        design = replace(design, unit="animal")
    gone = unmoved(declared, _two_sides(_at_home(rows), late))
    every = held(question, rows, late, design, draws=draws)
    if design.kind == BLOCKS:
        every = allowing_for_repeats(rows, late, design, every)
    kept = [h for h in every if h.what != ZONE or h.name not in gone.places]
    found.notes += [Note(s, one.about) for s in _came(one, gone.why, question.labels)]
    if not kept:
        found.findings.append(_nothing(question, one, [], design))
        return None
    order = order_of(rows, late, design) if design.kind == PAIRS else None
    comparison = Comparison(
        one.about, one.names, one.labels, design, kept, one.expected, held_within, one.others, order,
        facts={"change": None},
    )  # fmt: skip
    found.cautions += _cautions(one, comparison)
    return comparison


def _at_home(rows: pd.DataFrame) -> pd.DataFrame:
    """The moments with the enclosure of their session's place, which a comparison of homes names by the move."""
    return rows.drop(columns="enclosure").rename(columns={"home": "enclosure"}) if "home" in rows else rows


def _two_sides(rows: pd.DataFrame, late: NDArray[np.bool_]) -> Sides:
    return Sides(rows, late.astype(np.int64), np.array([False, True]), np.zeros(2, np.int64), np.zeros(2), ())


def _came(one: TwoSides, why: Mapping[str, str], labels: Mapping[str, str]) -> list[str]:
    """Places that were not there on one side: the question there is whether they are used at all."""
    said = []
    for place, reason in why.items():
        if reason not in (NEW, GONE):
            continue
        side, other = (one.late, one.labels[0]) if reason == NEW else (~one.late, one.labels[1])
        seen = one.rows[side & one.rows["place"].notna().to_numpy()]
        used = float(seen["weight"][seen["place"] == place].sum() / max(seen["weight"].sum(), 1e-12))
        where = one.labels[1] if reason == NEW else one.labels[0]
        said.append(
            f"{labels.get(place, place)} was not there with {other}; with {where}, {100 * used:.0f} % of the time "
            "was spent in it."
        )
    return said


def _nothing(
    question: Question, one: TwoSides, empty: Sequence[str], design: Design | None = None
) -> Finding:
    reason = reasons.ONE_SIDE_SHORT
    return Finding(
        one.about, TOO_EARLY, reason=reason, unit=design.unit if design else question.unit,
        facts={"between": one.names, "named": one.labels, "empty": tuple(empty)},
    )  # fmt: skip


def _units(one: TwoSides, design: Design, h: Any) -> list[dict[str, Any]]:
    told = []
    for name, before, after in zip(design.names, h.first, h.second, strict=True):
        if np.isnan(before) and np.isnan(after):
            continue
        told.append(
            {"adjustment": one.adjustment, "compared": ARROW.join(one.names), "what": h.what,
             "name": None if h.what == ZONE else h.name, "zone": h.name if h.what == ZONE else None, "unit": name,
             "before": before, "after": after, "change": after - before}
        )  # fmt: skip
    return told


def _cautions(one: TwoSides, c: Comparison) -> list[Caution]:
    told, design = [], c.design
    name = f"{one.labels[1]} against {one.labels[0]}"
    if design.left_out:
        shown = listed(design.left_out[:6]) + (" …" if len(design.left_out) > 6 else "")
        side = "on both sides" if design.kind not in (PAIRS, BLOCKS) else "on one side only"
        told.append(Caution("left-out", f"{name}: stands {side}, and left out: {shown}."))
    if c.first_first is not None and len(c.first_first):
        first = int(c.first_first.sum())
        n = len(c.first_first)
        many = plural(design.unit)
        asked = any(order_matters(c, h) is not None for h in c.held)
        if first in (0, n):
            which = one.labels[0] if first else one.labels[1]
            told.append(
                Caution(
                    "order",
                    f"{name}: all {n} {many} had {which} first, so the change and the order (time, habit, season) "
                    "cannot be told apart.",
                )
            )
        elif not asked:
            told.append(
                Caution(
                    "order",
                    f"{name}: {first} of {n} {many} had {one.labels[0]} first; too few of one order to ask whether it "
                    "mattered.",
                )
            )
        elif first * 2 != n:
            told.append(
                Caution(
                    "order",
                    f"{name}: {counted(first, design.unit)} of {n} had {one.labels[0]} first: a drift in time is not "
                    "quite balanced.",
                )
            )
    elif design.kind == BLOCKS and one.dated and not one.homes:
        told.append(
            Caution(
                "order",
                f"{name}: one stretch of time after the other in the same place; what drifted meanwhile cannot be told "
                "apart from it.",
            )
        )
    return told
