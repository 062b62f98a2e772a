"""What is done, how much, and is that more than usual."""

from __future__ import annotations

from .ask import activity

__all__ = ["activity"]
