"""The question on the screen while an answer is typed, stage by stage."""

from __future__ import annotations

from ...study.labels import visible
from .answering import Answering
from .recorder import Prompt


def answer_prompt(core: Answering, lead: str = "") -> Prompt:
    """What is asked now about the one being answered for. ``lead`` stands first, as in ``Scan 3, late: ``."""
    draft = core.draft
    assert draft is not None
    who = draft.who
    name = f"{lead}{visible(who.label)}"
    flags = "".join(f" ({word})" for word, on in (("guess", draft.guess), ("hidden", draft.hidden)) if on)
    before = core._before_words(who)
    if who.group:
        size = f" of {who.size}" if who.size is not None else ""
        kinds = ("zone", "behaviour") if core.typed else ("zone",)
        zones = core._choices(*kinds, enclosure=who.enclosure)
        ask = f"{name}: how many{size} where?{flags}" if core.question is None else f"{name}: {core.question}"
        return Prompt(ask, core.typed, before, zones, who, bool(lead))
    if draft.zone is None:
        choices = core._choices("zone", enclosure=who.enclosure)
        return Prompt(f"{name}: where?{flags}", "", before, choices, who, bool(lead))
    choices = core._choices("behaviour", "event")
    return Prompt(
        f"{name} in {visible(draft.zone.label)}: doing?{flags}", "", before, choices, who, bool(lead)
    )
