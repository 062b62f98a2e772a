"""How far readings can be believed: calibration, flags, moisture, joins."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .calibration import checks_of
    from .cross_checks import load_all
    from .joining import interpolate, interpolate_each
    from .marks import mark_named, marks_of
    from .moisture import saturation_vapour_pressure_hpa, vpd_kpa
    from .newest import refresh_newest
    from .overview import overview, overview_lines, side_by_side_lines
    from .quality import believed
    from .salt_entry import add_salt_point
    from .series import Series

__all__ = [
    "Series",
    "add_salt_point",
    "believed",
    "checks_of",
    "interpolate",
    "interpolate_each",
    "load_all",
    "mark_named",
    "marks_of",
    "overview",
    "overview_lines",
    "refresh_newest",
    "saturation_vapour_pressure_hpa",
    "side_by_side_lines",
    "vpd_kpa",
]
_WHERE = {
    "Series": "series",
    "add_salt_point": "salt_entry",
    "believed": "quality",
    "checks_of": "calibration",
    "interpolate": "joining",
    "interpolate_each": "joining",
    "load_all": "cross_checks",
    "mark_named": "marks",
    "marks_of": "marks",
    "overview": "overview",
    "overview_lines": "overview",
    "refresh_newest": "newest",
    "saturation_vapour_pressure_hpa": "moisture",
    "side_by_side_lines": "overview",
    "vpd_kpa": "moisture",
}


def __getattr__(name: str) -> Any:
    # An answer that joins readings does not load what tells of an intake.
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
