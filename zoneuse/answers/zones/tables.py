"""The tables of the zones answer: one row per place, from units that repeat each other or records by themselves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.choice import spread_interval
from ...stats.intervals import counts_against_offer, gather, unit_shares
from ...stats.space_use import Settling, ZoneUse, evenness, jacobs_d, zone_electivity, zone_use
from ...study import Declaration
from ...tables import by_place, offers, places_of
from ..effort import unit_codes
from ..question import Question
from ..records.budgets import are_budgets
from .judge import DECIDED_BY, call_zones, independent_verdicts

# The numbers the statistics give for each zone, under their names in the table.
_NUMBERS = (
    "available", "used", "used_low", "used_high", "ratio", "ratio_low", "ratio_high", "unseen_low", "unseen_high",
    "moments", "p", "even_low", "even_high", "sure_low", "sure_high",
)  # fmt: skip
# What the columns of an answer call otherwise than the field does.
_CALLED = {"available": "availability"}


def clustered(
    question: Question, rows: pd.DataFrame, equal: bool, *, draws: int, even_within: tuple[float, float]
) -> tuple[pd.DataFrame, ZoneUse]:
    """One row per place, from units that may repeat each other; called where ``even_within`` bounds sameness."""
    declared = question.declared
    availability, chosen = by_place(declared, *offers(declared, rows, equal))
    # What has several places at once, as groups and time budgets have, moves from none to another.
    apart = rows["animal"].isna() | are_budgets(rows)
    animals = np.where(apart, -1, pd.factorize(rows["animal"])[0])
    use = zone_use(
        unit_codes(rows, question.unit),
        animals,
        chosen,
        np.asarray(rows["at"].astype("int64")),
        availability,
        weight=rows["weight"].to_numpy(float),
        draws=draws,
        seed=question.seed,
    )
    table = pd.DataFrame({name: getattr(use, _CALLED.get(name, name)) for name in _NUMBERS})
    moments = (chosen >= 0) & ~are_budgets(rows).to_numpy()
    table["moments"] = np.bincount(chosen[moments], rows["weight"].to_numpy(float)[moments], len(table))
    calls = call_zones(use, even_within)
    table["verdict"], table["reason"], table["sure"] = calls.verdict, calls.reason, calls.sure
    table["n_eff"], table["df"] = use.looks, use.degrees
    table["se"] = np.sqrt(np.clip(use.used * (1 - use.used), 0.0, None) / max(use.looks, 1.0))
    return _labelled(declared, table, rows, chosen, use.availability), use


def independent(declared: Declaration, rows: pd.DataFrame, equal: bool) -> tuple[pd.DataFrame, None]:
    """One row per place as if each record stood by itself (Neu, Byers & Peek 1974; Bonferroni limits)."""
    at_each, chosen = by_place(declared, *offers(declared, rows, equal))
    weight = rows["weight"].to_numpy(float)
    seen, places = chosen >= 0, at_each.shape[1]
    availability = np.average(at_each[seen], axis=0, weights=weight[seen])
    counts = np.bincount(chosen[seen], weight[seen], places)
    unseen, total = weight[~seen].sum(), weight.sum()
    there = availability > 0
    found = counts_against_offer(counts[there], availability[there])
    table = pd.DataFrame({"available": availability, "moments": counts})
    for name, value in (
        ("used", found.used), ("used_low", found.low), ("used_high", found.high),
        ("ratio", found.ratio), ("ratio_low", found.ratio_low), ("ratio_high", found.ratio_high),
    ):  # fmt: skip
        table.loc[there, name] = value
    table["unseen_low"], table["unseen_high"] = counts / total, (counts + unseen) / total
    table["p"], table["reason"], table["sure"] = np.nan, "spread", False
    table["n_eff"], table["df"] = weight[seen].sum(), np.nan
    table["se"] = np.sqrt(table["used"] * (1 - table["used"]) / weight[seen].sum())
    table["verdict"] = independent_verdicts(table["ratio_low"].to_numpy(), table["ratio_high"].to_numpy())
    return _labelled(declared, table, rows, chosen, availability), None


def _labelled(
    declared: Declaration,
    table: pd.DataFrame,
    rows: pd.DataFrame,
    chosen: NDArray[np.int64],
    availability: Floats,
) -> pd.DataFrame:
    """With each place's id and in how many sessions it was used; places never on offer are left out."""
    sessions = rows["session"].to_numpy()
    places = places_of(declared)
    table.insert(0, "zone", places)
    table["sessions"] = [len(set(sessions[chosen == j])) for j in range(len(places))]
    there: pd.DataFrame = table[availability > 0].reset_index(drop=True)
    return there


