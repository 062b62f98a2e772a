"""Space use against what is offered: shares of zones tested, their indices, stays and crowding."""

from __future__ import annotations

from .dispersion import dispersion
from .electivity import evenness, jacobs_d, spread_of_participation, zone_electivity
from .sample_size import sample_size_to_settle
from .stays import home, stays
from .visits import joint_share, visits
from .zone_use import zone_use

__all__ = [
    "dispersion",
    "evenness",
    "home",
    "jacobs_d",
    "joint_share",
    "sample_size_to_settle",
    "spread_of_participation",
    "stays",
    "visits",
    "zone_electivity",
    "zone_use",
]
