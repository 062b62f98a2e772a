"""One line of text under the fingers: written, deleted, moved in. Knows no screen."""

from __future__ import annotations

from dataclasses import dataclass

_MOST_LETTERS = 2000


@dataclass(slots=True)
class TextLine:
    """One line of text under the fingers, and where in it the cursor stands."""

    value: str = ""
    cursor: int = 0

    def insert(self, text: str) -> None:
        room = max(0, _MOST_LETTERS - len(self.value))
        clean = "".join(c if c.isprintable() else " " for c in text)[:room]
        self.value = self.value[: self.cursor] + clean + self.value[self.cursor :]
        self.cursor += len(clean)

    def press(self, key: str, character: str | None) -> None:
        """A key that writes, deletes or moves, by its name and what it types."""
        if key == "backspace" and self.cursor:
            self.value = self.value[: self.cursor - 1] + self.value[self.cursor :]
            self.cursor -= 1
        elif key == "delete":
            self.value = self.value[: self.cursor] + self.value[self.cursor + 1 :]
        elif key == "ctrl+u":
            self.value, self.cursor = "", 0
        elif key in ("left", "right", "home", "end"):
            at = {"left": self.cursor - 1, "right": self.cursor + 1, "home": 0, "end": len(self.value)}
            self.cursor = max(0, min(at[key], len(self.value)))
        elif character is not None and character.isprintable():
            self.insert(character)

    def window(self, width: int) -> tuple[str, int]:
        """The part of the line that is in sight, and where in it the cursor stands."""
        text = self.value + " "
        start = max(0, self.cursor - max(1, width - 2))
        return text[start : start + max(1, width)], self.cursor - start
