"""Text from outside, made safe to show: nothing a label holds can steer a terminal or hide what it says."""

from __future__ import annotations

import unicodedata
from typing import Any


def visible(text: str) -> str:
    """Text with control and direction marks made visible.

    >>> visible("moss\\x1b[2J")
    'moss\\\\x1b[2J'
    """
    return "".join(c if _plain(c) else c.encode("unicode_escape").decode("ascii") for c in text)


def _plain(c: str) -> bool:
    # Spaces of other widths are no marks: a Japanese label is full of them.
    return c.isprintable() or unicodedata.category(c) == "Zs"


# What a spreadsheet would run as a formula when a cell begins with it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def defused(value: Any) -> Any:
    """A text that would run as a formula, with an apostrophe before it; numbers stay numbers.

    >>> defused("=1+1"), defused(-0.5), defused("moss")
    ("'=1+1", -0.5, 'moss')
    """
    if not isinstance(value, str):
        return value
    return f"'{visible(value)}" if value.startswith(_FORMULA) else visible(value)
