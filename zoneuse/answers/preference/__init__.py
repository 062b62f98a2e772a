"""Which conditions are chosen, and why places are avoided."""

from __future__ import annotations

from .ask import preference

__all__ = ["preference"]
