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


# Letters of other alphabets that look like Latin ones in most type.
_TWINS = str.maketrans("авеікмнорсутхјѕԁɡαικνορτυχ", "abeikmhopcytxjsdgaikvoptux")


def looks_like(label: str) -> str:
    """What is left of a label to the eye: labels with one such form are told apart by nobody. Empty: invisible.

    >>> looks_like("Moss bank") == looks_like("Mоss\u200b bank"), looks_like("\u200b\u00a0")
    (True, '')
    """
    plain = unicodedata.normalize("NFKC", label).casefold().translate(_TWINS)
    seen = (
        " " if unicodedata.category(c).startswith("Z") else c
        for c in plain
        if unicodedata.category(c) not in _UNSEEN
    )
    return " ".join("".join(seen).split())


_UNSEEN = ("Cf", "Cc", "Cn", "Co")
