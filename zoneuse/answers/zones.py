"""Which places are avoided, which are sought, how sure is that."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..journal.reader import Journals
from ..stats.electivity import jacobs_d, spread_of_participation, zone_electivity
from ..stats.shares import counts_against_offer
from ..stats.zone_use import ZoneUse, zone_use
from ..stats.zone_verdict import AVOIDED, FAVOURED, IN_PROPORTION, TOO_EARLY
from ..study.model import Declaration
from ..tables.choices import by_place, offers
from ..tables.offered import places_of
from .answer import Answer, Caution, Column, Finding, standing
from .answer import rows as rows_of
from .evidence import (
    CLUSTERS,
    Effort,
    Filters,
    counted,
    effort,
    labels_of,
    select,
    speaks_for,
    unit_codes,
    usual_cluster,
)  # fmt: skip

Floats = NDArray[np.float64]
AVAILABILITY = ("measured", "equal")
MEASURE_SAID = {
    "floor_cm2": "floor area",
    "surface_cm2": "surface, walls and tops included",
    "volume_l": "volume",
    "places": "the number of places",
}
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


def zones(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    cluster: str | None = None,
    availability: str = "measured",
    draws: int = 1999,
    seed: int = 1,
) -> Answer:
    """Use of each zone against what is offered, by independent units (sessions or days).

    ``cluster`` "moment" treats every record as independent, as the published method of Neu, Byers & Peek
    (1974) does; the answer then says so. Raises ValueError for an unknown cluster or availability.
    """
    rows = select(moments, filters)
    unit = cluster or usual_cluster(rows)
    if unit not in CLUSTERS or availability not in AVAILABILITY:
        raise ValueError(f"cluster is one of {CLUSTERS}, availability one of {AVAILABILITY}")
    did = effort(rows, journals, unit)
    if not len(rows) or rows["zone"].isna().all():
        return _nothing(declared, did)
    equal = availability == "equal"
    labels = labels_of(declared)

    def ask(part: pd.DataFrame) -> tuple[pd.DataFrame, ZoneUse | None]:
        return (
            _independent(declared, part, equal)
            if unit == "moment"
            else _clustered(declared, part, equal, unit, draws, seed)
        )

    table, use = ask(rows)
    return Answer(
        answer="zones",
        study=declared.title,
        table=table[COLUMNS],
        findings=tuple(_finding(row, did, use, labels) for row in rows_of(table)),
        cautions=_cautions(declared, rows, did, availability),
        effort=did.to_dict(),
        parts={
            "by_animal": _by(rows, "animal", ask),
            "by_slot": _by(rows, "slot", ask),
            "indices": _indices(table),
            "tests": _tests(table, use),
        },
        seed=seed,
        shown=SHOWN,
        labels=labels,
        headline=_headline(did, use),
    )


COLUMNS = [
    "zone", "available", "used", "used_low", "used_high", "ratio", "ratio_low", "ratio_high",
    "unseen_low", "unseen_high", "moments", "sessions",
]  # fmt: skip


def _nothing(declared: Declaration, did: Effort) -> Answer:
    says = "Nothing was seen in what was asked for, so nothing can be said yet."
    empty = pd.DataFrame(columns=COLUMNS)
    return Answer("zones", declared.title, empty, (Finding((), TOO_EARLY, "", says),), effort=did.to_dict())


def _clustered(
    declared: Declaration, rows: pd.DataFrame, equal: bool, cluster: str, draws: int, seed: int
) -> tuple[pd.DataFrame, ZoneUse]:
    """One row per place, from units that may repeat each other."""
    offered, chosen = by_place(declared, *offers(declared, rows, equal))
    animals = np.where(rows["animal"].isna(), -1, pd.factorize(rows["animal"])[0])
    use = zone_use(
        unit_codes(rows, cluster),
        animals,
        chosen,
        np.asarray(rows["at"].astype("int64")),
        offered,
        rows["weight"].to_numpy(float),
        draws=draws,
        seed=seed,
    )
    table = pd.DataFrame({name: getattr(use, name) for name in COLUMNS if hasattr(use, name)})
    table["p"], table["verdict"], table["reason"] = use.p, use.verdict, use.reason
    table["even_low"], table["even_high"] = use.even_low, use.even_high
    return _labelled(declared, table, rows, chosen, use.available), use


def _independent(declared: Declaration, rows: pd.DataFrame, equal: bool) -> tuple[pd.DataFrame, None]:
    """One row per place as if each record stood by itself (Neu, Byers & Peek 1974; Bonferroni limits)."""
    offered, chosen = by_place(declared, *offers(declared, rows, equal))
    weight = rows["weight"].to_numpy(float)
    seen, places = chosen >= 0, offered.shape[1]
    available = np.average(offered[seen], axis=0, weights=weight[seen])
    counts = np.bincount(chosen[seen], weight[seen], places)
    unseen, total = weight[~seen].sum(), weight.sum()
    there = available > 0
    found = counts_against_offer(counts[there], available[there])
    table = pd.DataFrame({"available": available, "moments": counts})
    for name, value in (
        ("used", found.used), ("used_low", found.low), ("used_high", found.high),
        ("ratio", found.ratio), ("ratio_low", found.ratio_low), ("ratio_high", found.ratio_high),
    ):  # fmt: skip
        table.loc[there, name] = value
    table["unseen_low"], table["unseen_high"] = counts / total, (counts + unseen) / total
    table["p"], table["reason"] = np.nan, "spread"
    table["verdict"] = np.where(
        table["ratio_high"] < 1, AVOIDED, np.where(table["ratio_low"] > 1, FAVOURED, TOO_EARLY)
    )
    return _labelled(declared, table, rows, chosen, available), None


def _labelled(
    declared: Declaration,
    table: pd.DataFrame,
    rows: pd.DataFrame,
    chosen: NDArray[np.int64],
    available: Floats,
) -> pd.DataFrame:
    """With each place's id and in how many sessions it was used; places never on offer are left out."""
    sessions = rows["session"].to_numpy()
    places = places_of(declared)
    table.insert(0, "zone", places)
    table["sessions"] = [len(set(sessions[chosen == j])) for j in range(len(places))]
    offered: pd.DataFrame = table[available > 0].reset_index(drop=True)
    return offered


