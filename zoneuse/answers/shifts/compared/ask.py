"""Two names or more held against each other: treatments, or phases that need not be neighbours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....tables import Adjustment, places_of
from ... import reasons
from ...finding import TOO_EARLY, Caution, Finding, Note
from ...phrases import counted, listed, plural
from ...question import Question
from ..come_and_gone import GONE, NEW, unmoved
from ..expected import asked_for, turned
from ..phases import Sides
from .asked import TwoSides
from .beside import beside, can_be, left_alone
from .design import BLOCKS, GROUPS, PAIRS, Design, design_of
from .held import held
from .judge import Comparison, finding, judged, order_matters, row_of
from .measures import ZONE
from .named import ARROW, ENCLOSURE, TREATMENT, named
from .order import order_of, repeats, whole_side_first
from .rehoused import homes_held
from .repeated import allowing_for_repeats
from .words import repeats_said, units_said


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
    held_within: float, draws: int, expects: Sequence[str] = (), controls: Sequence[str] = (),
) -> ComparedSides:  # fmt: skip
    """Two names, or each against the first; ``expects`` what was said of the later ones when asking.

    Raises ProblemError for a name that is none, and for an overlap.
    """
    said = asked_for(question.declared, expects)
    told = named(question.declared, rows, names)
    asked = homes_held(question, changes, rows, told.names) if told.kind == ENCLOSURE else []
    if asked:
        asked = [replace(one, expected=said) for one in asked] if said else asked
        return compared(question, asked, held_within=held_within, draws=draws)
    for k in range(1, len(told.names)):
        keep = np.isin(told.side, (0, k))
        pair = told.names[0], told.names[k]
        expected = said or _declared(question, told.kind, pair)
        asked.append(
            TwoSides(
                rows[keep].reset_index(drop=True), told.side[keep] == k, pair,
                (told.labels[pair[0]], told.labels[pair[1]]), (ARROW.join(pair),), expected=expected,
                dated=told.kind != TREATMENT, controls=tuple(controls),
            )
        )  # fmt: skip
    found = compared(question, asked, held_within=held_within, draws=draws)
    found.cautions += _since_when(bool(said), any(one.expected for one in asked))
    return found


def _declared(question: Question, kind: str, pair: tuple[str, str]) -> dict[tuple[str, str], str]:
    """What study.toml expects of the second against the first: said of the second, else of the first turned round."""
    declared = question.declared
    first, second = (
        (declared.treatments if kind == TREATMENT else declared.phases).get(name) for name in pair
    )
    own = asked_for(declared, second.expects) if second is not None else {}
    return own or (turned(asked_for(declared, first.expects)) if first is not None else {})


def _since_when(asked: bool, expected: bool) -> list[Caution]:
    """An expectation that may have come after the data is said to be one."""
    if asked:
        says = "What is expected was said when asking: it counts as predicted only if it was settled before looking."
        return [Caution("expected-when-asking", says)]
    if expected:
        says = "What is expected stands in study.toml, which does not say since when."
        return [Caution("expected-when", says)]
    return []


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


# Zones of a comparison each have a row, undecided or not, up to so many.
_FEW_ZONES = 8


def _spoken(told: Sequence[Finding]) -> list[Finding]:
    """What is said: what was expected or claimed, and the zones where they are few; else the clearest."""
    zones = [f for f in told if f.facts["what"] == ZONE]
    few = zones if len(zones) <= _FEW_ZONES else []
    first = [f for f in told if f.facts["expected"] is not None or f.verdict != TOO_EARLY or f in few]
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
    design = _design(question, one)
    gone = unmoved(declared, _two_sides(_at_home(rows), late))
    every = held(question, rows, late, design, draws=draws)
    if design.kind == BLOCKS:
        every = allowing_for_repeats(rows, late, design, every)
    if one.controls and can_be(design):
        control = left_alone(question, rows, design, one.controls)
        design, every = beside(design, every, control, draws=draws, seed=question.seed)
    kept = [h for h in every if h.what != ZONE or h.name not in gone.places]
    found.notes += [Note(s, one.about) for s in _came(one, gone.why, question.labels)]
    if not kept:
        found.findings.append(_nothing(question, one, [], design))
        return None
    order = order_of(rows, late, design) if design.kind == PAIRS else None
    comparison = Comparison(
        one.about, one.names, one.labels, design, kept, one.expected, held_within, one.others, order,
        facts={"change": None, "of_changes": bool(one.controls)},
    )  # fmt: skip
    found.cautions += _cautions(one, comparison)
    found.cautions += _in_order(question, one, design, late)
    return comparison


def _design(question: Question, one: TwoSides) -> Design:
    rows, per = one.rows, question.cluster
    if one.controls and per not in ("animal", "enclosure"):
        # Changes are of whole animals or enclosures.
        per = "enclosure" if rows["enclosure"].nunique() > 1 else "animal"
    design = design_of(rows, one.late, per, max(len(places_of(question.declared)), 1))
    if one.homes and design.unit == "enclosure" and rows.groupby("enclosure")["animal"].nunique().max() == 1:
        # A move of one animal is that animal, held against itself.
        return replace(design, unit="animal")
    return design


def _in_order(question: Question, one: TwoSides, design: Design, late: NDArray[np.bool_]) -> list[Caution]:
    """That one side was over before the other began, and what repeating a side did."""
    told = []
    name = f"{one.labels[1]} against {one.labels[0]}"
    side = whole_side_first(one.rows, late, design)
    if one.controls:
        return []
    apart = design.kind == GROUPS or (design.kind == BLOCKS and not one.dated)
    if apart and side is not None and not one.homes:
        says = (
            f"{name}: all of {one.labels[side]} came before all of {one.labels[1 - side]}, so what drifted meanwhile "
            "(season, habituation) cannot be told apart from it."
        )
        told.append(Caution("order", says))
    again = None if one.dated else repeats(question, one.rows, late, design)
    if again is not None:
        told.append(Caution("repeated", f"{name}: {repeats_said(again, design, question.labels)}"))
    return told


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
                    f"{name}: all {n} {many} had {which} first, so the change and the order "
                    "(time, habituation, season) cannot be told apart.",
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
