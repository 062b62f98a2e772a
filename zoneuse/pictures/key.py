"""The key of a picture: each glyph it uses, and what it stands for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Glyph = Literal[
    "interval", "offered", "reference", "before", "after", "recorded", "found", "limit", "band", "line", "ahead",
    "dark", "settling", "bar", "passing", "aside", "rug", "bars", "core", "much", "some", "rare",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Key:
    """One entry of the key."""

    glyph: Glyph
    says: str
