"""Retreats as a picture: where each is at home, who was found where, the months, and who is found together."""

from __future__ import annotations

from typing import Any

import pandas as pd

from ...pictures import MONTHS, EstimateRow, EstimateRows, Figure, Key, Matrix, MatrixRow, shares
from ..answer import Answer
from ..phrases import counted
from ..showing.plain import rows
from ..showing.said import capital, number, percent_with, source
from .judge import KEEPS, MOVES, STAYS, TOGETHER, UNUSED

# More than so many would be a wall of numbers; a picture of company needs three.
MOST_ANIMALS, _MOST_MONTHS, _LEAST_COMPANY = 40, 4, 3


def headline(answer: Answer) -> str:
    """Which retreats hold them and whether each keeps to one, in one sentence."""
    if not len(answer.table):
        return answer.findings[0].says if answer.findings else "Nobody was found in a retreat yet."
    told = []
    top = _fullest(answer)
    if top is not None:
        told.append(f"{top[0]} holds the most of those found in retreats, {100 * top[1]:.0f} %")
    for finding in answer.findings:
        if finding.verdict == KEEPS:
            told.append(
                _keep(answer)
                if len(finding.about) != 1
                else f"{_names(answer, finding.about)} keeps to one retreat"
            )
        elif finding.verdict == STAYS:
            told.append(_stay(answer))
        elif finding.verdict == UNUSED:
            told.append(
                f"{_names(answer, finding.about)} {'is' if len(finding.about) == 1 else 'are'} unused"
            )
        elif finding.verdict == MOVES:
            told.append("in dry spells the animals move to moister ones")
        elif finding.verdict == TOGETHER:
            told.append("some are found together more than chance would have it")
    told = list(dict.fromkeys(told))
    if not told:
        return "It is too early to tell which retreats are used and by whom."
    return capital(f"{told[0]}; {' and '.join(told[1:])}." if len(told) > 1 else f"{told[0]}.")


def _keep(answer: Answer) -> str:
    """Whether all that could be asked keep to their own, or how many of them."""
    keep = [f for f in answer.findings if f.verdict == KEEPS]
    some, known = sum(len(f.about) for f in keep), max(f.facts.get("known", 0) for f in keep)
    return "each keeps to its own" if some >= known else f"{some} of {known} animals keep to their own"


def _stay(answer: Answer) -> str:
    """Who is where it was at the last check, of whom nothing shows a place it comes back to."""
    stay = tuple(a for f in answer.findings if f.verdict == STAYS for a in f.about)
    return f"{_names(answer, stay)} {'stays' if len(stay) == 1 else 'stay'} on from check to check"


def _names(answer: Answer, about: tuple[str, ...]) -> str:
    from ..phrases import listed

    return (
        listed([answer.labels.get(a, a) for a in about])
        if len(about) <= 3
        else f"{number(len(about))} of them"
    )


def _fullest(answer: Answer) -> tuple[str, float] | None:
    part = answer.parts.get("months")
    if part is None or part["enclosure"].nunique() != 1:
        return None
    whole = [r for r in rows(part) if not str(r["month"])[:4].isdigit() and r["share"] is not None]
    best = max(whole, key=lambda r: r["share"], default=None)
    return None if best is None else (str(best["zone_label"]), float(best["share"]))


def figure(answer: Answer) -> Figure:
    table = rows(answer.table)
    panels: list[EstimateRows | Matrix] = [
        p for p in (_homes(table), _shares(table, answer), _season(answer)) if p is not None
    ]
    panels += company(answer)
    says = ". ".join(
        f"{_who(r)}: {r['zone_label']} {percent_with(r['share'], r['share_low'], r['share_high'])} of checks"
        for r in table
        if r["home"]
    )
    did = answer.effort
    return Figure(
        "retreats", answer.headline.rstrip("."),
        f"Shares of the checks; {counted(did.get('checks', 0), 'check')} on {counted(did.get('days', 0), 'day')}",
        source(answer.study), tuple(panels), f"{says or 'Nobody was found often enough'}.",
    )  # fmt: skip


def _who(row: dict[str, Any]) -> str:
    return str(row["animal_label"] or row["group_label"])


