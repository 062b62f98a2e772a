"""What the zones answer says: a sentence for each place, the headline, and the cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ...stats.space_use import UNEVEN, ZoneUse
from ...tables import unlooked_places
from .. import reasons
from ..effort import Effort, once_said
from ..finding import Caution, Finding, standing
from ..nothing import nothing_said
from ..phrases import counted, listed, speaks_for, times_mixed
from ..question import Question
from ..showing.said import about_so_many, times
from .judge import AVOIDED, FAVOURED, IN_PROPORTION

# Animals are said to sit together where they do so more than by chance, and tell about at most this part of their
# number; a stay that makes up this part of all that was seen is named.
TOGETHER_ERRORS, TOGETHER_PART, LONG_STAY = 1.65, 0.75, 0.25
MEASURE_SAID = {
    "floor_cm2": "floor area",
    "surface_cm2": "surface, walls and tops included",
    "volume_l": "volume",
    "places": "the number of places",
}


def sentence(finding: Finding, labels: Mapping[str, str]) -> str:
    """One place: how much it is used against what is offered, and the verdict or what holds it back."""
    if not finding.about:
        return nothing_said(finding.facts["nothing"])
    name, f = labels[finding.about[0]], finding
    evidence = f"{counted(f['sessions'], 'session')} on {counted(f['days'], 'day')}"
    if f.reason == reasons.NOTHING_TO_CHOOSE:
        return f"{name} is all there is, so there is nothing to choose."
    if (
        f.reason == reasons.TOO_FEW_UNITS
        and f.unit in ("session", "day", "moment")
        and not standing(f["sessions"], f["days"])
    ):
        used = f"{name}: used in {f['sessions_used']} of {evidence}."
        return f"{used} It takes at least 5 sessions on 3 days to say more."
    numbers = (
        f"{100 * f['used']:.0f} % of the time against {100 * f['available']:.0f} % offered, {times(f['ratio'])} times "
        f"its share ({times(f['ratio_low'])} to {times(f['ratio_high'])}; {evidence})"
    )
    said = {
        AVOIDED: f"{name} is avoided: {numbers}.",
        FAVOURED: f"{name} is favoured: {numbers}.",
        IN_PROPORTION: f"{name} is used in proportion: {numbers}.{_even(f)}",
    }
    return (said.get(f.verdict) or f"{name}: {numbers}. {_held_back(f)}") + _apart(f, labels)


def _apart(f: Finding, labels: Mapping[str, str]) -> str:
    """Enclosures, or an animal, that differ from the others by more than chance."""
    apart = f.facts.get("apart")
    if apart is None:
        return ""
    if apart.kind == "animal":
        name, ratio = apart.furthest, apart.ratios[apart.names.index(apart.furthest)]
        return f" {labels.get(name, name)} differs from the others: {times(ratio)} times its share."
    if len(apart.ratios) <= 4:
        each = listed([times(r) for r in apart.ratios])
        return f" The enclosures do not agree: {each} times its share in {listed(list(apart.names))}."
    return (
        f" The {len(apart.ratios)} enclosures do not agree: from {times(min(apart.ratios))} to "
        f"{times(max(apart.ratios))} times its share."
    )


def apart_said(found: Sequence[Finding], labels: Mapping[str, str]) -> tuple[Caution, ...]:
    """On which places the enclosures do not agree, or an animal differs from the others."""
    told = [f for f in found if f.facts.get("apart") is not None]
    if not told:
        return ()
    places = listed([labels[f.about[0]] for f in told])
    if told[0].facts["apart"].kind == "enclosure":
        says = f"The enclosures do not agree on {places}: --full says how far apart they are."
    else:
        who = dict.fromkeys(labels.get(n, n) for n in (f.facts["apart"].furthest for f in told))
        verb = "differs" if len(who) == 1 else "differ"
        says = f"{listed(list(who))} {verb} from the other animals on {places}."
    return (Caution("apart", says),)


def _even(f: Finding) -> str:
    """What "in proportion" rests on: the zone's own 90 % interval, not the wider one of all zones at once."""
    if "even_low" not in f.numbers:
        return ""
    bounds = f"{f['even_from']:g} to {f['even_to']:g}"
    alone = f"{times(f['even_low'])} and {times(f['even_high'])}"
    return f" Taken alone (90 % limits) it lies between {alone}, within {bounds}."


def _held_back(f: Finding) -> str:
    """Why a zone has no verdict yet."""
    if f.reason == reasons.UNSEEN_DECIDE:
        return (
            "The moments when nobody was found decide it: its share is "
            f"{100 * f['unseen_low']:.0f} % if they are counted elsewhere, {100 * f['unseen_high']:.0f} % if they are "
            "counted there."
        )
    if f.reason == reasons.TOO_FEW_MOVES:
        were = "was" if f["moves"] == 1 else "were"
        return f"Too early: only {counted(f['moves'], 'move')} between zones {were} seen."
    return f"Too early to tell whether it is avoided or favoured.{_settles(f)}"


