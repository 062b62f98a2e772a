"""Permanent ids made of labels: what stands in records for as long as they are kept."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection

_LONGEST = 40


def new_id(label: str, taken: Collection[str], otherwise: str = "one") -> str:
    """An id made of a label that nothing else bears: ``Under the new bark`` is ``under_the_new_bark``.

    >>> new_id("Höhle", {"hohle"})
    'hohle_2'
    """
    plain = unicodedata.normalize("NFKD", label).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:_LONGEST] or otherwise
    number, name = 2, stem
    while name in taken:
        name, number = f"{stem}_{number}", number + 1
    return name
