"""Where a person's own files of a program lie, outside of every study."""

from __future__ import annotations

import os
from pathlib import Path


def user_folder(variable: str, usual: str) -> Path:
    """zoneuse's folder below what an XDG variable names; below ``~/USUAL`` where it names no absolute path.

    Raises RuntimeError where nobody has a home.
    """
    named = os.environ.get(variable, "")
    root = Path(named) if named and Path(named).is_absolute() else Path.home() / usual
    return root / "zoneuse"
