"""The tables as a Data Package."""

from __future__ import annotations

from .dictionary import dictionary, every_table
from .package import export

__all__ = ["dictionary", "every_table", "export"]
