"""The answer in five sentences: what the study is, where the animals are, why, what the last change did, what to do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from ...answers.climate import DRYING, without_basis
from ...answers.finding import TOO_EARLY, Finding
from ...answers.phrases import counted, listed, often
from ...answers.preference import cause_said, chosen_places, nearness
from ...answers.quantities_said import brief, label, said, span_of, unit, what_of
from ...answers.shifts import expected_places
from ...answers.showing.plain import rows
from ...answers.showing.said import number as as_word
from ...answers.showing.said import times
from ...pictures import clock_said, span_said
from ...readings.trust import age_words
from ...study import to_ms, value_at
from ..gathered import Gathered

_FRESH = timedelta(days=2)
_MOST_NAMED = 6


@dataclass(frozen=True, slots=True)
class Sentence:
    """One of the five: what it is about, what it says, and how far to trust it ("" where that is said in it)."""

    about: str
    says: str
    trust: str = ""


def five(found: Gathered) -> list[Sentence]:
    return [study_said(found), where_said(found), why_said(found), _change(found), _to_do(found)]


def number(count: int, what: str) -> str:
    """``eight animals``, ``one enclosure``, ``14 loggers``."""
    return f"{as_word(count)} {what}{'' if count == 1 else 's'}"


def _inhabitants(found: Gathered) -> str:
    """The animals and groups the page is about: one by its name, several by their number."""
    wanted = found.filters.animals
    animals = [a.label for a in found.declared.animals.values() if not wanted or a.id in wanted]
    groups = [g.label for g in found.declared.groups.values() if not wanted or g.id in wanted]
    some = animals[0] if len(animals) == 1 else number(len(animals), "animal")
    found_there = [*([some] if animals else []), *groups]
    return listed(found_there) if found_there else "no animal yet"


def study_said(found: Gathered) -> Sentence:
    declared, did = found.declared, found.zones.effort
    names = _inhabitants(found)
    where = number(len(declared.enclosures), "enclosure") + (
        f", {found.filters.slot} only" if found.filters.slot else ""
    )
    loggers = f", with {number(len(declared.loggers), 'logger')}" if declared.loggers else ", without loggers"
    if not did.get("sessions"):
        return Sentence("The study", f"{_capital(names)} in {where}{loggers}: nothing has been watched yet.")
    days = [w.day for w in found.watched if w.counted]
    span = f" from {span_said(min(days), max(days))}" if days else ""
    return Sentence(
        "The study",
        f"{_capital(names)} in {where}, watched in {counted(did['sessions'], 'session')} on "
        f"{counted(did['days'], 'day')}{span}{loggers}; an animal was seen {often(did['moments'])}"
        + (f" and not found {often(did['unseen'])}." if did["unseen"] else ", and never looked for in vain."),
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def where_said(found: Gathered) -> Sentence:
    zones = found.zones
    verdicts = {f.about[0]: f for f in zones.findings if f.about}
    table = {str(r["zone"]): r for r in rows(zones.table)}
    parts, trust = [], ""
    for word, how in (
        ("avoided", "avoided"),
        ("favoured", "favoured"),
        ("in proportion", "used in proportion"),
    ):
        named = [z for z, f in verdicts.items() if f.verdict == word and z in table]
        if named:
            parts.append(
                f"{_some([_times(zones.labels.get(z, z), table[z]) for z in named])} {_is(named)} {how}"
            )
            trust = trust or verdicts[named[0]].standing
    early = sum(f.verdict == TOO_EARLY for f in verdicts.values())
    if not parts:
        return Sentence(
            "Where they are",
            f"Too early to tell for any zone whether it is avoided or favoured{_settle(found)}.",
        )
    rest = f"; for {'the others' if early > 1 else 'the other'} it is too early to tell" if early else ""
    return Sentence("Where they are", _capital("; ".join(parts)) + rest + ".", trust)


def _is(named: Sequence[str]) -> str:
    return "is" if len(named) == 1 else "are"


def _some(names: Sequence[str]) -> str:
    """Names in a row; of very many the first few and how many more."""
    return listed(
        names if len(names) <= _MOST_NAMED else [*names[: _MOST_NAMED - 2], f"{len(names) - 4} more"]
    )


def _times(name: str, row: Mapping[str, Any]) -> str:
    limits = "" if row["ratio_low"] is None else f", {times(row['ratio_low'])} to {times(row['ratio_high'])}"
    return f"{name} ({times(row['ratio'])} times its share{limits})"


def _settle(found: Gathered) -> str:
    """How much more watching would probably settle the zone that needs least of it."""
    part = found.zones.parts.get("settling")
    known = [] if part is None else [r for r in rows(part) if r["more"] is not None]
    if not known:
        return ""
    least = min(known, key=lambda r: float(r["more"]))
    unit = found.zones.effort.get("cluster", "session")
    name = found.zones.labels.get(least["zone"], least["zone"])
    return f"; {counted(int(least['more']), f'more {unit}')} would probably settle {name}"


def why_said(found: Gathered) -> Sentence:
    prefer = found.prefer
    told, unknown = _causes(found)
    trust = ""
    verdicts = {f.about[0]: f for f in prefer.findings if len(f.about) == 1}
    for row in rows(prefer.table):
        finding = verdicts.get(row["quantity"])
        if finding is not None and finding.verdict != TOO_EARLY:
            told.append(_shape(row, finding, found.declared.fahrenheit))
            trust = trust or finding.standing
    if told:
        if unknown:
            told.append(f"it is too early to tell what keeps them from {listed(unknown)}")
        return Sentence("Why", _capital("; ".join(told)) + ".", trust)
    first = prefer.findings[0].says if prefer.findings else "Nothing can be said of conditions yet."
    return Sentence("Why", f"Too early to say. {first}")


def _causes(found: Gathered) -> tuple[list[str], list[str]]:
    """What speaks against each avoided zone, and the zones of which that cannot be told."""
    part = found.prefer.parts.get("why")
    told: list[str] = []
    unknown: list[str] = []
    for zone, terms in part.groupby("zone", sort=False) if part is not None and len(part) else ():
        name = found.prefer.labels.get(str(zone), str(zone))
        cause = next((r for r in rows(terms) if r["cause"]), None)
        if cause is None:
            unknown.append(name)
        else:
            mostly = _that(cause_said(cause["term"], cause["difference"]))
            told.append(f"what speaks most against {name} is {mostly}")
    return told, unknown


def _that(cause: str) -> str:
    return f"that it is {cause}" if cause.startswith("too ") else cause


def _shape(row: Mapping[str, Any], finding: Finding, f: bool) -> str:
    q = row["quantity"]
    offer = span_of(q, row["offered_low"], row["offered_high"], f)
    if row["shape"] == "peaked":
        return f"{chosen_places(finding, f, what_of(q))} are used most"
    if row["shape"] == "flat":
        return f"{label(q)} makes little difference within {offer}"
    if row["shape"] == "threshold" and row["edge"] is not None:
        side = "below" if finding.facts["side"] == "low" else "above"
        return f"places {side} {said(q, row['edge'], f)}{what_of(q)} are avoided"
    if row["shape"] in ("uneven", "threshold"):
        return f"{label(q)} is used unevenly within {offer}"
    higher, lower = nearness(q)
    return f"the {higher if row['shape'] == 'rising' else lower} places on offer are chosen ({offer})"


_ORDER = {"rose": 0, "fell": 0, "held": 1, "confounded": 2, TOO_EARLY: 3}


def _change(found: Gathered) -> Sentence:
    if not found.changes:
        return Sentence("The last change", "No change to the enclosure is on record yet.")
    change = found.changes[-1]
    about = [f for f in found.shifts.findings if change.id in f.about]
    expected = set(expected_places(found.declared, change))
    if not about:
        return Sentence("The last change", "Too early to say anything of the last change.")
    # What was expected comes first, whatever else moved.
    best = min(about, key=lambda f: (not expected & set(f.about), _ORDER.get(f.verdict, 4)))
    early = "Too early to say. " if best.verdict == TOO_EARLY else ""
    return Sentence("The last change", early + best.says, best.standing)


def _to_do(found: Gathered) -> Sentence:
    needed = _needed(found)
    return replace(needed, says=f"{needed.says.rstrip()}{_in_time(found)}{_next(found)}")


def _in_time(found: Gathered) -> str:
    """The last water on record of a zone with a lower limit of yours: how dry it was, and whether that was in time."""
    part = found.climate.parts.get("responses")
    poured = [
        r for r in (rows(part) if part is not None else [])
        if r["adjustment"] and r["before"] is not None and _least(found, r) is not None
    ]  # fmt: skip
    if not poured:
        return ""
    last = max(poured, key=lambda r: datetime.fromisoformat(str(r["at"])))
    low, before = _least(found, last), float(last["before"])
    assert low is not None
    name = found.climate.labels.get(last["zone"], last["zone"])
    at = clock_said(datetime.fromisoformat(str(last["at"])), found.declared.timezone)
    how = "before" if before >= low else "after"
    q, f = str(last["quantity"]), found.declared.fahrenheit
    return (
        f" {name} had dried to {_round(q, before, f)} and was given water on {at}, {how} it passed your limit of "
        f"{_round(q, low, f)}."
    )


def _round(quantity: str, value: float, fahrenheit: bool) -> str:
    """As people say it: ``75 %``."""
    return f"{brief(quantity, value, fahrenheit)} {unit(quantity, fahrenheit)}"


def _least(found: Gathered, row: Mapping[str, Any]) -> float | None:
    """Your lower limit of a zone when it was given water."""
    dated = found.declared.limits.get(str(row["zone"]), {}).get(str(row["quantity"]), ())
    bounds = value_at(dated, datetime.fromisoformat(str(row["at"])))
    return None if bounds is None else bounds.low


def _needed(found: Gathered) -> Sentence:
    """What the readings ask for, then what watching would settle."""
    climate = found.climate
    if _stale(found):
        # What was so long ago is no work for today.
        return Sentence("What needs doing", _newest(found))
    urgent = climate.parts["alerts"]["why"].tolist() if "alerts" in climate.parts else []
    if urgent:
        told = [str(w) for w in urgent[:3]]
        return Sentence("What needs doing", " ".join(told))
    wanted = [f for f in climate.findings if f.verdict in ("recharge now", "outside limits")]
    soon = [f for f in climate.findings if f.verdict == DRYING and "limit" in f.numbers]
    if first := next(iter((*wanted, *soon)), None):
        drying = first.facts["kind"] == "drying"
        says = without_basis(first, climate.labels) if drying else first.says
        return Sentence("What needs doing", f"{says} {_newest(found)}".strip(), first.standing)
    return Sentence("What needs doing", _nothing_needed(found))


def _nothing_needed(found: Gathered) -> str:
    """What is said where no reading asks for anything."""
    if not found.declared.loggers or not len(found.climate.table):
        return f"Without readings nothing can be said of heat and moisture{_settle(found)}."
    if not found.declared.limits:
        return (
            f"You set no limits, so no reading can be called outside them{_settle(found)}. {_newest(found)}"
        )
    return f"By the newest readings no zone is outside your limits{_settle(found)}. {_newest(found)}"


def _next(found: Gathered) -> str:
    """The next session drawn by lot, where there is a plan."""
    plan = found.more.get("plan")
    if plan is None:
        return ""
    when = str(plan.table["when"].iloc[0])
    return f" Next session by lot: {plan.labels.get(when, when)}."


def _last_reading(found: Gathered) -> datetime | None:
    newest = [datetime.fromisoformat(at) for at in found.climate.effort.get("newest", {}).values()]
    return max(newest, default=None)


def _stale(found: Gathered) -> bool:
    last = _last_reading(found)
    return last is not None and found.made - last > _FRESH


def _newest(found: Gathered) -> str:
    """The age of what this rests on."""
    last = _last_reading(found)
    if last is None:
        return ""
    old = " Take newer ones in first." if _stale(found) else ""
    at = clock_said(last, found.declared.timezone)
    return f"The newest reading is of {at}, {age_words(to_ms(last), found.made)}.{old}"
