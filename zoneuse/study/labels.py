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


def in_words(label: str, width: int) -> str:
    """As many whole words of a label as fit into ``width`` cells; of a first word that is too long its beginning.

    >>> in_words("Bark stack", 12), in_words("Bark stack", 9), in_words("Undergrowth", 6), in_words("Bark", 2)
    ('Bark stack', 'Bark', 'Under…', '')
    """
    while width_of(label) > width and " " in label:
        label = label.rsplit(" ", 1)[0].rstrip()
    if width_of(label) <= width:
        return label
    if width < _LEAST_PART:
        return ""
    while width_of(label) > width - 1:
        label = label[:-1]
    return f"{label}…"


# Fewer letters of a word tell nobody which word it is.
_LEAST_PART = 4


def width_of(text: str) -> int:
    """How many columns of a terminal a text takes.

    >>> width_of("moss"), width_of("苔")
    (4, 2)
    """
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text
    )


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
