"""What is held against what: treatments or phases by name, and which of them each moment belongs to."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....study import Declaration, fault
from ....tables import in_phase

TREATMENT, PHASE, ENCLOSURE = "treatment", "phase", "enclosure"
ARROW = " → "


@dataclass(frozen=True, slots=True)
class NamedSides:
    """The names held against each other, of one kind; ``side`` (moments,) is each moment's, -1 for none."""

    kind: str
    names: tuple[str, ...]
    labels: dict[str, str]
    side: NDArray[np.int64]


def named(declared: Declaration, rows: pd.DataFrame, names: Sequence[str]) -> NamedSides:
    """Find the names, and the moments of each. Raises ProblemError with what can be named, and for an overlap."""
    treatments = {t.id: t.label for t in declared.treatments.values()}
    treatments |= {str(t): str(t) for t in rows["treatment"].dropna().unique() if str(t) not in treatments}
    phases = {p.id: p.label for p in declared.phases.values()}
    homes = {e: e for e in declared.enclosures} if len(declared.enclosures) > 1 else {}
    known = {TREATMENT: treatments, PHASE: phases, ENCLOSURE: homes}
    kind, ids = _one_kind(names, [_found(n, known) for n in names])
    side = np.full(len(rows), -1, np.int64)
    for k, name in enumerate(ids):
        inside = _rows_of(declared, kind, name, rows)
        if (twice := inside & (side >= 0)).any():
            at = rows["at"][twice].iloc[0].tz_convert(str(declared.timezone))
            raise fault(
                "overlap", "--between", "", f"{ids[side[twice][0]]} and {name} overlap, as on {at:%d %b %Y %H:%M}",
                "phases that do not overlap", remedy="Correct their dates in study.toml",
            )  # fmt: skip
        side[inside] = k
    return NamedSides(kind, ids, known[kind], side)


def _rows_of(declared: Declaration, kind: str, name: str, rows: pd.DataFrame) -> NDArray[np.bool_]:
    if kind == PHASE:
        return in_phase(declared.phases[name], rows)
    return (rows[kind] == name).fillna(False).to_numpy(bool)


def _one_kind(names: Sequence[str], found: Sequence[tuple[str, str]]) -> tuple[str, tuple[str, ...]]:
    """The kind of all names, and their ids."""
    kinds, ids = {kind for kind, _ in found}, tuple(name for _, name in found)
    if len(names) < 2 or len(set(ids)) < len(ids):
        raise fault(
            "between", "--between", "", f"found {', '.join(names) or 'nothing'}", "two different names or more",
            remedy="Name two treatments, phases or enclosures: --between before,after",
        )  # fmt: skip
    if len(kinds) > 1:
        raise fault(
            "between", "--between", "", f"{', '.join(names)} are {' and '.join(f'{k}s' for k in sorted(kinds))} mixed",
            "one kind", remedy="Hold treatments against treatments, phases against phases",
        )  # fmt: skip
    return kinds.pop(), ids


def _found(name: str, every: Mapping[str, Mapping[str, str]]) -> tuple[str, str]:
    """The kind and id of a name: a treatment's before a phase's before an enclosure's."""
    wanted = name.strip().casefold()
    for kind, known in every.items():
        for one, label in known.items():
            if one == name.strip() or wanted in (one.casefold(), label.casefold()):
                return kind, one
    ids = [one for known in every.values() for one in known]
    close = difflib.get_close_matches(name, ids, 1)
    raise fault(
        "unknown-id", "--between", "", f"{name!r} is no treatment, phase or enclosure here",
        f"one of {', '.join(ids)}" if ids else "a name; none is declared yet",
        remedy=f"Did you mean {close[0]!r}?" if close else "Declare [treatments.NAME] or [phases.NAME] in study.toml",
    )  # fmt: skip
