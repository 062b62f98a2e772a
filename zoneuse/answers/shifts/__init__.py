"""Did a change alter anything."""

from __future__ import annotations

from .ask import shifts

__all__ = ["shifts"]