def _settles(f: Finding) -> str:
    """What would settle it: the number of further units that probably would, and the chance."""
    ahead = f.forecast
    if ahead is None or ahead.chance is None:
        return ""
    unit = f.unit
    if ahead.more is None:
        return f" Even with {ahead.most} more {unit}s the chance of settling it is only {100 * ahead.chance:.0f} %."
    return f" With {about_so_many(ahead.more, unit)} the chance of settling it is {100 * ahead.chance:.0f} %."


def turned_said(turned: Mapping[str, str], labels: Mapping[str, str]) -> str:
    """Places with another verdict: ``Moss end and Cork bark would be too early, Slate stack would be favoured``."""
    by_verdict: dict[str, list[str]] = {}
    for zone, verdict in turned.items():
        by_verdict.setdefault(verdict, []).append(labels[zone])
    return ", ".join(f"{listed(places)} would be {verdict}" for verdict, places in by_verdict.items())


def not_looked_into(question: Question) -> list[Caution]:
    """Places that were there while nobody looked into them, and in how many sessions; nothing is said of them then."""
    told = []
    for place, (missed, sessions) in unlooked_places(question.declared, question.rows).items():
        label = question.labels[place]
        if missed == sessions:
            told.append(f"{label} was not looked into, so nothing is said of it")
        else:
            told.append(f"{label} was not looked into in {missed} of {counted(sessions, 'session')}")
    return [Caution("not-looked-into", "; ".join(told) + ".")] if told else []


def headline(did: Effort, use: ZoneUse | None) -> str:
    unseen = f", {did.unseen:,} not found" if did.unseen else ""
    missed = f", {did.missed:,} missed" if did.missed else ""
    moves = ""
    if use is not None and use.moves is not None:
        moves = f", {use.moves:,} moves between zones, {counted(use.lasting.stays, 'stay')}"
        company = use.lasting.company
        if company.animals > 1 and did.cluster != "animal":
            moves += f", {company.animals} animals, worth {_worth(company.effective)} independent ones"
    return (
        f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {counted(did.moments, 'moment')} seen"
        f"{unseen}{missed}{moves}. {once_said(did)}."
    )


def _worth(effective: float) -> str:
    """``7.4`` animals; whole numbers where they are near one.

    >>> _worth(7.96), _worth(2.31)
    ('8', '2.3')
    """
    return f"{effective:.1f}".removesuffix(".0")


def _what_it_tells(use: ZoneUse | None) -> list[Caution]:
    """Companies and long stays, where they make what was seen tell less than its number of sessions."""
    if use is None or use.moves is None:
        return []
    told, found = [], use.lasting
    company = found.company
    if company.errors > TOGETHER_ERRORS and company.effective <= TOGETHER_PART * company.animals:
        says = (
            f"The animals sit together: {company.animals} of them tell about as much as "
            f"{max(round(company.effective), 1)} would apart."
        )
        told.append(Caution("sit-together", says))
    if found.longest >= LONG_STAY:
        says = f"{100 * found.longest:.0f} % of what is known here comes from one long stay."
        told.append(Caution("long-stay", says))
    if found.uneven > UNEVEN:
        says = (
            f"The animals settle at some times and roam at others, so a long stay counts as one choice "
            f"({found.stays:,} stays in all)."
        )
        told.append(Caution("uneven-stays", says))
    return told


def cautions(question: Question, availability: str, use: ZoneUse | None) -> tuple[Caution, ...]:
    did, rows = question.effort, question.rows
    counted = (
        "Every zone counts as the same amount on offer."
        if availability == "equal"
        else f"What is offered is measured by {MEASURE_SAID[question.declared.measured_in]}."
    )
    cautions = [Caution("availability", counted)]
    if did.cluster == "moment":
        cautions.append(
            Caution(
                "moments-as-units",
                "Every record counts as independent here, as in the published method. Animals stay put, so these "
                "limits are too narrow: without --per moment, sessions count.",
            )
        )
    cautions += not_looked_into(question)
    if did.guesses:
        are = "record counted is a guess" if did.guesses == 1 else "of the records counted are guesses"
        cautions.append(Caution("guesses", f"{did.guesses:,} {are}."))
    cautions += _what_it_tells(use)
    if mixed := times_mixed(rows):
        cautions.append(Caution("slots", mixed))
    cautions.append(Caution("speaks-for", speaks_for(question.declared, rows)))
    return tuple(cautions)
