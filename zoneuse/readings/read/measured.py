"""Numbers as an export writes them, in the units they are stored in."""

from __future__ import annotations

from collections import Counter

import numpy as np

from ...study import QUANTITIES
from ..arrow_arrays import Values
from ..recognise.headers import DEGREES, FAHRENHEIT, KELVIN


def measured(raw: Values, quantity: str, unit: str, missing: Counter[str]) -> Values:
    """Numbers as written, in the stored unit; codes for "no sensor" become NaN, counted in ``missing``."""
    values = raw
    if unit == FAHRENHEIT:
        values = (raw - 32.0) / 1.8
    elif unit == KELVIN:
        values = raw - 273.15
    elif unit == "share":
        values = raw * 100.0
    low, high = QUANTITIES[quantity].in_files
    # Two glances spare most files a look at each value; NaN is never within.
    if len(values) and low <= values.min() and values.max() <= high:
        return values
    with np.errstate(invalid="ignore"):
        codes = (values < low) | (values > high)
    if codes.any():
        missing.update(f"{v:g}" for v in raw[codes])
        values = np.where(codes, np.nan, values)
    return values


def known_unit(text: str) -> str:
    """The unit in a unit column's cell; empty where it is none that is known."""
    folded_text = text.strip().casefold().replace(" ", "")
    return DEGREES.get(
        folded_text, "%" if "%" in folded_text else "lx" if folded_text in ("lx", "lux") else ""
    )


def drop_double_zero(values: dict[str, Values], missing: Counter[str]) -> None:
    """0 °C and 0 % at once is a sensor that did not answer."""
    if "temperature_c" in values and "humidity_pct" in values:
        humidity = values["humidity_pct"]
        if len(humidity) and humidity.min() > 0:
            return
        zero = (values["temperature_c"] == 0.0) & (values["humidity_pct"] == 0.0)
        if zero.any():
            missing["0 in both"] += int(zero.sum())
            for q in ("temperature_c", "humidity_pct"):
                values[q] = np.where(zero, np.nan, values[q])
