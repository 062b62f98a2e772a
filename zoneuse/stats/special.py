"""scipy.special, without what its import drags in and nothing of zoneuse uses.

scipy asks numpy for all its names, and so for its Fortran compiler and its test tools, which are loaded on use
otherwise: a third of the time that the functions of probability take to load. They stand as empty modules meanwhile.
"""

from __future__ import annotations

from types import ModuleType

import numpy as np

__all__ = ["special"]

_UNUSED = tuple(name for name in ("f2py", "testing") if name not in vars(np))
for _name in _UNUSED:
    setattr(np, _name, ModuleType(f"numpy.{_name}"))
try:
    from scipy import special
finally:
    for _name in _UNUSED:
        delattr(np, _name)
