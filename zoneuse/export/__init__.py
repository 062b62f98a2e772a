"""The tables as a Data Package."""

from __future__ import annotations

from .package import export

__all__ = ["export"]
