"""Which retreats are used, by whom, whether each keeps to one, who is found together, and where they go when dry."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from .. import reasons
from ..answer import Answer
from ..columns import typed
from ..finding import FAIRLY_SURE, TOO_EARLY, Finding, in_words, notes
from ..nothing import nothing
from ..question import Question
from .checks import Checks, check_rows, checks_by_enclosure
from .columns import PARTS, ROWS, SHOWN
from .company import (
    COMPANY_COLUMNS,
    PAIR_COLUMNS,
    company_of,
    company_row,
    crowding_tables,
    matrix_table,
    pair_rows,
)
from .conditions import choices_table, dry_table, known_conditions, moving_table
from .judge import company, crowding, dry_moves, keeping, unused
from .keeping import COLUMNS as KEEPING_COLUMNS
from .keeping import LIFTING_COLUMNS, Own, fidelity_of, keeping_rows, lifting_rows, returns_of
from .notes import cautions, conditions_said, counted_said, guesses_said, headline, lifting_said, season_said
from .use import ALL_MONTHS, evenness_table, months_table, seasons_table, use_table
from .words import sentence

# A table of up to this many rows is shown whole; of a longer one each animal's home, or each group's first three.
SHORT = 8
OF_A_GROUP = 3


def retreats(question: Question, *, draws: int = 1000) -> Answer:
    """The retreats answer. Shares are of the checks at which the animal (or group member) was found.

    A check is a retreat round, a spot check, or the first scan of a session of scans. A retreat not looked
    into at a check is not an empty one: shares are over the checks that looked into it. Raises ProblemError
    where a stored file of readings is damaged.
    """
    question = question if question.cluster == "session" else question.by("session")
    declared, labels = question.declared, question.labels
    rows = check_rows(question.rows)
    every = checks_by_enclosure(question, rows)
    did = question.effort_of(rows).to_dict() | _effort(every)
    table, animals = use_table(every)
    if not rows["zone"].notna().any():
        facts = {"nothing": nothing(question)}
        found = [Finding((), TOO_EARLY, reason=reasons.NOTHING_SEEN, unit="check", facts=facts)]
        return Answer(
            "retreats", declared.title, typed(table, ROWS, labels), in_words(found, lambda f: sentence(f, labels)),
            effort=did, filters=question.filters,
        )  # fmt: skip
    months = months_table(every)
    seasons = seasons_table(every)
    known = known_conditions(question, every)
    chosen, dry = choices_table(every, known), dry_table(every, known)
    evenness = evenness_table(every, months)
    days, each = crowding_tables(declared, every, draws - 1, question.seed)
    found, parts = _animals(question, every, animals, draws)
    found += crowding(days)
    found += dry_moves(every, dry)
    for checks in every:
        found += unused(checks, len(every) > 1)
    parts |= {
        "animals": animals, "months": months, "evenness": evenness, "seasons": seasons, "crowding": days,
        "crowding_checks": each, "conditions": chosen, "dry_spells": dry,
    }  # fmt: skip
    moving = pd.concat([moving_table(c, k) for c, k in zip(every, known, strict=True)], ignore_index=True)
    return Answer(
        answer="retreats",
        study=declared.title,
        filters=question.filters,
        table=typed(table, ROWS, labels),
        findings=in_words(
            sorted(found, key=lambda f: f.verdict == TOO_EARLY)
            or [Finding((), TOO_EARLY, reason=reasons.TOO_FEW_CHECKS, unit="check")],
            lambda f: sentence(f, labels),
        ),
        cautions=cautions(question, rows, every),
        effort=did,
        parts={**{n: typed(p, PARTS[n], labels) for n, p in parts.items()}, "moving": moving},
        seed=question.seed,
        shown=SHOWN,
        labels=labels,
        headline=headline(every, months, evenness, labels),
        notes=notes(
            *conditions_said(declared, chosen),
            *season_said(seasons, labels),
            *lifting_said(parts["lifting"]),
            *counted_said(declared, every),
            *guesses_said(*_without_guesses(question, rows, months), labels),
        ),
        first_rows=_first_rows(table),
    )


def _animals(
    question: Question, every: Sequence[Checks], animals: pd.DataFrame, draws: int
) -> tuple[list[Finding], dict[str, pd.DataFrame]]:
    """Company and homes of animals told apart, enclosure by enclosure."""
    together: list[Finding] = []
    kept_to: list[Finding] = []
    lifted: list[tuple[Any, ...]] = []
    pairs: list[tuple[Any, ...]] = []
    colony: list[tuple[Any, ...]] = []
    steps: list[tuple[Any, ...]] = []
    for checks in every:
        if not checks.animals:
            continue
        found = company_of(checks, draws, question.seed, len(every))
        if found is not None:
            together += company(checks, *found, len(every))
            pairs += pair_rows(checks, *found)
            colony.append(company_row(checks, *found))
        kept = fidelity_of(checks, draws, question.seed, len(every))
        mine = animals[(animals["enclosure"] == checks.enclosure) & (animals["home_standing"] != "")]
        own = Own(
            returns_of(checks, draws, question.seed, len(every)),
            dict(zip(mine["animal"].astype(str), mine["home"].astype(str), strict=True)),
            frozenset(mine.loc[mine["home_standing"] == FAIRLY_SURE, "animal"].astype(str)),
            _never_elsewhere(mine, animals, checks),
        )
        kept_to += keeping(checks, kept, own, len(every))
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
    return [*together, *kept_to], parts


def _never_elsewhere(mine: pd.DataFrame, animals: pd.DataFrame, checks: Checks) -> dict[str, str]:
    """Those with a home who never left it, in an enclosure where nobody else was seen to move."""
    here = animals[(animals["enclosure"] == checks.enclosure) & animals["animal"].notna()]
    still = mine[mine["moves"] == 0]
    if (here["moves"] > 0).any():
        return {}
    return dict(zip(still["animal"].astype(str), still["home"].astype(str), strict=True))


def _without_guesses(
    question: Question, rows: pd.DataFrame, months: pd.DataFrame
) -> tuple[int, pd.Series | None]:
    """How many records are guesses, and by how much each retreat's share changes without them (None: nothing else)."""
    guesses = int((~rows["sure"] & rows["zone"].notna()).sum())
    if not guesses or guesses == int(rows["zone"].notna().sum()):
        return guesses, None
    sure = months_table(checks_by_enclosure(question, rows[rows["sure"]]))
    both = months[months["month"] == ALL_MONTHS].merge(
        sure, on=["enclosure", "month", "zone"], suffixes=("", "_sure")
    )
    return guesses, (both["share_sure"] - both["share"]).abs().set_axis(both["zone"])


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
