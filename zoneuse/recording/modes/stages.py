"""The question on the screen while an answer is typed, stage by stage."""

from __future__ import annotations

from ...study.labels import visible
from .answering import Answering
from .asking import Prompt
from .sheet import Sheet


def answer_prompt(sheet: Sheet, answering: Answering, lead: str = "") -> Prompt:
    """What is asked now about the one being answered for. ``lead`` stands first, as in ``Scan 3, late: ``."""
    draft = sheet.draft
    assert draft is not None
    who = draft.who
    name = f"{lead}{visible(who.label)}"
    flags = "".join(f" ({word})" for word, on in (("guess", draft.guess), ("hidden", draft.hidden)) if on)
    before = answering.before_words(who, draft.scan)
    if who.group:
        size = f" of {who.size}" if who.size is not None else ""
        kinds = ("zone", "behaviour") if sheet.typed else ("zone",)
        zones = sheet.choices(*kinds, enclosure=who.enclosure)
        ask = f"{name}: how many{size} where?{flags}" if sheet.doubt is None else f"{name}: {sheet.doubt}"
        return Prompt(ask, sheet.typed, before, zones, who, doubt=sheet.doubt is not None)
    if draft.zone is None:
        doing = f", {visible(draft.behaviour.label).lower()}" if draft.behaviour is not None else ""
        choices = sheet.choices("zone", enclosure=who.enclosure)
        return Prompt(f"{name}{doing}: where?{flags}", "", before, choices, who)
    choices = sheet.choices("behaviour", "event")
    return Prompt(f"{name} in {visible(draft.zone.label)}: doing?{flags}", "", before, choices, who)
