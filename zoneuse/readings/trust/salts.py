"""The humidity above saturated salts: the fixed points a hygrometer is checked against.

Greenspan L. 1977, Humidity fixed points of binary saturated aqueous solutions, J. Res. NBS 81A:89-96, whose
polynomials ASTM E104 uses; %RH = a0 + a1 t + a2 t^2 + a3 t^3, t in °C.
"""

from __future__ import annotations

import numpy as np

# salt: (coefficients, lowest and highest °C the polynomial is for)
GREENSPAN: dict[str, tuple[tuple[float, ...], float, float]] = {
    "LiCl": ((11.2323, 0.00824245, -2.14890e-4), 0, 50),
    "CH3COOK": ((22.4388, 0.156288, -6.12868e-3), 10, 30),
    "MgCl2": ((33.6686, -0.00797397, -1.08988e-3), 0, 50),
    "K2CO3": ((43.1315, 0.00147523), 0, 30),
    "NaCl": ((75.5164, 0.0398321, -2.65459e-3, 2.848e-5), 0, 50),
    "KCl": ((88.6190, -0.193340, 8.99706e-4), 0, 50),
    "KNO3": ((96.3361, 0.0112371, -4.84514e-3), 0, 50),
    "K2SO4": ((98.7792, -0.0590502), 0, 50),
}
# Greenspan's table for sodium bromide, read between its rows.
_NABR_C = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)
_NABR_PCT = (63.5, 62.2, 60.7, 59.1, 57.6, 56.03, 54.55, 53.17)
SALTS = (*GREENSPAN, "NaBr")


def salt_name(text: str) -> str | None:
    """A salt's formula as it is listed here, whatever its letters' case; None for an unknown one.

    >>> salt_name("nacl"), salt_name("sugar")
    ('NaCl', None)
    """
    return next((s for s in SALTS if s.casefold() == text.strip().casefold()), None)


def salt_humidity_pct(salt: str, at_c: float) -> float:
    """The relative humidity above a saturated salt, %. Raises ValueError outside what is published.

    >>> round(salt_humidity_pct("NaCl", 20.0), 2)
    75.48
    """
    name = salt_name(salt)
    if name is None:
        raise ValueError(f"{salt!r} is not one of the salts {', '.join(SALTS)}")
    if name == "NaBr":
        low, high = _NABR_C[0], _NABR_C[-1]
        value = float(np.interp(at_c, _NABR_C, _NABR_PCT))
    else:
        coefficients, low, high = GREENSPAN[name]
        value = float(sum(a * at_c**power for power, a in enumerate(coefficients)))
    if not low <= at_c <= high:
        raise ValueError(f"{name} is known between {low:g} and {high:g} °C, not at {at_c:g} °C")
    return value
