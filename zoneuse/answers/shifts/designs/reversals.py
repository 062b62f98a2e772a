"""Changes taken back, and perhaps made again: all phases judged together, which one step cannot replace."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....stats.arrays import Floats
from ....stats.intervals import PART_OF_LEVEL
from ....stats.resampling import Reversal, holm, reversal
from ....stats.time_series import ar_step, lag_one_within
from ....study import Declaration
from ....tables import Adjustment, places_of
from ... import reasons
from ...finding import TOO_EARLY, Confounder, Finding, Number, numbers, standing
from ...question import Question
from ..confounders import day_of
from ..judge import (
    ALPHA,
    CONFOUNDED,
    FELL,
    ROSE,
    TOO_DEPENDENT,
)
from ..moved import switch_at
from ..phases import Sides, around, shares_by_unit
from .controls import concerning, rows_of_change

# What was expected, and all else, of a change taken back.
ALPHA_EXPECTED, ALPHA_REST = 0.04, 0.01


@dataclass(frozen=True, slots=True)
class Chain:
    """A change, what took it back, what took that back …, in time; ``between`` are other changes meanwhile."""

    members: tuple[Adjustment, ...]
    between: tuple[Adjustment, ...]

    @property
    def root(self) -> Adjustment:
        return self.members[0]

    @property
    def states(self) -> list[bool]:
        """Whether the change held in each phase, the one before it included."""
        return [bool(k % 2) for k in range(len(self.members) + 1)]


def chains(declared: Declaration, changes: Sequence[Adjustment]) -> list[Chain]:
    """Every change that was taken back, followed as long as each step undoes the one before it."""
    undone = {c.undoes: c for c in changes if c.undoes}
    found = []
    for root in changes:
        if root.undoes or root.id not in undone:
            continue
        members = [root]
        while members[-1].id in undone and undone[members[-1].id].at > members[-1].at:
            members.append(undone[members[-1].id])
        own = {m.id for m in members}
        between = [
            c
            for c in concerning(declared, changes, root)
            if c.id not in own and root.at < c.at < members[-1].at
        ]
        if len(members) > 1:
            found.append(Chain(tuple(members), tuple(between)))
    return found


@dataclass(frozen=True, slots=True)
class Phased:
    """Units of all phases of a chain, in the slots watched in each of them."""

    shares: Floats
    phase: NDArray[np.int64]
    slot: NDArray[np.int64]
    days: tuple[int, ...]
    sessions: tuple[int, ...]


def phased(
    question: Question, changes: Sequence[Adjustment], chain: Chain, rows: pd.DataFrame, names: Sequence[str]
) -> Phased | None:
    """Shares of each unit of each phase; None where a phase has no unit in a slot they all have."""
    near = concerning(question.declared, changes, chain.root)
    own = rows_of_change(question.declared, rows, chain.root)
    spans = [around(near, [chain.root]).before, *(around(near, [m]).after for m in chain.members)]
    pieces = []
    for number, span in enumerate(spans):
        inside = own["zone"].notna().to_numpy()
        if span[0] is not None:
            inside = inside & np.asarray(own["at"] >= pd.Timestamp(span[0]))
        if span[1] is not None:
            inside = inside & np.asarray(own["at"] < pd.Timestamp(span[1]))
        pieces.append(own[inside].assign(number=number))
    slots = [set(p["enclosure"] + "\x1f" + p["slot"]) for p in pieces]
    kept = pd.concat(pieces)
    kept = kept[(kept["enclosure"] + "\x1f" + kept["slot"]).isin(set.intersection(*slots))]
    kept = kept.sort_values("at", kind="stable", ignore_index=True)
    if not len(kept):
        return None
    slot = kept["enclosure"] + "\x1f" + kept["slot"]
    key = slot + "\x1f" + kept[question.unit].astype(str) + "\x1f" + kept["number"].astype(str)
    unit = np.asarray(pd.factorize(key)[0], np.int64)
    first = np.unique(unit, return_index=True)[1]
    code = np.asarray(pd.factorize(slot)[0], np.int64)[first]
    at = np.asarray(kept["at"].astype("int64"), np.float64)[first]
    cut = Sides(kept, unit, np.zeros(first.size, bool), code, at, ())
    counts = kept.groupby("number")
    return Phased(
        shares_by_unit(cut, "place", names), kept["number"].to_numpy(np.int64)[first], code,
        tuple(counts["day"].nunique()), tuple(counts["session"].nunique()),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reversed:
    """What all phases of a chain say together: rows for ``parts`` and findings."""

    rows: list[dict[str, Any]]
    findings: list[Finding]


def reversals(
    question: Question, changes: Sequence[Adjustment], rows: pd.DataFrame, *, draws: int = 9_999
) -> Reversed:
    """Every chain of undone changes, by place: with the change against without it, over all its steps.

    The expected place at .04 and the rest at .01 (Holm), or all at .05; where neighbours
    repeat each other a step that allows for it must agree.
    """
    table: list[dict[str, Any]] = []
    findings: list[Finding] = []
    names = places_of(question.declared)
    for chain in chains(question.declared, changes):
        found = phased(question, changes, chain, rows, names)
        if found is None or found.phase.size <= len(chain.states) + 1:
            findings.append(
                Finding((chain.root.id,), TOO_EARLY, reason=reasons.ONE_SIDE_SHORT, unit=question.unit,
                        facts={"chain": [m.id for m in chain.members]})
            )  # fmt: skip
            continue
        told = _judge(question, chain, found, names, draws)
        table += told.rows
        findings += told.findings
    return Reversed(table, findings)


def _judge(question: Question, chain: Chain, found: Phased, names: Sequence[str], draws: int) -> Reversed:
    declared = question.declared
    result = reversal(found.shares, found.phase, chain.states, found.slot, draws=draws, seed=question.seed)
    used = [i for i in range(len(names)) if found.shares[:, i].any()]
    alike = [_dependence(found, i) for i in range(len(names))]
    p = np.array([_p(found, chain, result, i, alike[i]) for i in used])
    expected = {
        declared.zones[e["zone"]].place for e in chain.root.expects if e.get("zone") in declared.zones
    }
    main = np.array([names[i] in expected for i in used], bool)
    adjusted, level = holm(p), np.full(p.shape, ALPHA)
    if main.any():
        adjusted[main], adjusted[~main] = holm(p[main]), holm(p[~main])
        level = np.where(main, ALPHA_EXPECTED, ALPHA_REST)
    table, findings = [], []
    for k, i in enumerate(used):
        verdict, why = _verdict(chain, found, result.change[i], alike[i], bool(adjusted[k] <= level[k]))
        row = {
            "adjustment": chain.root.id, "undone_by": [m.id for m in chain.members[1:]], "zone": names[i],
            "without": float(result.without[i]), "with": float(result.with_it[i]),
            "change": float(result.change[i]), "change_low": float(result.low[i]),
            "change_high": float(result.high[i]), "p": float(p[k]), "p_holm": float(adjusted[k]),
            "steps": len(chain.members), "steps_alike": bool(result.alike[i]), "verdict": verdict,
        }  # fmt: skip
        table.append(row)
        if main[k] or verdict in (ROSE, FELL) or (verdict == CONFOUNDED and adjusted[k] <= level[k]):
            findings.append(
                _finding(question, chain, found, row, why, expected=bool(main[k]), compared=len(used))
            )
    return Reversed(table, findings)


def _finding(
    question: Question, chain: Chain, found: Phased, row: Mapping[str, Any], why: str, *, expected: bool,
    compared: int,
) -> Finding:  # fmt: skip
    named = {n: Number(row[n], "share") for n in ("without", "with", "change", "change_low", "change_high")}
    named |= numbers(
        p=(row["p"], "chance"), sessions=(sum(found.sessions), "sessions"), phases=(len(found.days), "phases"),
        steps=(row["steps"], "steps"),
    )  # fmt: skip
    facts = {
        "chain": [m.id for m in chain.members], "root": chain.root,
        "steps_alike": row["steps_alike"], "expected": expected,
    }  # fmt: skip
    holds = row["p_holm"] <= PART_OF_LEVEL * (ALPHA_EXPECTED if expected else ALPHA_REST)
    grade = _grade(found, holds) if row["verdict"] in (ROSE, FELL) else ""
    about = (*(m.id for m in chain.members), row["zone"])
    between = tuple(
        Confounder(reasons.CHANGE_BETWEEN, (c.id,), c.what, on=day_of(question.declared, c))
        for c in chain.between
    )
    return Finding(
        about, row["verdict"], grade, why, named, None, question.unit, compared, facts,
        confounders=between,
    )  # fmt: skip


def _grade(found: Phased, holds: bool = True) -> str:
    return standing(min(sum(found.sessions[0::2]), sum(found.sessions[1::2])), sum(found.days), holds)


def _dependence(found: Phased, column: int) -> float:
    """Lag-1 dependence of units within phases, each slot's own level taken off."""
    values = found.shares[:, column].copy()
    for slot in np.unique(found.slot):
        values[found.slot == slot] -= values[found.slot == slot].mean()
    return lag_one_within([values[found.phase == k] for k in range(len(found.days))])


def _p(found: Phased, chain: Chain, result: Reversal, column: int, dependence: float) -> float:
    p = float(result.p[column])
    if dependence > switch_at(len(found.phase)):
        on = np.array(chain.states)[found.phase]
        p = max(p, ar_step(found.shares[:, column], on, min(dependence, 0.9)).p)
    return p


def _verdict(chain: Chain, found: Phased, change: float, dependence: float, passes: bool) -> tuple[str, str]:
    """The verdict, and the code of what holds it back."""
    if dependence > TOO_DEPENDENT:
        return TOO_EARLY, reasons.NEVER_WITH_THIS_DESIGN
    if not passes:
        return TOO_EARLY, reasons.SPREAD
    if not _grade(found):
        return TOO_EARLY, reasons.TOO_FEW_UNITS
    if chain.between:
        return CONFOUNDED, reasons.CONFOUNDED_BY
    return (ROSE if change > 0 else FELL), ""
