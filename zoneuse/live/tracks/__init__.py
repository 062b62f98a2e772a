"""Positions and antenna reads: understood as study.toml says, read through, kept as ticks, put on record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .following import Rules, Ticks, follow
    from .intake import StagedTracks, stage, take_in
    from .kept import kept_ticks
    from .outlines import ZoneMap, homography
    from .raster import density, plan_of
    from .words import described

__all__ = [
    "Rules",
    "StagedTracks",
    "Ticks",
    "ZoneMap",
    "density",
    "described",
    "follow",
    "homography",
    "kept_ticks",
    "plan_of",
    "stage",
    "take_in",
]
__getattr__ = opened(
    __name__,
    {
        "following": "Rules Ticks follow",
        "intake": "StagedTracks stage take_in",
        "kept": "kept_ticks",
        "outlines": "ZoneMap homography",
        "raster": "density plan_of",
        "words": "described",
    },
)
