"""Which retreats are used, by whom, whether each keeps to one, who is found together, and where they go when dry."""

from __future__ import annotations

from typing import Any

import pandas as pd

from ...journal.reader import Journals
from ...stats.association.fidelity import fidelity
from ...study.model import Declaration
from ...tables.conditions import Readings
from ..answer import Answer
from ..columns import Column
from ..effort import effort
from ..filters import Filters, select
from ..finding import TOO_EARLY, Finding, standing
from ..question import labels_of
from .checks import Checks, check_rows, checks_by_enclosure
from .company import (
    COMPANY_COLUMNS,
    PAIR_COLUMNS,
    company_of,
    company_row,
    company_said,
    crowding_said,
    crowding_tables,
    matrix_table,
    pair_rows,
)
from .conditions import choices_table, dry_table, known_conditions, moving_table
from .keeping import COLUMNS as KEEPING_COLUMNS
from .keeping import LIFTING_COLUMNS, keeping_rows, keeping_said, lifting_rows, lifting_said
from .use import evenness_table, months_table, seasons_table, use_table
from .words import (
    cautions,
    conditions_said,
    counted_said,
    dry_said,
    guesses_said,
    headline,
    season_said,
    unused_said,
)

SHOWN = (
    Column("animal or group", "Who", "first"),
    Column("zone", "Retreat"),
    Column("share", "Found there", "share"),
    Column("share", "95 %", "share-range", narrow=False),
    Column("visits", "Checks", "count"),
    Column("stay_probability", "Stays", "share", narrow=False),
)
# A table of up to this many rows is shown whole; of a longer one each animal's home, or each group's first three.
SHORT = 8
OF_A_GROUP = 3


def retreats(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    draws: int = 1000,
    seed: int = 1,
    readings: Readings | None = None,
) -> Answer:
    """The retreats answer. Shares are of the checks at which the animal (or group member) was found.

    A check is a retreat round, a spot check, or the first scan of a session of scans. A retreat not looked
    into at a check is not an empty one: shares are over the checks that looked into it. Raises ProblemError
    where a stored file of readings is damaged.
    """
    rows = check_rows(select(moments, filters))
    every = checks_by_enclosure(declared, journals, moments, rows, filters)
    did = effort(rows, journals, "session").to_dict() | _effort(every)
    labels = labels_of(declared)
    table, animals = use_table(every)
    if not rows["zone"].notna().any():
        says = "Nothing was found in what was asked for, so nothing can be said yet."
        return Answer("retreats", declared.title, table, (Finding((), TOO_EARLY, "", says=says),), effort=did)
    months = months_table(every)
    seasons = seasons_table(every)
    known = known_conditions(declared, journals, every, readings)
    chosen, dry = choices_table(every, known), dry_table(every, known)
    evenness = evenness_table(every, months)
    days, each = crowding_tables(declared, every, draws - 1, seed)
    findings, parts = _animals(every, animals, labels, draws, seed)
    findings += crowding_said(days, labels)
    findings += dry_said(every, dry)
    for checks in every:
        findings += unused_said(checks, labels, len(every) > 1)
    parts |= {
        "animals": animals, "months": months, "evenness": evenness, "seasons": seasons, "crowding": days,
        "crowding_checks": each, "conditions": chosen, "dry_spells": dry,
        "moving": pd.concat([moving_table(c, k) for c, k in zip(every, known, strict=True)], ignore_index=True),
    }  # fmt: skip
    return Answer(
        answer="retreats",
        study=declared.title,
        table=table,
        findings=tuple(sorted(findings, key=lambda f: f.verdict == TOO_EARLY))
        or (Finding((), TOO_EARLY, "", says="Too early to say anything of the retreats."),),
        cautions=cautions(declared, journals, rows, every),
        effort=did,
        parts=parts,
        seed=seed,
        shown=SHOWN,
        labels=labels,
        headline=headline(every, months, evenness, labels),
        notes=(
            *conditions_said(declared, chosen),
            *season_said(seasons, labels),
            *lifting_said(parts["lifting"]),
            *counted_said(declared, every),
            *guesses_said(declared, journals, moments, rows, filters, months, labels),
        ),
        first_rows=_first_rows(table),
    )


def _animals(
    every: list[Checks], animals: pd.DataFrame, labels: Any, draws: int, seed: int
) -> tuple[list[Finding], dict[str, pd.DataFrame]]:
    """Company and homes of animals told apart, enclosure by enclosure."""
    company: list[Finding] = []
    keeping: list[Finding] = []
    lifted: list[tuple[Any, ...]] = []
    pairs: list[tuple[Any, ...]] = []
    colony: list[tuple[Any, ...]] = []
    steps: list[tuple[Any, ...]] = []
    for checks in every:
        if not checks.animals:
            continue
        trust = standing(len(checks), len(set(checks.days)))
        found = company_of(checks, draws, seed, len(every))
        if found is not None:
            company += company_said(checks, *found, trust, labels, len(every) > 1)
            pairs += pair_rows(checks, *found)
            colony.append(company_row(checks, *found))
        kept = fidelity(checks.where, draws - 1, seed)
        mine = animals[(animals["enclosure"] == checks.enclosure) & (animals["home_standing"] != "")]
        homes = dict(zip(mine["animal"].astype(str), mine["home"].astype(str), strict=True))
        keeping += keeping_said(checks, kept, homes, trust, labels, len(every))
        steps += keeping_rows(checks, kept)
        lifted += lifting_rows(checks)
    table = pd.DataFrame(pairs, columns=PAIR_COLUMNS)
    parts = {
        "pairs": table,
        "company": pd.DataFrame(colony, columns=COMPANY_COLUMNS),
        "matrix": matrix_table(table),
        "keeping": pd.DataFrame(steps, columns=KEEPING_COLUMNS),
        "lifting": pd.DataFrame(lifted, columns=LIFTING_COLUMNS),
    }
    return [*company, *keeping], parts


def _effort(every: list[Checks]) -> dict[str, int]:
    """Animal-checks: known alive, found, not found; retreats left out at a check."""
    return {
        "checks": sum(len(c) for c in every),
        "known_alive": int(sum(c.alive.sum() for c in every)),
        "found": int(sum(c.found.sum() for c in every)),
        "unfound": int(sum((c.alive - c.found).clip(0).sum() for c in every)),
        "not_looked_into": int(sum(((c.capacity > 0) & ~c.looked).sum() for c in every)),
    }


def _first_rows(table: pd.DataFrame) -> tuple[int, ...] | None:
    if len(table) <= SHORT:
        return None
    homes = list(table.index[table["home"] & table["group"].isna()])
    for _, part in table[table["group"].notna()].groupby("group", sort=False):
        homes += list(part.sort_values("share", ascending=False, kind="stable").index[:OF_A_GROUP])
    return tuple(int(i) for i in homes)
