"""Conditions where nothing is logged in enough zones: the keeper's rating of cover, and what it explains."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from ...study import modelled
from ...tables import Choices
from ..answer import Answer
from ..columns import typed
from ..effort import unit_codes
from ..finding import TOO_EARLY, Caution, in_words, notes
from ..quantities_said import label
from ..question import Question
from ..showing.plain import rows as rows_of
from .columns import PARTS, ROWS, SHOWN
from .judge import finding, slot_findings
from .measured.bodies import Bodies
from .model import alternatives
from .tables import used_against_offered
from .used import COVER, by_animal, here, over_animals, slot_tables
from .why import Supposed, forecast, use_of_places, why_avoided
from .words import sentence
from .words_beside import first_line, why_said

_MISSING = ("peak", "peak_low", "peak_high", "edge", "edge_low", "edge_high", "n_eff", "df", "se")


def unlogged(
    question: Question,
    chosen: Choices,
    measured: Bodies,
    what_if: Supposed | None,
    *,
    sessions: int | None,
    equal: bool,
) -> Answer | None:
    """The answer without a curve: what was used of cover and of what few zones have, and why zones are avoided by it.

    None where nothing at all is known of the zones.
    """
    told = [
        q for q in (*modelled(), COVER)
        if q in chosen.conditions and not np.isnan(here(chosen, q)).all()
    ]  # fmt: skip
    if not told:
        return None
    declared, labels = question.declared, {**question.labels, **{q: label(q) for q in told}}
    units = unit_codes(chosen.rows, question.unit)
    against, table = used_against_offered(chosen, told, units), _table(chosen, told)
    by_slot, apart = slot_tables(chosen, told)
    model, use = alternatives(declared, chosen, (), units), use_of_places(question, equal)
    why = why_avoided(question, model, use)
    expected = forecast(question, model, what_if, sessions, labels) if what_if else None
    parts = {
        "by_animal": by_animal(chosen, told), "by_slot": by_slot, "slots_apart": apart,
        "used_against_offered": against, "bodies": measured.each, "body_indices": measured.indices, "why": why,
        **({} if expected is None else {"what_if": expected.table}),
    }  # fmt: skip
    judged = [
        finding(question, row, None, of_offer, None)
        for row, of_offer in zip(rows_of(table), rows_of(against), strict=True)
    ] + slot_findings(question, apart)
    said = " ".join(s for s in (measured.says, first_line(question, rows_of(table))) if s)
    nowhere = "Nothing is logged in two zones or more at most moments, so there is no curve: loggers "
    return Answer(
        "prefer", declared.title, typed(table, ROWS, labels),
        in_words(judged, lambda f: sentence(f, declared.fahrenheit)),
        cautions=(Caution("no-readings", nowhere + "there would tell warmth from cover and from the places."),
                  *measured.cautions),
        effort=question.effort.to_dict(), parts={n: typed(p, PARTS[n], labels) for n, p in parts.items()},
        seed=question.seed, shown=SHOWN, labels=labels, filters=question.filters,
        headline=said + (f" {expected.says}" if expected else ""),
        notes=notes(*why_said(why, labels)),
    )  # fmt: skip


def _table(chosen: Choices, told: list[str]) -> pd.DataFrame:
    used: Mapping[str, Mapping[str, Any]] = over_animals(by_animal(chosen, told))
    rows = []
    for quantity in told:
        values = chosen.conditions[quantity]
        low, high = np.quantile(values[(chosen.availability > 0) & ~np.isnan(values)], [0.05, 0.95])
        bare: dict[str, Any] = {"quantity": quantity, "shape": TOO_EARLY, **dict.fromkeys(_MISSING, np.nan)}
        rows.append(bare | {"offered_low": float(low), "offered_high": float(high)} | dict(used[quantity]))
    return pd.DataFrame(rows)
