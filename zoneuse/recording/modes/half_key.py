"""Keys of two characters: the first is held until the second says which key was meant."""

from __future__ import annotations

from ...study import typed_so_far
from ..session.instant import Instant
from .asking import Code
from .sheet import HalfKey, Sheet


def half_of(sheet: Sheet) -> HalfKey | None:
    """The half key that waits; None where what it was begun for is no longer asked."""
    half = sheet.half
    still = half is not None and half.draft is sheet.draft and half.event is sheet.event
    return half if still else None


def live_keys(sheet: Sheet, here: str) -> list[str]:
    """Every key that means something in this enclosure; none begins another."""
    plan = sheet.plan
    return [*plan.zone_by_key(here), *(w.key for w in plan.who), *(b.key for b in plan.behaviours)]


def whole_key(sheet: Sheet, key: str, here: str, instant: Instant) -> tuple[str, Instant] | None:
    """The key that is meant and when it was begun, or None while more of it is awaited, or nothing is meant.

    A first character that leads nowhere is dropped, and said; nothing is done in its place.
    """
    half, sheet.half = half_of(sheet), None
    live = live_keys(sheet, here)
    text, begun = (half.typed + key, half.instant) if half is not None else (key, instant)
    if typed_so_far(text, live):
        sheet.half = HalfKey(text, begun, sheet.draft, sheet.event)
        sheet.hush()
        return None
    if half is None or text in live:
        return text, begun
    if typed_so_far(key, live):
        # A bouncing key, or one begun anew: what was typed last may still become a key.
        sheet.half = HalfKey(key, instant, sheet.draft, sheet.event)
        sheet.tell(f"{text} is not a key here; {key} and then?", Code.REFUSED)
    else:
        sheet.tell(f"{text} is not a key here; {sheet.key('help')} shows every key.", Code.UNKNOWN_KEY)
    return None


def drop_half_key(sheet: Sheet) -> bool:
    """Forget a key half typed; whether there was one."""
    half, sheet.half = half_of(sheet), None
    return half is not None