def _finding(row: dict[str, Any], did: Effort, use: ZoneUse | None, labels: Mapping[str, str]) -> Finding:
    name, zone, verdict = labels[row["zone"]], row["zone"], row["verdict"]
    used, offered = f"{100 * row['used']:.0f} %", f"{100 * row['available']:.0f} %"
    evidence = f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}"
    numbers = (
        f"{used} of the time against {offered} offered, {row['ratio']:.2f} times its share "
        f"({row['ratio_low']:.2f} to {row['ratio_high']:.2f}; {evidence})"
    )
    grade = standing(did.sessions, did.days)
    if row["available"] >= 1:
        return Finding((zone,), TOO_EARLY, "", f"{name} is all there is, so there is nothing to choose.")
    if not grade:
        says = f"{name}: used in {row['sessions']} of {evidence}. At least 5 sessions on 3 days are needed to say more."
        return Finding((zone,), TOO_EARLY, "", says)
    said = {
        AVOIDED: f"{name} is used less than its share: {numbers}.",
        FAVOURED: f"{name} is used more than its share: {numbers}.",
        IN_PROPORTION: f"{name} is used in proportion to its share: {numbers}.{_even(use, row)}",
    }
    if verdict in said:
        return Finding((zone,), verdict, grade, said[verdict])
    return Finding((zone,), TOO_EARLY, "", f"{name}: {numbers}. {_held_back(row, use)}")


