"""Moisture from temperature and relative humidity, by one named formula.

All of it follows the saturation vapour pressure over water of WMO-No. 8, Guide to Meteorological
Instruments and Methods of Observation (2008 edition), Annex 4.B: 6.112 exp(17.62 t / (243.12 + t)) hPa,
t in °C. It was chosen because it can be inverted exactly (the dew point needs no iteration), it is the
published form meant for instruments, and between 5 and 40 °C it lies within 0.5 % of every other formula in
use; a keeper's hygrometer is off by ten times that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

_A_HPA, _B, _C = 6.112, 17.62, 243.12
# Gas constant of water vapour, J/(kg K).
_R_VAPOUR = 461.5


def saturation_vapour_pressure_hpa(temperature_c: ArrayLike) -> NDArray[np.float64]:
    """The pressure of vapour in saturated air over water, hPa (WMO-No. 8, 2008, Annex 4.B).

    >>> round(float(saturation_vapour_pressure_hpa(20.0)), 3)
    23.326
    """
    t = np.asarray(temperature_c, np.float64)
    return np.asarray(_A_HPA * np.exp(_B * t / (_C + t)), np.float64)


def vapour_pressure_hpa(temperature_c: ArrayLike, humidity_pct: ArrayLike) -> NDArray[np.float64]:
    """The pressure of the vapour in the air, hPa."""
    share = np.asarray(humidity_pct, np.float64) / 100.0
    return np.asarray(saturation_vapour_pressure_hpa(temperature_c) * share, np.float64)


def dew_point_c(temperature_c: ArrayLike, humidity_pct: ArrayLike) -> NDArray[np.float64]:
    """The temperature at which this air would be saturated, °C; NaN where humidity is not above 0.

    Two spots of equal dew point hold equally moist air: the warmer only looks drier. It is never above the air's own
    temperature: a sensor that reads 103 % in saturated air says 100.

    >>> round(float(dew_point_c(20.0, 60.0)), 2)
    12.0
    """
    pressure = vapour_pressure_hpa(temperature_c, np.minimum(np.asarray(humidity_pct, np.float64), 100.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        log = np.log(np.where(pressure > 0, pressure, np.nan) / _A_HPA)
        return np.asarray(_C * log / (_B - log), np.float64)


def vpd_kpa(temperature_c: ArrayLike, humidity_pct: ArrayLike) -> NDArray[np.float64]:
    """Vapour pressure deficit, kPa: how strongly the air draws water; 0 in saturated air.

    >>> round(float(vpd_kpa(25.0, 50.0)), 3)
    1.58
    """
    saturated = saturation_vapour_pressure_hpa(temperature_c)
    deficit = saturated - vapour_pressure_hpa(temperature_c, humidity_pct)
    # A sensor that reads 101 % does not make air that gives water back.
    return np.asarray(np.maximum(deficit, 0.0) / 10.0, np.float64)


def absolute_humidity_g_m3(temperature_c: ArrayLike, humidity_pct: ArrayLike) -> NDArray[np.float64]:
    """Grams of water in a cubic metre of air, from the ideal gas law with 461.5 J/(kg K).

    >>> round(float(absolute_humidity_g_m3(20.0, 50.0)), 1)
    8.6
    """
    kelvin = np.asarray(temperature_c, np.float64) + 273.15
    pascal = vapour_pressure_hpa(temperature_c, humidity_pct) * 100.0
    return np.asarray(pascal / (_R_VAPOUR * kelvin) * 1000.0, np.float64)


# How each derived quantity of the registry follows from temperature and humidity.
FORMULAS: Mapping[str, Callable[[ArrayLike, ArrayLike], NDArray[np.float64]]] = {
    "vpd_kpa": vpd_kpa,
    "dew_point_c": dew_point_c,
}
