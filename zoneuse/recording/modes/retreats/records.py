"""What a retreat round writes beside the sightings: what replaces what, and who was not found."""

from __future__ import annotations

from collections.abc import Sequence

from ...session.instant import Instant
from ...session.ledger import LedgerEntry
from ...session.plan import Who
from ..sheet import Sheet
from .found import Found, fold, short_of, tally


def same_animal(one: LedgerEntry, new: LedgerEntry) -> bool:
    """Whether a standing sighting is of the animal that the new one is of."""
    same = one.fields.get("animal") == new.fields["animal"]
    return one is not new and one.kind == "seen" and not one.void and same


def too_many(sheet: Sheet, here: str, who: Who, count: int) -> str | None:
    """What to ask where more are counted than are known to live here."""
    found = fold(sheet.ledger.lines)
    if who.group and who.size is not None and found.counted.get(who.id, 0) + count > who.size:
        total = found.counted.get(who.id, 0) + count
        return f"{total} in all, but the group is {who.size}; Enter records it anyway, Backspace changes it"
    numbers = tally(sheet.plan, found, here)
    if not who.id and numbers.found + count > numbers.alive:
        return (
            f"{numbers.found + count} in all, but {numbers.alive} are known to live here; "
            "Enter records it anyway, Backspace changes it"
        )
    return None


def take_out(
    sheet: Sheet, old: Sequence[LedgerEntry], new: LedgerEntry | None, instant: Instant
) -> list[tuple[LedgerEntry, LedgerEntry | None]]:
    """Take back what the new record replaces, and every 'not found' that is no longer so."""
    # A sighting stands in for a sighting; that a retreat was left out is simply no longer so.
    instead = [
        (line, sheet.ledger.take_back(line, instant, new if new and new.kind == line.kind else None))
        for line in old
    ]
    found = fold(sheet.ledger.lines)
    for enclosure in sheet.plan.enclosures:
        numbers = tally(sheet.plan, found, enclosure)
        for who in sheet.plan.who:
            line = found.unseen.get(who.id)
            if line is None or who.enclosure != enclosure:
                continue
            still = numbers.whole and not numbers.nameless
            if not still or short_of(who, found) != (line.fields.get("count") or 1):
                instead.append((line, sheet.ledger.take_back(line, instant)))
    return instead


def record_unfound(sheet: Sheet, found: Found, missing: Sequence[Who], instant: Instant) -> None:
    """Those not found were looked for in every retreat."""
    sheet.done([
        sheet.ledger.put("unseen", instant, **who.fields, count=short_of(who, found) if who.group else None)
        for who in missing
    ])  # fmt: skip


def doubted(sheet: Sheet, here: str, who: Who, count: int | None, instant: Instant, *, sure: bool) -> bool:
    """Whether a count is asked about before it is written; one that is too large is asked about now."""
    if count is not None and sheet.doubt is None:
        doubt = too_many(sheet, here, who, count)
        if doubt is not None:
            sheet.ask(doubt, instant)
            return True
    return sheet.doubt is not None and (not sure or sheet.too_soon(instant))
