"""What changes over time, as edits: the old value keeps its time, the new one begins at a date."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from ..toml.edits import GONE, Edit, Place

When = date | datetime


def written(at: datetime, zone: ZoneInfo) -> When:
    """A time as study.toml holds it: the study's own clock, a bare date where it is midnight."""
    local = at.astimezone(zone).replace(microsecond=0, tzinfo=None)
    return local.date() if local.time() == time() else local


def is_dated(value: Any) -> bool:
    """Whether it is a list of values with dates."""
    return isinstance(value, list) and bool(value) and all(isinstance(row, dict) for row in value)


def last_row(rows: Any) -> int:
    """The number of the row that holds now: the last without an end, or else the last."""
    open_rows = [i for i, row in enumerate(rows) if "until" not in row]
    return open_rows[-1] if open_rows else len(rows) - 1


def value_now(value: Any) -> Any:
    """The plain value, or that of the row that holds now; None where nothing stands there."""
    return value[last_row(value)].get("is") if is_dated(value) else value


def set_value(place: Place, old: Any, new: Any, since: When | None) -> list[Edit]:
    """Let a value be ``new`` (or GONE) from ``since`` on; without a date it corrects what stands there."""
    if is_dated(old):
        i = last_row(old)
        if since is None or old[i].get("from") == since:
            return [Edit((*place, i) if new is GONE else (*place, i, "is"), new)]
        ended = [] if "until" in old[i] else [Edit((*place, i, "until"), since)]
        return ended if new is GONE else [*ended, Edit((*place, len(old)), {"from": since, "is": new})]
    if since is None:
        return [Edit(place, new)]
    before = [] if old is None else [{"until": since, "is": old}]
    after = [] if new is GONE else [{"from": since, "is": new}]
    return [Edit(place, [*before, *after])] if before or after else []


def set_row(place: Place, rows: Any, new: Mapping[str, Any], since: When | None) -> list[Edit]:
    """The same of a list whose rows hold more than one thing: where a logger lies, where an animal lives."""
    found = rows if isinstance(rows, list) else [] if rows is None else [rows]
    row = {k: v for k, v in {**new, "from": since}.items() if v is not None and v is not GONE}
    if not found:
        return [Edit(place, [row])] if row else []
    i = last_row(found)
    at = (*place, i) if isinstance(rows, list) else place
    if since is None or found[i].get("from") == since:
        return [Edit((*at, key), value) for key, value in new.items()]
    ended = [] if "until" in found[i] else [Edit((*at, "until"), since)]
    if isinstance(rows, list):
        return [*ended, Edit((*place, len(found)), row)]
    return [Edit(place, [{**found[i], "until": since}, row])]


def set_end(place: Place, rows: Any, key: str, when: When | Any) -> list[Edit]:
    """The ``from`` or ``until`` of the row that holds now; GONE takes it away."""
    if isinstance(rows, dict):
        return [Edit((*place, key), when)]
    if not rows:
        return [] if when is GONE else [Edit(place, [{key: when}])]
    i = last_row(rows)
    if when is GONE and len(rows) == 1 and set(rows[0]) <= {key}:
        return [Edit(place, GONE)]
    return [Edit((*place, i, key), when)]


def end_now(rows: Any, key: str) -> Any:
    """The ``from`` or ``until`` of the row that holds now."""
    if isinstance(rows, dict):
        return rows.get(key)
    return rows[last_row(rows)].get(key) if is_dated(rows) else None
