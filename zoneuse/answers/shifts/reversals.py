"""Changes taken back, and perhaps made again: all phases judged together, which one step cannot replace."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.resampling.permutation import holm
from ...stats.resampling.reversals import Reversal, reversal
from ...stats.time_series.segmented import ar_step, lag_one_within
from ...study.model import Declaration
from ...tables.phases import Adjustment
from ..finding import TOO_EARLY, Finding, standing
from .controls import concerning, rows_of_change
from .judge import (
    ALPHA,
    ALPHA_EXPECTED,
    ALPHA_REST,
    CONFOUNDED,
    FELL,
    ROSE,
    TOO_DEPENDENT,
    switch_at,
)
from .phases import Sides, around, unit_shares

Floats = NDArray[np.float64]


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
    declared: Declaration,
    changes: Sequence[Adjustment],
    chain: Chain,
    rows: pd.DataFrame,
    cluster: str,
    names: Sequence[str],
) -> Phased | None:
    """Shares of each unit of each phase; None where a phase has no unit in a slot they all have."""
    near = concerning(declared, changes, chain.root)
    own = rows_of_change(declared, rows, chain.root)
    spans = [around(near, [chain.root]).before, *(around(near, [m]).after for m in chain.members)]
    pieces = []
    for number, span in enumerate(spans):
        inside = own["zone"].notna().to_numpy()
        if span[0] is not None:
            inside = inside & np.asarray(own["at"] >= pd.Timestamp(span[0]))
        if span[1] is not None:
            inside = inside & np.asarray(own["at"] < pd.Timestamp(span[1]))
        pieces.append(own[inside].assign(number=number))
    slots = [set(p["enclosure"] + "\0" + p["slot"]) for p in pieces]
    kept = pd.concat(pieces)
    kept = kept[(kept["enclosure"] + "\0" + kept["slot"]).isin(set.intersection(*slots))]
    kept = kept.sort_values("at", kind="stable", ignore_index=True)
    if not len(kept):
        return None
    slot = kept["enclosure"] + "\0" + kept["slot"]
    key = slot + "\0" + kept[cluster].astype(str) + "\0" + kept["number"].astype(str)
    unit = np.asarray(pd.factorize(key)[0], np.int64)
    first = np.unique(unit, return_index=True)[1]
    code = np.asarray(pd.factorize(slot)[0], np.int64)[first]
    at = np.asarray(kept["at"].astype("int64"), np.float64)[first]
    cut = Sides(kept, unit, np.zeros(first.size, bool), code, at, ())
    counts = kept.groupby("number")
    return Phased(
        unit_shares(cut, "place", names), kept["number"].to_numpy(np.int64)[first], code,
        tuple(counts["day"].nunique()), tuple(counts["session"].nunique()),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reversed:
    """What all phases of a chain say together: rows for ``parts`` and sentences."""

    rows: list[dict[str, Any]]
    findings: list[Finding]


def reversals(
    declared: Declaration,
    changes: Sequence[Adjustment],
    rows: pd.DataFrame,
    cluster: str,
    names: Sequence[str],
    labels: Mapping[str, str],
    *,
    draws: int = 9_999,
    seed: int = 1,
) -> Reversed:
    """Every chain of undone changes, by place: with the change against without it, over all its steps.

    The expected place at .04 and the rest at .01 (Holm), or all at .05, as for one change; where neighbours
    repeat each other a step that allows for it must agree.
    """
    table: list[dict[str, Any]] = []
    findings: list[Finding] = []
    for chain in chains(declared, changes):
        found = phased(declared, changes, chain, rows, cluster, names)
        if found is None or found.phase.size <= len(chain.states) + 1:
            says = f"{chain.root.id} was taken back, but not every phase was watched at a like time of day."
            findings.append(Finding((chain.root.id,), TOO_EARLY, "", says=says))
            continue
        told = _judge(declared, chain, found, names, labels, draws, seed)
        table += told.rows
        findings += told.findings
    return Reversed(table, findings)


def _judge(
    declared: Declaration,
    chain: Chain,
    found: Phased,
    names: Sequence[str],
    labels: Mapping[str, str],
    draws: int,
    seed: int,
) -> Reversed:
    result = reversal(found.shares, found.phase, chain.states, found.slot, draws=draws, seed=seed)
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
        verdict = _verdict(chain, found, result, i, alike[i], bool(adjusted[k] <= level[k]))
        table.append(
            {
                "adjustment": chain.root.id, "undone_by": [m.id for m in chain.members[1:]], "zone": names[i],
                "without": float(result.without[i]), "with": float(result.with_it[i]),
                "change": float(result.change[i]), "change_low": float(result.low[i]),
                "change_high": float(result.high[i]), "p": float(p[k]), "p_holm": float(adjusted[k]),
                "steps": len(chain.members), "steps_alike": bool(result.alike[i]), "verdict": verdict,
            }
        )  # fmt: skip
        if main[k] or verdict in (ROSE, FELL) or (verdict == CONFOUNDED and adjusted[k] <= level[k]):
            findings.append(
                _said(chain, found, result, i, float(p[k]), verdict, names[i], labels, bool(main[k]))
            )
    return Reversed(table, findings)


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


def _verdict(
    chain: Chain, found: Phased, result: Reversal, column: int, dependence: float, passes: bool
) -> str:
    enough = standing(min(sum(found.sessions[0::2]), sum(found.sessions[1::2])), sum(found.days))
    if not passes or not enough or dependence > TOO_DEPENDENT:
        return TOO_EARLY
    if chain.between:
        return CONFOUNDED
    return ROSE if result.change[column] > 0 else FELL


def _said(
    chain: Chain,
    found: Phased,
    result: Reversal,
    column: int,
    p: float,
    verdict: str,
    name: str,
    labels: Mapping[str, str],
    expected: bool,
) -> Finding:
    """One sentence over all phases; that it came and went with what was done is what makes it stronger."""
    again = ", taken back and made again" if len(chain.members) > 2 else " and taken back"
    steps = len(chain.members)
    way = (
        f"all {steps} steps the same way"
        if result.alike[column]
        else f"the {steps} steps not all the same way"
    )
    numbers = (
        f"{100 * result.without[column]:.0f} % of the time without it, {100 * result.with_it[column]:.0f} % with it "
        f"(change {100 * result.change[column]:+.0f} points, {100 * result.low[column]:+.0f} to "
        f"{100 * result.high[column]:+.0f}; {sum(found.sessions)} sessions in {len(found.days)} phases; {way})"
    )
    if verdict == CONFOUNDED:
        others = ", ".join(c.id for c in chain.between)
        end = f" Cannot be put down to it: {others} came in between."
    elif verdict in (ROSE, FELL):
        end = (
            " It came and went with what was done: stronger evidence than one step."
            if result.alike[column]
            else " Not every step agrees, so this is no stronger than one step."
        )
    else:
        end = f" Cannot be told from chance yet (p {p:.2f})."
    role = "" if expected else " Nobody had said so before: looking around."
    about = (*(m.id for m in chain.members), name)
    grade = (
        standing(min(sum(found.sessions[0::2]), sum(found.sessions[1::2])), sum(found.days))
        if verdict in (ROSE, FELL)
        else ""
    )
    return Finding(
        about,
        verdict,
        grade,
        says=f"{chain.root.id} made{again}: {labels.get(name, name)} {numbers}.{end}{role}",
    )
