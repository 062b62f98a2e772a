"""What to watch next."""

from __future__ import annotations

from .ask import plan

__all__ = ["plan"]
