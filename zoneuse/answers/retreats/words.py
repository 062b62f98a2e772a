"""What the retreats answer says in words."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...journal.reader import Journals
from ...stats.resampling.paired import cochran, mcnemar
from ...study.model import Declaration
from ...tables.phases import adjustments
from ..filters import Filters
from ..finding import TOO_EARLY, Caution, Finding, standing
from ..phrases import counted
from ..quantities_said import said
from .checks import Checks, checks_by_enclosure
from .conditions import MOISTURE, STEP
from .use import ALL_MONTHS, months_table, places_unused

# A retreat that holds at most this share may be called unused.
RARE = 0.05
ALPHA = 0.05


def headline(
    every: Sequence[Checks], months: pd.DataFrame, evenness: pd.DataFrame, labels: Mapping[str, str]
) -> str:
    """How much was looked, how many were found, where most of them were."""
    checks, alive = sum(len(c) for c in every), sum(int(c.alive.sum()) for c in every)
    found, days = sum(int(c.found.sum()) for c in every), len({day for c in every for day in c.days})
    says = f"{counted(checks, 'check')} on {counted(days, 'day')}; "
    says += f"{found / checks:.1f} of {alive / checks:.1f} animals known alive found at each, on average. "
    return f"{says}{_most(every, months, evenness, labels)}".strip()


def _most(
    every: Sequence[Checks], months: pd.DataFrame, evenness: pd.DataFrame, labels: Mapping[str, str]
) -> str:
    """Where most are; of several enclosures, in how many of them it is which retreat."""
    best = {}
    for c in every:
        mine = months[(months["enclosure"] == c.enclosure) & (months["month"] == ALL_MONTHS)]
        most = mine.sort_values("share", ascending=False, kind="stable").iloc[0]
        if most["share"] > 0:
            best[c.enclosure] = most
    if not best:
        return ""
    if len(every) > 1:
        places = pd.Series([str(most["zone"]) for most in best.values()]).value_counts()
        told = [f"{labels[str(place)]} in {n}" for place, n in places.items()]
        return f"The retreat that holds most: {', '.join(told)} of {len(every)} enclosures."
    most = next(iter(best.values()))
    even = float(evenness.loc[evenness["month"] == ALL_MONTHS, "evenness"].iloc[0])
    says = (
        f"{labels[most['zone']]} holds most, {100 * most['share']:.0f} % of those in retreats "
        f"({100 * most['share_low']:.0f} to {100 * most['share_high']:.0f})"
    )
    return says + (f"; evenness {even:.2f} of 1." if np.isfinite(even) else ".")


def unused_said(checks: Checks, labels: Mapping[str, str], several: bool) -> Iterator[Finding]:
    """Retreats nobody was found in, and what that is worth: an animal's stay is one look, a check at most one."""
    trust = standing(len(checks), len(set(checks.days)))
    where = f" ({checks.enclosure})" if several else ""
    alike: dict[tuple[int, float], list[str]] = {}
    for place, looked, could_be in places_unused(checks):
        alike.setdefault((looked, could_be), []).append(place)
    for (looked, could_be), places in alike.items():
        enough = bool(trust) and could_be <= RARE
        says = (
            f"{listed([labels[p] for p in places])}{where}: nobody found in {counted(looked, 'check')}. That fits a "
            f"share of up to {100 * could_be:.0f} %; 59 checks without a visit are needed to call a 5 % retreat unused."
        )
        yield Finding(tuple(places), "unused" if enough else TOO_EARLY, trust if enough else "", says=says)


