"""Is there a gradient, and when must water go in."""

from __future__ import annotations

from .ask import climate

__all__ = ["climate"]
