"""How a table of this shape was read before: kept with what was taken in, offered for the next one."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import replace

from ..reader import Journals
from .table import WIDE, ReadAs


def read_before(journals: Journals, header: Sequence[str]) -> tuple[str, ReadAs] | None:
    """The newest file with this header, and how it was read; None where none was, or nothing had to be said."""
    for session in reversed(tuple(journals.sessions.values())):
        source = session.source
        kept = source.get("read_as")
        if source.get("header") == list(header) and isinstance(kept, Mapping) and kept:
            with contextlib.suppress(ValueError, TypeError):
                return str(source.get("name")), _read(kept)
    return None


def _read(kept: Mapping[str, object]) -> ReadAs:
    def texts(name: str) -> dict[str, str]:
        value = kept.get(name) or {}
        return {str(k): str(v) for k, v in value.items()} if isinstance(value, Mapping) else {}

    gap, of = kept.get("gap_min"), kept.get("of_s")
    wide = str(kept.get("wide") or "")
    return ReadAs(
        texts("columns"), wide if wide in WIDE else "", str(kept.get("dates") or ""),
        float(gap) if isinstance(gap, int | float) and gap > 0 else None, texts("names"),
        str(kept.get("sheet") or ""), str(kept.get("cells") or ""),
        float(of) if isinstance(of, int | float) and of > 0 else None, str(kept.get("day_1") or ""),
    )  # fmt: skip


def with_said(before: ReadAs, said: ReadAs) -> ReadAs:
    """What was said now, and for the rest what was said before."""
    return replace(
        said,
        columns={**before.columns, **said.columns},
        wide=said.wide or before.wide,
        dates=said.dates or before.dates,
        gap_min=said.gap_min or before.gap_min,
        names={**before.names, **said.names},
        sheet=said.sheet or before.sheet,
        cells=said.cells or before.cells,
        of_s=said.of_s or before.of_s,
        day_1=said.day_1 or before.day_1,
    )


def words(read_as: ReadAs) -> str:
    """Said in one line, as the flags would be."""
    parts = [f"{ours} in {theirs!r}" for ours, theirs in read_as.columns.items()]
    parts += [f"one column for each {read_as.wide}"] if read_as.wide else []
    parts += [f"dates {read_as.dates}"] if read_as.dates else []
    parts += [f"cells are {read_as.cells}"] if read_as.cells else []
    parts += [f"of {read_as.of_s / 60:g} min"] if read_as.of_s else []
    parts += [f"day 1 on {read_as.day_1}"] if read_as.day_1 else []
    parts += [f"sessions by gaps of {read_as.gap_min:g} min"] if read_as.gap_min else []
    parts += [f"{name!r} is {'not found' if to == '-' else to}" for name, to in read_as.names.items()]
    return ", ".join(parts)
