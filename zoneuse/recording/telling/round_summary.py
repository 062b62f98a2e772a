"""What a retreat round was, in plain words."""

from __future__ import annotations

from ..modes.retreats.found import Found, short_of
from ..modes.retreats.rounds import Rounding
from ..session.plan import Who


def round_summary(core: Rounding) -> list[str]:
    """Retreats looked into, left out and not reached; found and not found, and what may be said of those."""
    found, numbers = core.found, core.tallies()
    lines = _retreats_words(core)
    alive, seen = sum(n.alive for n in numbers), sum(n.found for n in numbers)
    nameless = sum(n.nameless for n in numbers)
    some = f", {nameless} of them not told apart" if nameless else ""
    lines.append(f"Found {seen} of {alive} known to live here{some}.")
    unseen = sum(n.unseen for n in numbers)
    if unseen:
        lines.append(f"{unseen} looked for everywhere and not found.")
    if missing := [who for one in numbers for who in one.missing]:
        keys = ", ".join(_missing_words(who, found) for who in missing)
        lines.append(f"Neither found nor looked for everywhere, so without a record: {keys}.")
    return lines


def _retreats_words(core: Rounding) -> list[str]:
    """How many retreats were looked into, and which were not."""
    found, plan = core.found, core.sheet.plan
    looked = [zone for zone in plan.retreats if found.looked_into(zone.id)]
    skipped = [zone for zone in plan.retreats if zone.id in found.checked and zone not in looked]
    lifted = sum(bool(found.checked[zone.id].fields.get("lifted")) for zone in looked)
    covers = f" (cover lifted at {lifted})" if lifted else ""
    lines = [f"{len(looked)} of {_n(len(plan.retreats), 'retreat')} looked into{covers}."]
    for what, zones in (("Not looked into", skipped), ("Not reached", core.left())):
        if zones:
            lines.append(f"{what}: {', '.join(zone.label for zone in zones)}.")
    return lines


def _missing_words(who: Who, found: Found) -> str:
    return f"{short_of(who, found)} of {who.label}" if who.group else who.label


def _n(count: int, one: str) -> str:
    return f"{count} {one if count == 1 else one + 's'}"
