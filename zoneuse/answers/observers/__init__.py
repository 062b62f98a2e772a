"""Do two observers agree."""

from __future__ import annotations

from .ask import observers

__all__ = ["observers"]