def listed(names: Sequence[str]) -> str:
    """``Ann``, ``Ann and Bo``, ``Ann, Bo and Cy``."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def dry_said(every: Sequence[Checks], dry: pd.DataFrame) -> Iterator[Finding]:
    """Where animals that moved went in dry spells; a verdict where the difference leaves zero out."""
    by_enclosure = {c.enclosure: c for c in every}
    for row in dry.to_dict("records"):
        animals = by_enclosure[row["enclosure"]].animals
        if not row["spells"]:
            yield Finding(
                animals, TOO_EARLY, "", says="No dry spell is on record, so what they do in one is not known."
            )
            continue
        trust = standing(int(row["checks_with_moves_dry"]), int(row["days_with_moves_dry"]))
        stands = bool(trust) and moves_when_dry(row)
        yield Finding(
            animals,
            "moves when dry" if stands else TOO_EARLY,
            trust if stands else "",
            says=_dry(row, stands),
        )


def moves_when_dry(row: Mapping[Hashable, Any]) -> bool:
    """Whether a row of the dry spells part shows moves to moister retreats, than usual or than those left."""
    return bool(row["than_usual_low"] > 0 or row["moister_dry_low"] > 0)


def _dry(row: Mapping[Hashable, Any], stands: bool) -> str:
    spells = int(row["spells"])
    where = "the 1 dry spell" if spells == 1 else f"the {spells} dry spells"
    if not row["moves_dry"] or not np.isfinite(row["moister_dry"]):
        return f"In {where} no animal was seen to move between retreats with known moisture."
    told = [f"{_moister(row, 'moister_dry')} than those they left"]
    if np.isfinite(row["than_usual"]):
        told.append(f"{_moister(row, 'than_usual')} than if they chose as at other times")
    if row["than_usual_low"] > 0 and not row["moister_dry_low"] > 0:
        told.reverse()
    says = f"In {where}, animals that moved went to retreats {' and '.join(told)}"
    says += f"; {100 * row['moved_dry']:.0f} % moved from one check to the next"
    if np.isfinite(row["moved_other"]):
        says += f", {100 * row['moved_other']:.0f} % at other times"
    return says + ("." if stands else ". That could be luck.")


def _moister(row: Mapping[Hashable, Any], name: str) -> str:
    """``11 points moister (6 to 16)``, below ten points with a decimal."""
    value, low, high = row[name], row[f"{name}_low"], row[f"{name}_high"]
    if value < 0 < high and np.isfinite(high):
        return f"no moister ({low:.1f} to {high:.1f} points)"
    sign = 1 if value >= 0 else -1
    digits = 0 if abs(value) >= 10 else 1
    limits = "(at one check only)"
    if np.isfinite(low):
        first, last = sorted((sign * low, sign * high))
        limits = f"({first:.{digits}f} to {last:.{digits}f})"
    return f"{abs(value):.{digits}f} points {'moister' if sign > 0 else 'drier'} {limits}"


def conditions_said(declared: Declaration, chosen: pd.DataFrame) -> Iterator[str]:
    """One sentence for each enclosure and kind of animal: moisture if it is logged, else what is."""
    for keys, part in chosen.groupby(["enclosure", "who"], sort=False):
        who = str(keys[1])
        quantities = list(dict.fromkeys(part["quantity"]))
        quantity = next((q for q in MOISTURE if q in quantities), quantities[0])
        rows = part[part["quantity"] == quantity].set_index("fit").to_dict("index")
        alone, within = rows["alone"], rows["by changes within retreats"]
        if not np.isfinite(alone["odds"]) or (alone["odds_low"] < 1 and alone["odds_high"] > _BOUNDLESS):
            continue
        label = declared.groups[who].label if who in declared.groups else "Animals that moved"
        step = said(quantity, STEP[quantity], declared.fahrenheit, difference=True).replace(".0 ", " ")
        more = "moister" if quantity in MOISTURE else "warmer"
        behind = f"{counted(int(alone['choices']), 'choice')} at {counted(int(alone['checks']), 'check')}"
        if np.isfinite(within["odds"]) and within["odds_high"] < _BOUNDLESS:
            yield (
                f"{label} chose a retreat {_odds(within)} as readily for each {step} it was {more} than at other times "
                f"({behind}). Between retreats it is {_odds(alone)}, but they differ in more than that."
            )
        else:
            yield (
                f"{label} chose {_odds(alone)} as readily for each {step} a retreat was {more} ({behind}), but "
                "retreats differ in more than that."
            )


# Limits beyond this say that the choices follow the quantity too closely, or too few were made, for a number.
_BOUNDLESS = 100.0


def _odds(row: Mapping[Hashable, Any]) -> str:
    if row["odds_high"] > _BOUNDLESS:
        return f"more than {row['odds_low']:.1f} times"
    return f"{row['odds']:.1f} times ({row['odds_low']:.1f} to {row['odds_high']:.1f})"


def season_said(seasons: pd.DataFrame, labels: Mapping[str, str]) -> Iterator[str]:
    changed = seasons[seasons["p_holm"] <= ALPHA]
    for _, part in changed.groupby("enclosure", sort=True):
        names = ", ".join(labels[z] for z in part["zone"])
        yield (
            f"Use differed between months ({counted(int(part['animals'].iloc[0]), 'animal')}, each compared with "
            f"itself): {names}."
        )


def counted_said(declared: Declaration, every: Sequence[Checks]) -> Iterator[str]:
    """Checks that do not fit the number known alive, and retreats left out."""
    over = [day for c in every for day, n, found in zip(c.days, c.alive, c.found, strict=True) if found > n]
    if over:
        yield (
            f"At {counted(len(over), 'check')} more animals were found than study.toml knows alive (first on "
            f"{over[0]:%d %b %Y}): give births, arrivals and loans their dates."
        )
    left = sum(int(((c.capacity > 0) & ~c.looked).sum()) for c in every)
    if left:
        total = sum(int((c.capacity > 0).sum()) for c in every)
        yield f"Not made: {left:,} of {total:,} looks into a retreat; shares are over those that were."


def guesses_said(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    rows: pd.DataFrame,
    filters: Filters,
    months: pd.DataFrame,
    labels: Mapping[str, str],
) -> Iterator[str]:
    """What changes without the guesses, where there are any."""
    guesses = int((~rows["sure"] & rows["zone"].notna()).sum())
    if not guesses or guesses == int(rows["zone"].notna().sum()):
        return
    sure = months_table(checks_by_enclosure(declared, journals, moments, rows[rows["sure"]], filters))
    keys = ["enclosure", "month", "zone"]
    both = months[months["month"] == ALL_MONTHS].merge(sure, on=keys, suffixes=("", "_sure"))
    apart = (both["share_sure"] - both["share"]).abs()
    if len(apart):
        if apart.max() < 0.005:
            changes = "without them no retreat's share changes by a point"
        else:
            name = labels[str(both["zone"].iloc[int(np.argmax(apart))])]
            changes = (
                f"without them the share of {name} changes by {100 * apart.max():.0f} points, others by less"
            )
        yield f"{guesses:,} of the records are guesses and count; {changes}."


def cautions(
    declared: Declaration, journals: Journals, rows: pd.DataFrame, every: Sequence[Checks]
) -> tuple[Caution, ...]:
    found = [Caution("one-enclosure", _one_enclosure(every))]
    years = {day.year for c in every for day in c.days}
    months = {(day.year, day.month) for c in every for day in c.days}
    if len(years) == 1 or len({m for _, m in months}) == len(months):
        first, last = (end(day for c in every for day in c.days) for end in (min, max))
        made = sum(first <= change.at.date() <= last for change in adjustments(journals))
        changes = f" ({counted(made, 'change')} on record)" if made else ""
        says = f"Season, ageing and any change made meanwhile{changes} cannot be told apart within one year."
        found.append(Caution("season", says))
    if any(len(c.animals) > 1 for c in every):
        says = "A check at which only one of two was found is no evidence that they were apart."
        found.append(Caution("unseen", says))
    found += [Caution("times-of-day", says) for says in _times_of_day(rows)]
    found += [Caution("unevenly-found", says) for c in every for says in _unevenly(declared, c)]
    return tuple(found)


def _one_enclosure(every: Sequence[Checks]) -> str:
    many = max((round(float(np.maximum(c.alive, c.found).mean())) for c in every), default=0)
    if len(every) == 1:
        if many < 2:
            return "This speaks for this animal in this enclosure, not for others of its kind."
        return f"{many} animals in one enclosure are one enclosure: this speaks for it, not for {many} of a kind."
    return f"{len(every)} enclosures are {len(every)} cases, however many animals share them."


_WHEN = {"dawn": "around lights-on", "day": "by day", "dusk": "around lights-off", "night": "at night"}
# A time of day at this part of the checks or more is no exception any more.
_MIXED = 0.2


def _times_of_day(rows: pd.DataFrame) -> Iterator[str]:
    """Checks at rest and checks of active animals answer two questions."""
    slots = rows.drop_duplicates("check")["slot"].value_counts()
    often = slots[slots >= _MIXED * slots.sum()]
    if len(often) > 1 and set(often.index) <= set(_WHEN):
        told = ", ".join(f"{n} {_WHEN[str(slot)]}" for slot, n in often.items())
        yield f"Checks of different times of day are mixed here ({told}); --slot {often.index[0]} keeps to one."


def _unevenly(declared: Declaration, checks: Checks) -> Iterator[str]:
    """Are some animals found more often than others, over the checks at which all were there."""
    whole = checks.lives.all(axis=1)
    seen = ((checks.where >= 0) | checks.out)[whole].astype(np.int64)
    if seen.shape[1] < 2 or len(seen) < 5:
        return
    if seen.shape[1] == 2:
        only = int((seen[:, 0] > seen[:, 1]).sum()), int((seen[:, 1] > seen[:, 0]).sum())
        p = mcnemar(*only).p_exact
    else:
        p = cochran(seen)[1]
    if np.isfinite(p) and p <= 0.01:
        most, least = int(seen.sum(axis=0).argmax()), int(seen.sum(axis=0).argmin())
        names = [declared.animals[checks.animals[i]].label for i in (most, least)]
        yield (
            f"Not all were found alike: {names[0]} at {seen[:, most].sum()} of {len(seen)} checks, {names[1]} at "
            f"{seen[:, least].sum()}."
        )
