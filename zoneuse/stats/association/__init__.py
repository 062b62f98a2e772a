"""Who is found with whom, and who keeps to its place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .association import association
    from .crowding import Crowding, crowding, crowding_of_each
    from .fidelity import Fidelity, fidelity, fidelity_by
    from .returns import returns
    from .sharing import LEVEL_APART, LEVEL_TOGETHER, Company, Sharing, company, sharing

__all__ = [
    "LEVEL_APART",
    "LEVEL_TOGETHER",
    "Company",
    "Crowding",
    "Fidelity",
    "Sharing",
    "association",
    "company",
    "crowding",
    "crowding_of_each",
    "fidelity",
    "fidelity_by",
    "returns",
    "sharing",
]
__getattr__ = opened(
    __name__,
    {
        "association": "association",
        "crowding": "Crowding crowding crowding_of_each",
        "fidelity": "Fidelity fidelity fidelity_by",
        "returns": "returns",
        "sharing": "Company LEVEL_APART LEVEL_TOGETHER Sharing company sharing",
    },
)
