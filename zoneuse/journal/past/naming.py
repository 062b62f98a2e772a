"""Names in a table that the study does not know, each once, with how often it stands there."""

from __future__ import annotations

import difflib
from collections import Counter
from dataclasses import dataclass

from zoneuse.study import Declaration, Problem

from .table import NOT_FOUND, TableFile

KINDS = ("animal", "group", "zone", "behaviour")


@dataclass(frozen=True, slots=True)
class Unknown:
    """``close``: the study's name that looks most like it, or ""."""

    kind: str
    name: str
    rows: int
    close: str


def names_of(declared: Declaration, kind: str) -> list[str]:
    """Everything a table may call an animal or group, a zone, or a behaviour: ids, keys, labels and places."""
    if kind in ("animal", "group"):
        names = [name for a in declared.animals.values() for name in (a.id, a.key, a.label)]
        names += [name for g in declared.groups.values() for name in (g.id, g.key, g.label)]
    elif kind == "zone":
        names = [name for z in declared.zones.values() for name in (z.id, z.place, z.key, z.label)]
    else:
        names = [name for b in declared.behaviours.values() for name in (b.id, b.key, b.label)]
    return list(dict.fromkeys(filter(None, names)))


def unknown_names(declared: Declaration, table: TableFile) -> list[Unknown]:
    """The names nobody and nothing in the study bears, most frequent first."""
    found: list[Unknown] = []
    for kind in KINDS:
        known = names_of(declared, kind)
        exact, folded = set(known), {name.casefold() for name in known}
        counts = Counter(row.get(kind, "") for _, row in table.rows)
        for name, rows in counts.items():
            if name and name not in exact and name.casefold() not in folded:
                found.append(Unknown(kind, name, rows, _close(declared, kind, name)))
    return sorted(found, key=lambda u: -u.rows)


def _close(declared: Declaration, kind: str, name: str) -> str:
    by_fold = {n.casefold(): n for n in names_of(declared, kind) if len(n) > 1}
    close = difflib.get_close_matches(name.casefold(), by_fold, 1)
    return by_fold[close[0]] if close else ""


def elsewhere(table: TableFile, unknown: Unknown) -> bool:
    """Whether another column of the table has the same name, of something else: tank 1 and chamber 1."""
    others = [kind for kind in KINDS if kind != unknown.kind]
    return any(row.get(kind) == unknown.name for _, row in table.rows for kind in others)


def told(table: TableFile, unknown: Unknown) -> Problem:
    """One fault for all its rows, with the flag that answers it."""
    to = unknown.close or unknown.kind.upper()
    name = f"{unknown.kind}:{unknown.name}" if elsewhere(table, unknown) else unknown.name
    out = f", or {name}={NOT_FOUND} where that means not found" if unknown.kind == "zone" else ""
    rows = "1 row" if unknown.rows == 1 else f"{unknown.rows:,} rows"
    remedy = f"Say what it is with --map '{name}={to}'{out}, or declare it in study.toml"
    if said := [theirs for theirs, ours in table.read_as.names.items() if ours == unknown.name]:
        # A name that came of --map was meant for another column.
        remedy = (
            f"--map '{said[0]}={unknown.name}' is said of every column: name the one it is of, as "
            f"--map 'KIND:{said[0]}={unknown.name}' and --map '{unknown.kind}:{said[0]}={unknown.kind.upper()}' "
            f"(KIND: {', '.join(KINDS)} or treatment)"
        )
    return Problem(
        "unknown-name", str(table.path), rows, f"{unknown.name!r} is no {unknown.kind} of the study", "",
        remedy,
    )  # fmt: skip
