"""The question on the screen during a retreat round."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from ....study import visible
from ....study.model import Zone
from ...session.plan import Who
from ..asking import LiveKey, Prompt
from ..sheet import Sheet
from .found import Found, Tally, short_of, tally


class RoundSoFar(Protocol):
    """What of a round the question depends on."""

    sheet: Sheet
    place: Zone | None
    lifted: bool
    guess: bool
    hidden: bool

    @property
    def found(self) -> Found: ...
    @property
    def here(self) -> str: ...
    @property
    def counting(self) -> bool: ...
    @property
    def at_retreat(self) -> bool: ...
    def tallies(self) -> list[Tally]: ...
    def left(self) -> list[Zone]: ...
    def marks_by_zone(self) -> dict[str, list[str]]: ...


def round_prompt(core: RoundSoFar) -> Prompt:
    """What is asked now: who is in this retreat, what they do, or, at the end, who was looked for."""
    if core.sheet.draft is not None:
        return _about(core)
    if core.place is None:
        return Prompt(_over(core))
    return Prompt(_where(core, core.place), choices=_to_find(core))


def _about(core: RoundSoFar) -> Prompt:
    """About somebody found here: how many, and what they do."""
    draft = core.sheet.draft
    assert draft is not None and draft.zone is not None
    flags = "".join(f" ({word})" for word, on in (("guess", draft.guess), ("hidden", draft.hidden)) if on)
    name, room = visible(draft.who.label), visible(draft.zone.label)
    # While a count is asked for, a finger needs the room for its digits.
    choices = core.sheet.choices("behaviour") if core.counting else core.sheet.choices("behaviour", "event")
    if core.sheet.doubt is not None:
        doing = f", {draft.behaviour.label.lower()}" if draft.behaviour is not None else ""
        return Prompt(
            f"{name}{doing}{flags}: {visible(core.sheet.doubt)}.",
            core.sheet.typed,
            "",
            choices,
            draft.who,
            doubt=True,
        )
    if core.counting:
        size = f" of {draft.who.size}" if draft.who.size is not None else ""
        one = "" if core.sheet.typed else " Enter: 1"
        who = f"{name} in" if draft.who.id else "Not known which, in"
        ask = f"{who} {room}: how many{size}?{flags}{one}"
        return Prompt(ask, core.sheet.typed, "", choices, draft.who, counting=True)
    return Prompt(f"{name} in {room}: doing?{flags}", "", "", choices, draft.who)


def _where(core: RoundSoFar, zone: Zone) -> str:
    """Which retreat this is, whether its cover is lifted, who is recorded in it, and who is still to find."""
    flags = "".join(f" ({word})" for word, on in (("guess", core.guess), ("hidden", core.hidden)) if on)
    if core.at_retreat:
        number = core.sheet.plan.retreats.index(zone) + 1
        lead = f"{visible(zone.label)} {number}/{len(core.sheet.plan.retreats)}: who?{flags}"
        lead += f" Cover {'LIFTED' if core.lifted else 'not lifted'}."
    else:
        lead = f"{visible(zone.label)}, no retreat: who?{flags} Enter goes on."
    inside = " ".join(core.marks_by_zone().get(zone.id, ())) or "nobody yet"
    found = core.found
    keys = " ".join(_mark(found, who) for who in _not_yet(core, found))
    return f"{lead}\nhere: {inside}\nto find: {keys or 'nobody'}"


def _mark(found: Found, who: Who) -> str:
    return f"{who.key}:{short_of(who, found)}" if who.group else who.key


def _not_yet(core: RoundSoFar, found: Found) -> list[Who]:
    return [w for w in core.sheet.plan.who if w.enclosure == core.here and short_of(w, found)]


def _to_find(core: RoundSoFar) -> tuple[LiveKey, ...]:
    """Those not found yet; all keys work, but a screen has not room for all."""
    who = tuple(LiveKey(w.key, w.label, "who") for w in _not_yet(core, core.found))
    return who + core.sheet.choices("event")


def _over(core: RoundSoFar) -> str:
    """The end: found and not found, and what may be said of those."""
    found, numbers = core.found, core.tallies()
    alive, seen = sum(n.alive for n in numbers), sum(n.found for n in numbers)
    lead = f"Found {seen} of {alive} known to live here."
    if to_confirm := [who for n in numbers for who in n.to_confirm]:
        keys = " ".join(_mark(found, who) for who in to_confirm)
        return f"{lead}\nNot found: {keys}\nLooked everywhere? Enter: yes"
    return f"{lead}\n{_whether_all(core, numbers)}"


def _whether_all(core: RoundSoFar, numbers: Sequence[Tally]) -> str:
    """What may be said of those who were not found, with nobody left to confirm."""
    found, ends = core.found, f"{core.sheet.key('finish')} ends it."
    if any(n.found > n.alive for n in numbers):
        return f"More than study.toml knows of. {core.sheet.key('records')} corrects, {ends}"
    if all(n.found == n.alive for n in numbers):
        return ends
    skipped = [z for z in core.sheet.plan.retreats if z.id in found.checked and not found.looked_into(z.id)]
    if skipped:
        names = ", ".join(visible(zone.label) for zone in skipped)
        return f"Left out: {names}, so nobody counts as not found. {ends}"
    if any(n.nameless and n.unfound for n in numbers):
        return f"Some could not be told apart, so who is missing is not known. {ends}"
    return f"{sum(n.unseen for n in numbers)} recorded as not found.\n{ends}"


def place_words(core: RoundSoFar) -> list[str]:
    """For the first line: how many retreats are done, how many animals found."""
    done = len(core.sheet.plan.retreats) - len(core.left())
    where = f"{done}/{len(core.sheet.plan.retreats)} retreats"
    numbers = tally(core.sheet.plan, core.found, core.here)
    return [where, f"found {numbers.found}/{numbers.alive}"]
