"""Keys that no finger meant: a key held down, one pressed twice to close one thing, the pieces of a torn sequence."""

from __future__ import annotations

from dataclasses import dataclass

# Terminals repeat 20 to 40 times a second; fingers reach about 10 on one key.
_FASTEST_S = 0.06
_RUN = 6
# A key so soon after the same key closed something belongs to that press, or was one too many.
CLOSED_S = 0.7
# What a terminal sends for a function key or an arrow is Escape and some letters; a slow link may tear them apart.
_TORN_S, _TORN_O_S = 1.0, 0.4


@dataclass(slots=True)
class HeldKey:
    """Remembers the last key and how long its run of machine-fast repeats is."""

    key: str = ""
    at: float = 0.0
    run: int = 0

    def ignores(self, key: str, mono: float, most: int = _RUN, fastest_s: float = _FASTEST_S) -> bool:
        """Whether this press belongs to a key held down, or one that bounces: after ``most`` fast repeats."""
        fast = key == self.key and mono - self.at < fastest_s
        self.run = self.run + 1 if fast else 0
        self.key, self.at = key, mono
        return self.run >= most


@dataclass(slots=True)
class Closing:
    """What closed a box last: the same key, or the mouse, again at once does nothing to what was beneath."""

    key: str = ""
    at: float = -1e9

    def closed(self, key: str, mono: float) -> None:
        self.key, self.at = key, mono

    def ignores(self, key: str, mono: float) -> bool:
        again = key == self.key and mono - self.at < CLOSED_S
        # Any other key in between shows that the hand has gone on.
        self.key, self.at = (key, mono) if again else ("", -1e9)
        return again


@dataclass(slots=True)
class TornSequence:
    """Swallows what is left of an arrow or function key whose Escape arrived alone."""

    escaped: float = -1e9
    inside: float = -1e9

    def swallows(self, key: str, character: str, mono: float) -> bool:
        """Whether this key is a piece of such a sequence, and no key that anybody pressed."""
        if key == "escape":
            self.escaped, self.inside = mono, -1e9
            return False
        if mono - self.inside < _TORN_S:
            # Digits and semicolons go on; any letter or a tilde ends it.
            self.inside = mono if character.isdigit() or character in (";", "[") else -1e9
            return True
        begins = (character == "[" and mono - self.escaped < _TORN_S) or (
            character == "O" and mono - self.escaped < _TORN_O_S
        )
        self.escaped = -1e9
        if begins:
            self.inside = mono
        return begins
