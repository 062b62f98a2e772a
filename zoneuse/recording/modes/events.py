"""Momentary events: what happened, and to whom, in either order."""

from __future__ import annotations

from .asking import Code, Prompt
from .sheet import OpenEvent, Sheet


def event_key(sheet: Sheet, event: OpenEvent, key: str, enclosure: str) -> None:
    """One of the keeper's keys while an event is open."""
    behaviour, who = sheet.behaviour(key), sheet.who(key, enclosure)
    if behaviour is not None and not behaviour.lasts and event.behaviour is None:
        event.behaviour = behaviour
    elif who is not None:
        event.who = who
    elif behaviour is not None and behaviour.lasts:
        sheet.tell(f"{behaviour.label} lasts; it is not a momentary event.", Code.REFUSED)
        return
    else:
        sheet.tell(
            f"{key} is neither an event's key nor an animal's; Backspace drops the event.", Code.UNKNOWN_KEY
        )
        return
    take_event(sheet, event)


def take_event(sheet: Sheet, event: OpenEvent) -> None:
    """Record the event as soon as it is known what happened and to whom."""
    who = event.who or event.asked
    if event.behaviour is None or who is None or not who.id:
        sheet.event = event
        sheet.hush()
        return
    sheet.event = None
    mine = sheet.draft if sheet.draft is not None and sheet.draft.who == who else None
    zone = mine.zone.id if mine is not None and mine.zone is not None else None
    sheet.record("happened", event.instant, **who.fields, behaviour=event.behaviour.id, zone=zone)


def event_prompt(sheet: Sheet, event: OpenEvent) -> Prompt:
    if event.behaviour is None:
        name = f" of {event.who.label}" if event.who else ""
        return Prompt(f"Which event{name}?", "", "", sheet.choices("event", "who"), event.who)
    return Prompt(f"{event.behaviour.label}: who?", event.behaviour.key, "", sheet.choices("who"))
