"""Quantities in a keeper's words and units: °C unless the study says °F, a difference without the 32."""

from __future__ import annotations

from ..study.quantities import QUANTITIES

_LABELS = {"vpd_kpa": ("vapour pressure deficit", "kPa"), "dew_point_c": ("dew point", "°C")}


def label(quantity: str) -> str:
    """``temperature_c`` as "temperature"."""
    return QUANTITIES[quantity].label if quantity in QUANTITIES else _LABELS.get(quantity, (quantity, ""))[0]


def unit(quantity: str, fahrenheit: bool = False) -> str:
    found = QUANTITIES[quantity].unit if quantity in QUANTITIES else _LABELS.get(quantity, ("", ""))[1]
    return "°F" if fahrenheit and found == "°C" else found


def said(quantity: str, value: float, fahrenheit: bool = False, difference: bool = False) -> str:
    """A value with its unit, as a person reads it.

    >>> said("temperature_c", 25.0), said("temperature_c", 25.0, fahrenheit=True)
    ('25.0 °C', '77.0 °F')
    >>> said("temperature_c", 5.0, fahrenheit=True, difference=True)
    '9.0 °F'
    """
    shown = in_unit(quantity, value, fahrenheit, difference)
    name = unit(quantity, fahrenheit)
    if difference and name == "%":
        name = "points"
    digits = 2 if name in ("kPa", "") else 0 if name == "lx" else 1
    return f"{shown:.{digits}f} {name}".strip()


def in_unit(quantity: str, value: float, fahrenheit: bool = False, difference: bool = False) -> float:
    """A stored value (°C) in the unit it is shown in."""
    if fahrenheit and unit(quantity) == "°C":
        return value * 1.8 + (0.0 if difference else 32.0)
    return value
