"""What the retreats answer says beside its findings: the headline, notes, and cautions."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...study import QUANTITIES, Declaration, moisture
from ...tables import adjustments
from ..finding import Caution
from ..phrases import SLOT_SAID, counted
from ..quantities_said import said
from ..question import Question
from ..showing.said import capital
from .checks import Checks
from .judge import ALPHA, found_unlike
from .use import ALL_MONTHS


def headline(
    every: Sequence[Checks], months: pd.DataFrame, evenness: pd.DataFrame, labels: Mapping[str, str]
) -> str:
    """How much was looked, how many were found, where most of them were."""
    checks, alive = sum(len(c) for c in every), sum(int(c.alive.sum()) for c in every)
    found, days = sum(int(c.found.sum()) for c in every), len({day for c in every for day in c.days})
    says = f"{counted(checks, 'check')} on {counted(days, 'day')}; "
    says += f"{found / checks:.1f} of {alive / checks:.1f} animals present were found at each, on average. "
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
        f"{capital(labels[most['zone']])} holds most, {100 * most['share']:.0f} % of those in retreats "
        f"({100 * most['share_low']:.0f} to {100 * most['share_high']:.0f})"
    )
    return says + (f"; evenness {even:.2f} of 1." if np.isfinite(even) else ".")


def conditions_said(declared: Declaration, chosen: pd.DataFrame) -> Iterator[str]:
    """One sentence for each enclosure and kind of animal: moisture if it is logged, else what is."""
    for keys, part in chosen.groupby(["enclosure", "who"], sort=False):
        who = str(keys[1])
        quantities = list(dict.fromkeys(part["quantity"]))
        quantity = next((q for q in moisture() if q in quantities), quantities[0])
        rows = part[part["quantity"] == quantity].set_index("fit").to_dict("index")
        alone, within = rows["alone"], rows["by changes within retreats"]
        if not np.isfinite(alone["odds"]) or (alone["odds_low"] < 1 and alone["odds_high"] > _BOUNDLESS):
            continue
        label = declared.groups[who].label if who in declared.groups else "Animals that moved"
        step = said(quantity, QUANTITIES[quantity].step or 1.0, declared.fahrenheit, difference=True).replace(
            ".0 ", " "
        )
        more = QUANTITIES[quantity].more
        behind = f"{counted(int(alone['choices']), 'choice')} at {counted(int(alone['checks']), 'check')}"
        if np.isfinite(within["odds"]) and within["odds_high"] < _BOUNDLESS:
            yield (
                f"{label} chose a retreat {_odds(within)} as readily for each {step} it was {more} than usual "
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
    """Checks that do not fit the number present, and retreats left out."""
    over = [day for c in every for day, n, found in zip(c.days, c.alive, c.found, strict=True) if found > n]
    if over:
        yield (
            f"At {counted(len(over), 'check')} more animals were found than study.toml says are there (first on "
            f"{over[0].day} {over[0]:%b %Y}): give births, arrivals and loans their dates."
        )
    left = sum(int(((c.capacity > 0) & ~c.looked).sum()) for c in every)
    if left:
        total = sum(int((c.capacity > 0).sum()) for c in every)
        yield f"Not made: {left:,} of {total:,} looks into a retreat; shares are over those that were."


def guesses_said(guesses: int, apart: pd.Series | None, labels: Mapping[str, str]) -> Iterator[str]:
    """What changes without the guesses, where there are any; ``apart`` is by how much each retreat's share does."""
    if apart is None or not len(apart):
        return
    changes = "without them no retreat's share changes by a point"
    if apart.max() >= 0.005:
        name = labels[str(apart.idxmax())]
        size = counted(round(100 * apart.max()), "point")
        changes = f"without them the share of {name} changes by {size}, others by less"
    are = "is a guess and counts" if guesses == 1 else "are guesses and count"
    yield f"{guesses:,} of the records {are}; {changes}."


def lifting_said(lifting: pd.DataFrame) -> Iterator[str]:
    """One sentence for each enclosure in which covers were lifted and also left in place."""
    for _, part in lifting.groupby("enclosure", sort=True):
        by = part.set_index("cover").to_dict("index")
        lifted, other = by["lifted"], by["left in place"]
        if min(lifted["checks"], other["checks"]) < 2:
            continue
        low, high = max(lifted["left_low"], 0.0), min(lifted["left_high"], 1.0)
        yield (
            f"After its cover was lifted an animal was elsewhere at the next check {100 * lifted['left']:.0f} % of the "
            f"time ({100 * low:.0f} to {100 * high:.0f}, {counted(int(lifted['checks']), 'check')}), otherwise "
            f"{100 * other['left']:.0f} %."
        )


def cautions(question: Question, rows: pd.DataFrame, every: Sequence[Checks]) -> tuple[Caution, ...]:
    found = [Caution("one-enclosure", _one_enclosure(every))]
    if season := _one_season(question, every):
        found.append(Caution("season", season))
    if any(len(c.animals) > 1 for c in every):
        says = "A check at which only one of two was found is no evidence that they were apart."
        found.append(Caution("unseen", says))
    found += [Caution("times-of-day", says) for says in _times_of_day(rows)]
    found += [Caution("unevenly-found", says) for c in every for says in _unevenly(question.declared, c)]
    return tuple(found)


def _one_season(question: Question, every: Sequence[Checks]) -> str:
    """A sentence where season and change cannot be told apart, as in one year; else empty."""
    days = [day for c in every for day in c.days]
    months = {(day.year, day.month) for day in days}
    if len({day.year for day in days}) > 1 and len({m for _, m in months}) < len(months):
        return ""
    changes = adjustments(question.journals)
    made = sum(min(days) <= change.at.date() <= max(days) for change in changes) if days else 0
    told = f" ({counted(made, 'change')} on record)" if made else ""
    return f"Season, ageing and any change made meanwhile{told} cannot be told apart within one year."


def _one_enclosure(every: Sequence[Checks]) -> str:
    many = max((round(float(np.maximum(c.alive, c.found).mean())) for c in every), default=0)
    if len(every) == 1:
        if many < 2:
            return "This speaks for this animal in this enclosure in the weeks watched, not for others of its kind."
        return (
            f"{many} animals in one enclosure are one enclosure: this speaks for it in the weeks watched, not for "
            f"{many} of a kind."
        )
    return f"{len(every)} enclosures are {len(every)} cases in the weeks watched, however many animals share them."


# A time of day at this part of the checks or more is no exception any more.
_MIXED = 0.2


def _times_of_day(rows: pd.DataFrame) -> Iterator[str]:
    """Checks at rest and checks of active animals answer two questions."""
    slots = rows.drop_duplicates("check")["slot"].value_counts()
    often = slots[slots >= _MIXED * slots.sum()]
    if len(often) > 1 and set(often.index) <= set(SLOT_SAID):
        told = ", ".join(f"{n} {SLOT_SAID[str(slot)]}" for slot, n in often.items())
        yield f"Checks of different times of day are mixed here ({told}); --slot {often.index[0]} keeps to one."


def _unevenly(declared: Declaration, checks: Checks) -> Iterator[str]:
    """Are some animals found more often than others, over the checks at which all were there."""
    unlike = found_unlike(checks)
    if unlike is not None:
        most, often, least, seldom, of = unlike
        names = [declared.animals[a].label for a in (most, least)]
        yield f"Not all were found alike: {names[0]} at {often} of {of} checks, {names[1]} at {seldom}."
