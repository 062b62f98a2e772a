"""Journals against their study: ids are permanent, so one that is gone from study.toml is a fault."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ..study.model import Declaration
from ..study.problems import Problem
from .fold import Entry
from .reader import Journals

# Fields that hold an id, and the part of study.toml the id must stand in.
_HOLDS = {"animal": "animals", "group": "groups", "zone": "zones", "behaviour": "behaviours"}


def check_journals(declared: Declaration, journals: Journals) -> list[Problem]:
    """One fault for each id that journals use and study.toml no longer has, with how often."""
    known = {kind: getattr(declared, kind).keys() for kind in _HOLDS.values()}
    uses: Counter[tuple[str, str]] = Counter()
    first: dict[tuple[str, str], Entry] = {}
    for entry in journals.entries():
        for kind, name in _named(entry):
            if name not in known[kind]:
                uses[kind, name] += 1
                first.setdefault((kind, name), entry)
    return [
        Problem(
            "id-gone",
            str(declared.folder / "study.toml"),
            f"{kind}.{name}",
            f"is used by {count} records (first in session {first[kind, name].session}) and is not declared",
            "every id that was ever recorded",
            f"Put [{kind}.{name}] back; end it with an until date if it is gone",
        )
        for (kind, name), count in uses.items()
    ]


def _named(entry: Entry) -> Iterator[tuple[str, str]]:
    fields = entry.record.fields
    for field, kind in _HOLDS.items():
        if isinstance(fields.get(field), str):
            yield kind, fields[field]
    if entry.record.kind == "adjusted":
        for zone in fields["zones"]:
            yield "zones", str(zone)
