"""How far readings can be believed: calibration, flags, moisture, joins."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .calibration import checks_of
    from .cross_checks import load_all, span_ms
    from .joining import interpolate, interpolate_each
    from .marks import mark_lines, mark_named, marks_of, time_of
    from .moisture import FORMULAS, saturation_vapour_pressure_hpa, vpd_kpa
    from .newest import refresh_newest
    from .overview import age_words, overview, overview_lines, side_by_side_lines
    from .quality import CEILING, DRIER, FLAG_WORDS, NOT_BELIEVED, PINNED, believed
    from .salt_entry import add_salt_point
    from .series import Series

__all__ = [
    "CEILING",
    "DRIER",
    "FLAG_WORDS",
    "FORMULAS",
    "NOT_BELIEVED",
    "PINNED",
    "Series",
    "add_salt_point",
    "age_words",
    "believed",
    "checks_of",
    "interpolate",
    "interpolate_each",
    "load_all",
    "mark_lines",
    "mark_named",
    "marks_of",
    "overview",
    "overview_lines",
    "refresh_newest",
    "saturation_vapour_pressure_hpa",
    "side_by_side_lines",
    "span_ms",
    "time_of",
    "vpd_kpa",
]
__getattr__ = opened(
    __name__,
    {
        "calibration": "checks_of",
        "cross_checks": "load_all span_ms",
        "joining": "interpolate interpolate_each",
        "marks": "mark_lines mark_named marks_of time_of",
        "moisture": "FORMULAS saturation_vapour_pressure_hpa vpd_kpa",
        "newest": "refresh_newest",
        "overview": "age_words overview overview_lines side_by_side_lines",
        "quality": "CEILING DRIER FLAG_WORDS NOT_BELIEVED PINNED believed",
        "salt_entry": "add_salt_point",
        "series": "Series",
    },
)
