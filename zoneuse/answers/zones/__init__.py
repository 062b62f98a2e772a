"""Which places are avoided or sought."""

from __future__ import annotations

from .ask import zones

__all__ = ["zones"]
