"""The functions of probability of scipy.special, without what its package drags in and nothing of zoneuse uses.

The package wraps each function for other kinds of arrays and reads each one's documentation for it: five times what
the functions themselves take to load. So their file is opened past the package, which stays as it was for whoever
imports it in full.
"""

from __future__ import annotations

import sys
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import scipy

__all__ = ["special"]

_PACKAGE = "scipy.special"


def _functions() -> ModuleType:
    if _PACKAGE in sys.modules:
        return sys.modules[_PACKAGE]
    past = ModuleType(_PACKAGE)
    past.__path__ = [str(Path(scipy.__file__).parent / "special")]
    sys.modules[_PACKAGE] = past
    try:
        return import_module(f"{_PACKAGE}._ufuncs")
    finally:
        del sys.modules[_PACKAGE]


if TYPE_CHECKING:
    from scipy import special
else:
    try:
        special = _functions()
    except ImportError:  # a scipy that is laid out otherwise
        from scipy import special
