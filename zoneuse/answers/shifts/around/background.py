"""What lay under a change: other hours on its two sides, and edits of study.toml, its own or on no record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from ....study import Declaration
from ....tables import Adjustment
from ... import reasons
from ...finding import Caution, Confounder
from ...phrases import change_said
from ...watched import HOURS_APART, SLOTS_APART, hours_later, mean_hour
from ..phases import Sides, Windows

# Middles of two sides further apart than this may differ by the season alone.
_SEASON_DAYS = 45
# A zone moved within so long of a change on record is that change, written down twice.
_SAME_CHANGE = timedelta(days=1)


def hours_part(change: Adjustment, found: Sides) -> list[dict[str, Any]]:
    """Units and mean hour of the clock on each side, by slot."""
    if not len(found.late):
        return []
    late = found.late[found.unit]
    rows = found.rows.assign(side=np.where(late, "after", "before"), unit=found.unit)
    return [
        {
            "adjustment": change.id, "slot": slot, "side": side, "units": int(part["unit"].nunique()),
            "mean_hour": mean_hour(part["hour"].to_numpy(float)),
        }
        for (slot, side), part in rows.groupby(["slot", "side"], sort=True)
    ]  # fmt: skip


def other_hours(name: str, hours: Sequence[Mapping[str, Any]]) -> list[Caution]:
    """Slots watched at other hours before and after, and sides whose sessions lie differently over slots."""
    told = []
    by_slot: dict[str, dict[str, Mapping[str, Any]]] = {}
    for row in hours:
        by_slot.setdefault(str(row["slot"]), {})[str(row["side"])] = row
    both = {slot: sides for slot, sides in by_slot.items() if len(sides) == 2}
    for slot, at in both.items():
        apart = hours_later(at["before"]["mean_hour"], at["after"]["mean_hour"])
        if abs(apart) > HOURS_APART:
            told.append(
                Caution(
                    "hours",
                    f"{name}: watched {abs(apart):.1f} h {'later' if apart > 0 else 'earlier'} after it than "
                    f"before ({slot}): the hour may be what differs.",
                )
            )
    parts = [
        np.array([at[side]["units"] for at in both.values()], float) for side in ("before", "after") if both
    ]
    if len(both) > 1 and np.abs(parts[0] / parts[0].sum() - parts[1] / parts[1].sum()).max() > SLOTS_APART:
        counts = ", ".join(
            f"{slot} {at['before']['units']} before and {at['after']['units']} after"
            for slot, at in both.items()
        )
        told.append(
            Caution(
                "slot-balance",
                f"{name}: times of day lie differently on the two sides ({counts}); each is compared with its "
                "own kind and they are weighted.",
            )
        )
    return told


def season_between(name: str, found: Sides) -> list[Caution]:
    """A caution where the middles of the two sides lie so far apart that the season may be what differs."""
    if not len(found.late):
        return []
    apart = (np.median(found.at[found.late]) - np.median(found.at[~found.late])) / 86_400_000
    if apart <= _SEASON_DAYS:
        return []
    says = (
        f"{name}: the two sides lie {apart:.0f} days apart on average, so season, ageing and "
        "the change cannot be told apart. Taking the change back would tell."
    )
    return [Caution("season", says)]


def edits(declared: Declaration, changes: Sequence[Adjustment], seen: Windows) -> list[Confounder]:
    """Dated edits of zones in study.toml between the two sides that no change on record explains."""
    told = []
    for label, zones, at in _dated(declared):
        inside = (seen.before[0] is None or at > seen.before[0]) and (
            seen.after[1] is None or at < seen.after[1]
        )
        if inside and not any(_belongs(c, zones, at) for c in changes):
            on = at.astimezone(declared.timezone).date()
            told.append(Confounder(reasons.ZONE_ALTERED, tuple(sorted(zones)), label, on=on))
    return told


def linked(declared: Declaration, change: Adjustment) -> list[str]:
    """Dated edits of study.toml that are this change, in words."""
    return [
        f"{label}, altered in study.toml on {at.astimezone(declared.timezone):%d %b %Y}"
        for label, zones, at in [*_dated(declared), *_sensors(declared)]
        if _belongs(change, zones, at)
    ]


def linked_said(declared: Declaration, change: Adjustment) -> str | None:
    """One sentence naming the edits of study.toml that belong to a change, or None."""
    found = linked(declared, change)
    return f"{change_said(change, declared.timezone)} goes with: {'; '.join(found)}." if found else None


def _belongs(change: Adjustment, zones: set[str], at: datetime) -> bool:
    return bool(set(change.zones) & zones) and abs(at - change.at) <= _SAME_CHANGE


def _dated(declared: Declaration) -> list[tuple[str, set[str], datetime]]:
    """When a zone appeared, went, or was given another size or cover, as study.toml dates it."""
    found = []
    for zone in declared.zones.values():
        spans = [p.span for p in zone.present]
        spans += [d.span for d in (*zone.amount, *zone.cover)]
        for at in sorted({t for s in spans for t in (s.start, s.until) if t is not None}):
            found.append((zone.label, {zone.id}, at))
    return found


def _sensors(declared: Declaration) -> list[tuple[str, set[str], datetime]]:
    """When a logger was moved: placed a second time or taken from where it lay."""
    found = []
    for logger in declared.loggers.values():
        first = min((p.start for p in logger.placed if p.start), default=None)
        for place in logger.placed:
            if place.start is not None and place.start != first:
                found.append((f"logger {logger.id}", {place.zone}, place.start))
    return found
