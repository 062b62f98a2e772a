"""How a column of an answer's table is shown."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """How a column of ``table`` is shown: its heading, and how its values are written.

    ``shown`` is text, share, ratio, count or number, or one of them with ``-range`` for NAME_low to
    NAME_high. ``narrow`` columns stay on a phone's 40 cells.
    """

    name: str
    heading: str
    shown: str = "text"
    narrow: bool = True