def _homes(table: list[dict[str, Any]]) -> EstimateRows | None:
    """The retreat each is found in most, how often, with its limits."""
    homes = sorted((r for r in table if r["home"]), key=lambda r: -(r["share"] or 0))
    if not homes:
        return None
    lines = tuple(
        EstimateRow(
            _who(r), r["share"], r["share_low"], r["share_high"],
            said=percent_with(r["share"], r["share_low"], r["share_high"]), verdict=str(r["zone_label"]),
            beside="" if r["stay_probability"] is None else f"stays {100 * r['stay_probability']:.0f} %", claims=True,
            about=(str(r["animal"] or r["group"]),),
        )
        for r in homes[:MOST_ANIMALS]
    )  # fmt: skip
    scale = shares(v for line in lines for v in (line.middle, line.high))
    key = (Key("interval", "share of checks in the retreat it was found in most, 95 % limits"),)
    return EstimateRows(scale, lines, "At home", None, key, max(len(homes) - MOST_ANIMALS, 0))


def _shares(table: list[dict[str, Any]], answer: Answer) -> Matrix | None:
    who = list(dict.fromkeys(str(r["animal"] or r["group"]) for r in table))
    places = list(dict.fromkeys(str(r["zone"]) for r in table))
    if not who or len(who) > MOST_ANIMALS:
        return None
    cells = {(str(r["animal"] or r["group"]), str(r["zone"])): r for r in table}
    lines = tuple(
        MatrixRow(
            answer.labels.get(w, w), tuple(cells[w, p]["share"] if (w, p) in cells else None for p in places),
            tuple(j for j, p in enumerate(places) if (w, p) in cells and cells[w, p]["home"]),
        )
        for w in who
    )  # fmt: skip
    return Matrix(tuple(answer.labels.get(p, p) for p in places), lines, "Share of checks in each retreat, %")


def _season(answer: Answer) -> EstimateRows | None:
    """The share of each retreat month by month, where there is more than one month."""
    part = answer.parts.get("months")
    if part is None or part["enclosure"].nunique() != 1:
        return None
    listed = [r for r in rows(part) if str(r["month"])[:4].isdigit() and r["share"] is not None]
    months = sorted({r["month"] for r in listed})[-_MOST_MONTHS:]
    if len(months) < 2:
        return None
    zones = dict.fromkeys(str(r["zone"]) for r in listed)
    lines = [
        line for zone in zones for line in _months(zone, [r for r in listed if r["zone"] == zone], months)
    ]
    scale = shares(v for line in lines for v in (line.middle, line.high))
    heading = "Month by month: of those found in retreats, the share in each"
    return EstimateRows(scale, tuple(lines), heading, None, (Key("interval", "share with 95 % limits"),))


def _months(zone: str, mine: list[dict[str, Any]], months: list[str]) -> list[EstimateRow]:
    return [
        EstimateRow(
            f"{MONTHS[int(r['month'][5:7]) - 1]} {r['month'][:4]}", r["share"], r["share_low"], r["share_high"],
            said=percent_with(r["share"], r["share_low"], r["share_high"]), about=(zone,),
            group=str(r["zone_label"]) if k == 0 else "", claims=True,
        )
        for k, r in enumerate(r for r in mine if r["month"] in months)
    ]  # fmt: skip


def company(answer: Answer) -> list[Matrix]:
    """Who is found together, one panel for each enclosure with three animals or more."""
    listed = answer.parts.get("matrix")
    if listed is None or not len(listed):
        return []
    panels = []
    for enclosure, part in listed.groupby("enclosure"):
        names = part.drop_duplicates("position").sort_values("position")["animal"].astype(str).tolist()
        if not _LEAST_COMPANY <= len(names) <= MOST_ANIMALS:
            continue
        grid = part.pivot(index="position", columns="other_position", values="half_weight")
        shown = tuple(answer.labels.get(n, n) for n in names)
        lines = tuple(
            MatrixRow(
                shown[i], tuple(None if i == j or pd.isna(v) else float(v) for j, v in enumerate(values))
            )
            for i, values in enumerate(grid.to_numpy())
        )
        several = f", {enclosure}" if listed["enclosure"].nunique() > 1 else ""
        panels.append(Matrix(shown, lines, f"Found together{several}: 0 never, 1 always", squares=True))
    return panels
