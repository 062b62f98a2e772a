"""Positions and antenna reads: understood as study.toml says, read through, kept as ticks, put on record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

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
_WHERE = {
    "Rules": "following",
    "StagedTracks": "intake",
    "Ticks": "following",
    "ZoneMap": "outlines",
    "density": "raster",
    "described": "words",
    "follow": "following",
    "homography": "outlines",
    "kept_ticks": "kept",
    "plan_of": "raster",
    "stage": "intake",
    "take_in": "intake",
}


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
