"""Text from outside, made safe to show: nothing a label holds can steer a terminal or hide what it says."""

from __future__ import annotations

import unicodedata


def visible(text: str) -> str:
    """Text with control and direction marks made visible.

    >>> visible("moss\\x1b[2J")
    'moss\\\\x1b[2J'
    """
    return "".join(c if _plain(c) else c.encode("unicode_escape").decode("ascii") for c in text)


def _plain(c: str) -> bool:
    # Spaces of other widths are no marks: a Japanese label is full of them.
    return c.isprintable() or unicodedata.category(c) == "Zs"
