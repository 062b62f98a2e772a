"""Quantities in a keeper's words and units: °C unless the study says °F, a difference without the 32."""

from __future__ import annotations

from ..study import DERIVED, QUANTITIES, Quantity


def label(quantity: str) -> str:
    """``temperature_c`` as "temperature"."""
    found = _known(quantity)
    return quantity if found is None else found.label


def what_of(quantity: str) -> str:
    """What stands behind a value whose unit does not tell the quantity.

    >>> what_of("humidity_pct"), what_of("temperature_c")
    (' humidity', '')
    """
    return "" if unit(quantity) == "°C" else f" {label(quantity)}"


def _known(quantity: str) -> Quantity | None:
    return QUANTITIES.get(quantity) or DERIVED.get(quantity)


def unit(quantity: str, fahrenheit: bool = False) -> str:
    found = _known(quantity)
    if found is None:
        return ""
    return "°F" if fahrenheit and found.degrees else found.unit


def said(quantity: str, value: float, fahrenheit: bool = False, difference: bool = False) -> str:
    """A value with its unit, as a person reads it.

    >>> said("temperature_c", 25.0), said("temperature_c", 25.0, fahrenheit=True)
    ('25.0 °C', '77.0 °F')
    >>> said("temperature_c", 5.0, fahrenheit=True, difference=True), said("humidity_pct", -0.04, difference=True)
    ('9.0 °F', '0.0 points')
    """
    shown = in_unit(quantity, value, fahrenheit, difference)
    name = unit(quantity, fahrenheit)
    if difference and name == "%":
        name = "points"
    found = _known(quantity)
    told = f"{shown:.{2 if found is None else found.digits}f}"
    told = told.replace("-", "−") if float(told) else told.removeprefix("-")
    return f"{told} {name}".strip()


def span_of(
    quantity: str, low: float, high: float, fahrenheit: bool = False, difference: bool = False
) -> str:
    """Two values with their unit once.

    >>> span_of("temperature_c", 11.9, 15.1), span_of("humidity_pct", -0.2, 3.0, difference=True)
    ('11.9 to 15.1 °C', '−0.2 to 3.0 points')
    """
    first, last = (said(quantity, v, fahrenheit, difference) for v in (low, high))
    return f"{first.split(' ')[0]} to {last}"


def in_unit(quantity: str, value: float, fahrenheit: bool = False, difference: bool = False) -> float:
    """A stored value (°C) in the unit it is shown in."""
    if fahrenheit and unit(quantity) == "°C":
        return value * 1.8 + (0.0 if difference else 32.0)
    return value


def brief(quantity: str, value: float, fahrenheit: bool = False, difference: bool = False) -> str:
    """A value without its unit, as it stands in a table."""
    found = _known(quantity)
    digits = 1 if found is None else found.brief_digits
    return f"{in_unit(quantity, value, fahrenheit, difference):.{digits}f}"


def symbol(quantity: str, fahrenheit: bool = False) -> str:
    """What heads a narrow column: ``% RH``, ``°F``."""
    found = _known(quantity)
    told = quantity if found is None else found.symbol or found.unit
    return told.replace("°C", "°F") if fahrenheit else told


def short(quantity: str) -> str:
    """A name where room is scarce: ``temp.``."""
    found = _known(quantity)
    return quantity if found is None else found.short or found.label
