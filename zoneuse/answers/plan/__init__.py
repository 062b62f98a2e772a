"""What to watch next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .ask import plan
    from .picture import watched_figure
    from .watched import Watched, hours_never_watched, when_watched

__all__ = [
    "Watched",
    "hours_never_watched",
    "plan",
    "watched_figure",
    "when_watched",
]
__getattr__ = opened(
    __name__,
    {
        "ask": "plan",
        "picture": "watched_figure",
        "watched": "Watched hours_never_watched when_watched",
    },
)
