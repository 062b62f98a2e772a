"""Space use against what is offered: shares of zones tested, their indices, stays and crowding."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .dispersion import dispersion
    from .electivity import evenness, jacobs_d, spread_of_participation, zone_electivity
    from .lasting import UNEVEN
    from .sample_size import Settling, sample_size_to_settle
    from .stays import Stays, home, stays, usual_stay
    from .visits import ELSEWHERE, UNKNOWN, Visits, busier_part, joint_share, visits
    from .zone_use import ShareLimits, ZoneUse, zone_use

__all__ = [
    "ELSEWHERE",
    "UNEVEN",
    "UNKNOWN",
    "Settling",
    "ShareLimits",
    "Stays",
    "Visits",
    "ZoneUse",
    "busier_part",
    "dispersion",
    "evenness",
    "home",
    "jacobs_d",
    "joint_share",
    "sample_size_to_settle",
    "spread_of_participation",
    "stays",
    "usual_stay",
    "visits",
    "zone_electivity",
    "zone_use",
]
__getattr__ = opened(
    __name__,
    {
        "dispersion": "dispersion",
        "electivity": "evenness jacobs_d spread_of_participation zone_electivity",
        "lasting": "UNEVEN",
        "sample_size": "Settling sample_size_to_settle",
        "stays": "Stays home stays usual_stay",
        "visits": "ELSEWHERE UNKNOWN Visits busier_part joint_share visits",
        "zone_use": "ShareLimits ZoneUse zone_use",
    },
)
