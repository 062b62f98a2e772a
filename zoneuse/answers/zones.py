"""Which places are avoided, which are sought, how sure is that."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..journal.reader import Journals
from ..stats.electivity import jacobs_d, spread_of_participation, zone_electivity
from ..stats.shares import counts_against_offer, mean_shares
from ..study.model import Declaration
from ..tables.choices import Choices, choices
from ..tables.offered import places_of
from .answer import TOO_EARLY, Answer, Caution, Column, Finding, standing
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
AVOIDED, FAVOURED, IN_PROPORTION = "avoided", "favoured", "in proportion"
AVAILABILITY = ("measured", "equal")
MEASURE_SAID = {
    "floor_cm2": "floor area",
    "surface_cm2": "surface, walls and tops included",
    "volume_l": "volume",
    "places": "the number of places",
}
SHOWN = (
    Column("zone", "Zone"),
    Column("available", "Offered", "share"),
    Column("used", "Used", "share"),
    Column("used", "95 %", "share-range"),
    Column("ratio", "Ratio", "ratio"),
    Column("ratio", "95 %", "ratio-range"),
    Column("moments", "Moments", "count"),
    Column("sessions", "Sessions", "count"),
)


@dataclass(frozen=True, slots=True)
class Use:
    """Units x places. ``counts`` are moments seen there, ``offered`` the summed shares on offer at those
    moments, ``unseen`` the moments of each unit in which an animal was looked for and not found."""

    places: list[str]
    counts: Floats
    offered: Floats
    unseen: Floats
    sessions: NDArray[np.int64]


def zones(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    cluster: str | None = None,
    availability: str = "measured",
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
    use = _use(declared, choices(declared, rows, equal=equal, join=False), rows, unit)
    table = _table(use, unit)
    labels = labels_of(declared)
    return Answer(
        answer="zones",
        study=declared.title,
        table=table,
        findings=_findings(table, did, labels),
        cautions=_cautions(declared, rows, did, availability),
        effort=did.to_dict(),
        parts={
            "by_animal": _by(declared, rows, "animal", unit, equal),
            "by_slot": _by(declared, rows, "slot", unit, equal),
            "indices": _indices(table),
        },
        shown=SHOWN,
        labels=labels,
        headline=_headline(did),
    )


COLUMNS = [
    "zone", "available", "used", "used_low", "used_high", "ratio", "ratio_low", "ratio_high",
    "unseen_low", "unseen_high", "moments", "sessions",
]  # fmt: skip


def _nothing(declared: Declaration, did: Effort) -> Answer:
    says = "Nothing was seen in what was asked for, so nothing can be said yet."
    empty = pd.DataFrame(columns=COLUMNS)
    return Answer("zones", declared.title, empty, (Finding((), TOO_EARLY, "", says),), effort=did.to_dict())


def _use(declared: Declaration, chosen: Choices, rows: pd.DataFrame, cluster: str) -> Use:
    """Shares of each unit's moments, by place. ``rows`` are all moments, seen or not; ``chosen`` the seen."""
    places = places_of(declared)
    to_place = np.array([places.index(p) for p in chosen.places])
    every = unit_codes(rows, cluster)
    weight = rows["weight"].to_numpy(float)
    seen = rows["zone"].notna().to_numpy()
    number = int(every.max()) + 1
    counts = np.zeros((number, len(places)))
    where = to_place[chosen.chosen]
    np.add.at(counts, (every[seen], where), weight[seen])
    by_place = chosen.offered @ np.eye(len(places))[to_place]
    offered = np.zeros((number, len(places)))
    np.add.at(offered, every[seen], by_place * weight[seen][:, None])
    unseen = np.bincount(every[~seen], weight[~seen], number).astype(float)
    names = chosen.rows["session"].to_numpy()
    sessions = np.array([len(set(names[where == j])) for j in range(len(places))])
    return Use(places, counts, offered, unseen, sessions)


def _table(use: Use, cluster: str) -> pd.DataFrame:
    total = use.counts.sum(axis=1)
    met = total > 0
    available = (use.offered[met] / total[met, None]).mean(axis=0)
    there = available > 0
    shares = use.counts[met] / total[met, None]
    moments = use.counts.sum(axis=0)
    used, low, high = shares.mean(axis=0), np.zeros(len(there)), np.ones(len(there))
    if cluster == "moment" and there.sum() > 1:
        found = counts_against_offer(moments[there], available[there])
        used[there], low[there], high[there] = found.used, found.low, found.high
    elif cluster != "moment":
        limits = mean_shares(shares, compared=int(there.sum()), most_looks=float(moments.sum()))
        low, high = limits.low, limits.high
    looked = (total + use.unseen)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        ratios = [np.where(there, value / available, np.nan) for value in (used, low, high)]
    table = pd.DataFrame(
        {
            "zone": use.places, "available": available, "used": used, "used_low": low, "used_high": high,
            "ratio": ratios[0], "ratio_low": ratios[1], "ratio_high": ratios[2],
            "unseen_low": (use.counts / looked).mean(axis=0),
            "unseen_high": ((use.counts + use.unseen[:, None]) / looked).mean(axis=0),
            "moments": moments, "sessions": use.sessions,
        }
    )  # fmt: skip
    offered: pd.DataFrame = table[there].reset_index(drop=True)
    return offered


