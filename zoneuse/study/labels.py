"""Text from outside, made safe to show: nothing a label holds can steer a terminal or hide what it says."""

from __future__ import annotations


def visible(text: str) -> str:
    """Text with control and direction marks made visible.

    >>> visible("moss\\x1b[2J")
    'moss\\\\x1b[2J'
    """
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)
