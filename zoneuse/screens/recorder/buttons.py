"""The row of keys for a thumb, by the way of watching and the width of the screen."""

from __future__ import annotations

from ...recording import BY_NAME, Focal, Recorder, Rounding, Scanning
from .panels import Chip

# What a hand needs most, in this order, the four of every scan together; everything else is in the menu.
_WIDE = (
    "same", "same_all", "unseen", "undo", "guess", "hidden", "event",
    "earlier", "write", "records", "pause", "finish", "menu", "help",
)  # fmt: skip
_NARROW = ("same", "same_all", "unseen", "undo", "guess", "event", "write", "menu")
_ROUND_WIDE = (
    "accept", "next_one", "lifted", "undo", "someone", "guess", "hidden", "earlier",
    "write", "records", "pause", "finish", "menu", "help",
)  # fmt: skip
_ROUND_NARROW = ("accept", "next_one", "lifted", "undo", "someone", "guess", "earlier", "menu")
# In a round some keys do what the same key does elsewhere, to retreats instead of animals.
_ROUND_SAYS = {"accept": "next", "next_one": "left out", "earlier": "back", "finish": "end"}
# Without those that scans alone need there is room for others.
_FOCAL_NARROW = ("unseen", "undo", "guess", "event", "write", "hidden", "finish", "menu")
_PASSING_NARROW = ("same", "unseen", "undo", "guess", "event", "write", "finish", "menu")
_FOCAL_LEAVES_OUT = ("same", "same_all", "someone", "accept", "next_one", "earlier")
_PASSING_LEAVES_OUT = ("same_all", "next_one", "earlier", "now")


def buttons(core: Recorder, narrow: bool) -> list[Chip]:
    """The program's keys that are shown to be touched."""
    if isinstance(core.mode, Rounding):
        names = _ROUND_NARROW if narrow else _ROUND_WIDE
        says = _ROUND_SAYS if core.mode.place is not None else {**_ROUND_SAYS, "accept": "yes"}
        return [_chip(name, says.get(name)) for name in names]
    few = _NARROW
    left_out: tuple[str, ...] = ()
    if isinstance(core.mode, Focal):
        few, left_out = _FOCAL_NARROW, _FOCAL_LEAVES_OUT
    elif not isinstance(core.mode, Scanning):
        few, left_out = _PASSING_NARROW, _PASSING_LEAVES_OUT
    return [_chip(name) for name in (few if narrow else _WIDE) if name not in left_out]


def _chip(name: str, says: str | None = None) -> Chip:
    action = BY_NAME[name]
    return Chip(action.hand, says or action.short, action=name)