def _findings(table: pd.DataFrame, did: Effort, labels: Mapping[str, str]) -> tuple[Finding, ...]:
    grade = standing(did.sessions, did.days)
    return tuple(_finding(row, did, grade, labels) for row in rows_of(table))


def _finding(row: dict[str, Any], did: Effort, grade: str, labels: Mapping[str, str]) -> Finding:
    name, zone = labels[row["zone"]], row["zone"]
    used, offered = f"{100 * row['used']:.0f} %", f"{100 * row['available']:.0f} %"
    span = f"{row['ratio_low']:.2f} to {row['ratio_high']:.2f}"
    evidence = f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}"
    if row["available"] >= 1:
        return Finding((zone,), TOO_EARLY, "", f"{name} is all there is, so there is nothing to choose.")
    if not grade:
        says = f"{name}: seen there in {row['sessions']} of {evidence}. At least 5 sessions on 3 days are needed."
        return Finding((zone,), TOO_EARLY, "", says)
    verdict = _verdict(row)
    if verdict != TOO_EARLY and _unseen_decide(row, verdict):
        says = (
            f"{name}: {used} of what was seen against {offered} offered, but the moments in which nobody was found "
            f"decide it: counted there or elsewhere it lies between {100 * row['unseen_low']:.0f} and "
            f"{100 * row['unseen_high']:.0f} %."
        )
        return Finding((zone,), TOO_EARLY, "", says)
    numbers = f"{used} of the time against {offered} offered, {row['ratio']:.2f} times its share ({span}; {evidence})"
    if verdict == AVOIDED:
        return Finding((zone,), verdict, grade, f"{name} is used less than its share: {numbers}.")
    if verdict == FAVOURED:
        return Finding((zone,), verdict, grade, f"{name} is used more than its share: {numbers}.")
    return Finding(
        (zone,), TOO_EARLY, "", f"{name}: {numbers}. More or less than its share: cannot be told yet."
    )


def _verdict(row: dict[str, Any]) -> str:
    if row["ratio_high"] < 1:
        return AVOIDED
    return FAVOURED if row["ratio_low"] > 1 else TOO_EARLY


def _unseen_decide(row: dict[str, Any], verdict: str) -> bool:
    """Whether the verdict would turn if all unseen moments were there, or all elsewhere."""
    if verdict == AVOIDED:
        return bool(row["unseen_high"] >= row["available"])
    return bool(row["unseen_low"] <= row["available"])


def _headline(did: Effort) -> str:
    unseen = f", {did.unseen:,} not found" if did.unseen else ""
    missed = f", {did.missed:,} missed" if did.missed else ""
    return (
        f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {did.moments:,} moments seen"
        f"{unseen}{missed}. Each {did.cluster} counts once."
    )


def _cautions(
    declared: Declaration, rows: pd.DataFrame, did: Effort, availability: str
) -> tuple[Caution, ...]:
    kind = (
        "every zone counted alike"
        if availability == "equal"
        else f"{declared.measured_in} as entered in study.toml"
    )
    cautions = [Caution("availability", f"What is offered is measured in {kind}.")]
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


def _by(declared: Declaration, rows: pd.DataFrame, column: str, cluster: str, equal: bool) -> pd.DataFrame:
    """The same table for each animal, or each slot."""
    pieces = []
    for name, part in rows.groupby(column, sort=True):
        if part["zone"].notna().any():
            part = part.reset_index(drop=True)
            use = _use(declared, choices(declared, part, equal=equal, join=False), part, cluster)
            pieces.append(_table(use, cluster).assign(**{column: name}))
    return pd.concat(pieces, ignore_index=True) if pieces else pd.DataFrame(columns=[*COLUMNS, column])


def _indices(table: pd.DataFrame) -> pd.DataFrame:
    """Jacobs' D and E* by zone, and the spread of participation of all; the plain sentences use the ratio."""
    used, offered = table["used"].to_numpy(float), table["available"].to_numpy(float)
    return pd.DataFrame(
        {
            "zone": table["zone"], "jacobs_d": jacobs_d(used, offered), "e_star": zone_electivity(used, offered),
            "spread_of_participation": float(spread_of_participation(used, offered)),
        }
    )  # fmt: skip
