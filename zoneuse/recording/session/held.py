"""A key held down repeats like presses; a run no finger can type is ignored, and said so."""

from __future__ import annotations

from dataclasses import dataclass

# Terminals repeat 20 to 40 times a second; fingers reach about 10 on one key.
_FASTEST_S = 0.06
_RUN = 6


@dataclass(slots=True)
class HeldKey:
    """Remembers the last key and how long its run of machine-fast repeats is."""

    key: str = ""
    at: float = 0.0
    run: int = 0

    def ignores(self, key: str, mono: float, most: int | None = None) -> bool:
        """Whether this press belongs to a key held down (after ``most`` fast repeats; six unless given)."""
        fast = key == self.key and mono - self.at < _FASTEST_S
        self.run = self.run + 1 if fast else 0
        self.key, self.at = key, mono
        return self.run >= (most or _RUN)
