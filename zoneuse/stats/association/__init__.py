"""Who is found with whom, and who keeps to its place."""

from __future__ import annotations

from .association import association
from .crowding import crowding, crowding_of_each
from .fidelity import fidelity, fidelity_by
from .sharing import company, sharing

__all__ = [
    "association",
    "company",
    "crowding",
    "crowding_of_each",
    "fidelity",
    "fidelity_by",
    "sharing",
]