def cut_by(
    rows: pd.DataFrame, column: str, ask: Callable[[pd.DataFrame], tuple[pd.DataFrame, Any]]
) -> pd.DataFrame:
    """The same table for each animal, or each slot."""
    pieces = [
        ask(part.reset_index(drop=True))[0].assign(**{column: name})
        for name, part in rows.groupby(column, sort=True)
        if part["zone"].notna().any()
    ]
    if pieces:
        return pd.concat(pieces, ignore_index=True)
    return pd.DataFrame(
        columns=["zone", *_NUMBERS, "verdict", "reason", "sure", "n_eff", "df", "se", "sessions", column]
    )


def tests_of(table: pd.DataFrame, use: ZoneUse | None) -> pd.DataFrame:
    """How each verdict was reached: p adjusted over zones, the test of no preference, and what holds for good."""
    found = table[["zone", "verdict", "reason", "p"]]
    if use is None:
        return found.assign(
            p_no_preference=np.nan, decided_by=DECIDED_BY["records"], sure=False, sure_low=np.nan,
            sure_high=np.nan, sure_level=np.nan,
        )  # fmt: skip
    return found.assign(
        p_no_preference=use.p_no_preference, decided_by=DECIDED_BY["bouts" if use.by_bouts else "units"],
        sure=table["sure"], sure_low=table["sure_low"], sure_high=table["sure_high"], sure_level=use.sure_level,
    )  # fmt: skip


def settling_of(table: pd.DataFrame, settling: Settling | None) -> pd.DataFrame:
    """Further units that would probably bring each zone a verdict, and the chance that they do."""
    if settling is None:
        return pd.DataFrame(columns=["zone", "more", "chance"])
    return pd.DataFrame({"zone": table["zone"], "more": table["more"], "chance": table["chance"]})


def indices_of(question: Question, table: pd.DataFrame, rows: pd.DataFrame, equal: bool) -> pd.DataFrame:
    """Jacobs' D and E* by zone, spread of participation and evenness of all; plain sentences use the ratio."""
    used, availability = table["used"].to_numpy(float), table["available"].to_numpy(float)
    declared = question.declared
    shares, chosen = by_place(declared, *offers(declared, rows, equal))
    nobody = np.full(len(rows), -1)
    weight = rows["weight"].to_numpy(float)
    units = unit_shares(
        gather(unit_codes(rows, question.unit), nobody, chosen, np.arange(len(rows)), shares, weight=weight)
    )
    there = units.availability > 0
    spread = spread_interval(units.share[:, there], units.offer[:, there])
    return pd.DataFrame(
        {
            "zone": table["zone"],
            "jacobs_d": jacobs_d(used, availability),
            "e_star": zone_electivity(used, availability),
            "spread_of_participation": spread.raw if question.unit == "moment" else spread.index,
            "spread_low": spread.low,
            "spread_high": spread.high,
            "evenness": float(evenness(used)),
        }
    )


def what_is_done_where(rows: pd.DataFrame) -> pd.DataFrame:
    """Moments by place and behaviour."""
    known = rows[rows["behaviour"].notna() & rows["place"].notna()]
    cross = pd.crosstab(known["place"], known["behaviour"], values=known["weight"], aggfunc="sum")
    return cross.fillna(0).rename_axis(columns=None).reset_index()
