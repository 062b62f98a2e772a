"""Short cautions for the first screen, and remembering that they were read for this study."""

from __future__ import annotations

import os
from pathlib import Path

# The full ones stand in docs/cautions.md.
SHORT = (
    "The animal comes first: a sick one goes to a vet. This is no diagnosis.",
    "Heat burns: guard it. Mains and water apart. Wash your hands (Salmonella).",
    "Never reach in to a dangerous animal for a record. Local law comes first.",
)


def _kept_in() -> Path:
    """Of this person on this device, not of the study: another observer reads them once too."""
    base = os.environ.get("XDG_STATE_HOME") or str(Path.home() / ".local" / "state")
    return Path(base) / "zoneuse" / "cautions-read"


def were_put_away(study: Path) -> bool:
    try:
        return str(study.resolve()) in _kept_in().read_text("utf-8").splitlines()
    except (OSError, RuntimeError, UnicodeDecodeError):
        return False


def put_away(study: Path) -> None:
    """Remember it; where that cannot be written they are simply shown again."""
    try:
        path = _kept_in()
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a", encoding="utf-8") as stream:
            stream.write(f"{study.resolve()}\n")
    except (OSError, RuntimeError):
        return
