"""Which zones are avoided or favoured."""

from __future__ import annotations

from .ask import zones

__all__ = ["zones"]
