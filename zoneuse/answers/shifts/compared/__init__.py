"""Two treatments, two phases, or the two sides of a change, held against each other by units of the design."""

from .ask import between

__all__ = ["between"]
