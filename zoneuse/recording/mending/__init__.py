"""Records looked at again: the last ones in words, and corrections that leave a trace; knows no screen."""

from __future__ import annotations

from .correcting import Mended, MendError, corrected, mend_entry, put_back, take_back_session
from .made import PROGRAM, Made, last_made, made_at, made_words

__all__ = [
    "PROGRAM",
    "Made",
    "MendError",
    "Mended",
    "corrected",
    "last_made",
    "made_at",
    "made_words",
    "mend_entry",
    "put_back",
    "take_back_session",
]