def _even(use: ZoneUse | None, row: dict[str, Any]) -> str:
    """What "in proportion" rests on: the zone's own 90 % interval, not the wider one of all zones at once."""
    if use is None:
        return ""
    low, high = row["even_low"], row["even_high"]
    return f" By itself (90 %) it lies between {low:.2f} and {high:.2f}, within 0.67 to 1.5."


def _held_back(row: dict[str, Any], use: ZoneUse | None) -> str:
    """Why a zone has no verdict yet."""
    if row["reason"] == "unseen":
        return (
            "The moments in which nobody was found decide it: counted elsewhere or there, it lies between "
            f"{100 * row['unseen_low']:.0f} and {100 * row['unseen_high']:.0f} %."
        )
    if row["reason"] == "few_moves" and use is not None:
        return f"Too early: only {counted(use.moves or 0, 'move')} between zones were seen."
    return "More or less than its share: cannot be told yet."


def _headline(did: Effort, use: ZoneUse | None) -> str:
    unseen = f", {did.unseen:,} not found" if did.unseen else ""
    missed = f", {did.missed:,} missed" if did.missed else ""
    moves = f", {use.moves:,} moves between zones" if use is not None and use.moves is not None else ""
    return (
        f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {did.moments:,} moments seen"
        f"{unseen}{missed}{moves}. Each {did.cluster} counts once."
    )


def _cautions(
    declared: Declaration, rows: pd.DataFrame, did: Effort, availability: str
) -> tuple[Caution, ...]:
    measure = "every zone alike" if availability == "equal" else MEASURE_SAID[declared.measured_in]
    cautions = [Caution("availability", f"What is offered is measured by {measure}.")]
    if did.cluster == "moment":
        cautions.append(
            Caution(
                "moments-as-units",
                "Every record is taken as independent here, as the published method does. Animals stay put, so these "
                "intervals are too short: leave --cluster moment out to count sessions.",
            )
        )
    if did.guesses:
        cautions.append(Caution("guesses", f"{counted(did.guesses, 'record')} are guesses and are counted."))
    slots = rows.groupby("slot")["session"].nunique()
    if len(slots) > 1:
        told = ", ".join(f"{slot} {number}" for slot, number in slots.items())
        cautions.append(Caution("slots", f"Times of day are mixed (sessions by slot: {told}); see --slot."))
    cautions.append(Caution("speaks-for", speaks_for(declared, rows)))
    return tuple(cautions)


def _by(
    rows: pd.DataFrame, column: str, ask: Callable[[pd.DataFrame], tuple[pd.DataFrame, Any]]
) -> pd.DataFrame:
    """The same table for each animal, or each slot."""
    pieces = [
        ask(part.reset_index(drop=True))[0][[*COLUMNS, "verdict"]].assign(**{column: name})
        for name, part in rows.groupby(column, sort=True)
        if part["zone"].notna().any()
    ]
    return (
        pd.concat(pieces, ignore_index=True)
        if pieces
        else pd.DataFrame(columns=[*COLUMNS, "verdict", column])
    )


def _tests(table: pd.DataFrame, use: ZoneUse | None) -> pd.DataFrame:
    """How each verdict was reached: p adjusted over zones, and the test of no preference at all."""
    decided = use.decided_by if use is not None else "every record by itself"
    return table[["zone", "verdict", "reason", "p"]].assign(
        p_no_preference=use.p_no_preference if use is not None else np.nan, decided_by=decided
    )


def _indices(table: pd.DataFrame) -> pd.DataFrame:
    """Jacobs' D and E* by zone, and the spread of participation of all; the plain sentences use the ratio."""
    used, offered = table["used"].to_numpy(float), table["available"].to_numpy(float)
    return pd.DataFrame(
        {
            "zone": table["zone"], "jacobs_d": jacobs_d(used, offered), "e_star": zone_electivity(used, offered),
            "spread_of_participation": float(spread_of_participation(used, offered)),
        }
    )  # fmt: skip
