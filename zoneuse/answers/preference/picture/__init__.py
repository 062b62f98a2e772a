"""The picture of the conditions chosen, and the sentence above it."""

from __future__ import annotations

from .conditions import figure, headline

__all__ = ["figure", "headline"]
