"""Which retreats are used, by whom, with whom."""

from __future__ import annotations

from .ask import retreats

__all__ = ["retreats"]
