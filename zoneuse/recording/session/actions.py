"""Everything the program does by itself, with its keys: one table for help, menu, buttons and line mode.

Letters and digits belong to the keeper; punctuation and function keys are the program's. Each action has a key that
needs no Shift on QWERTY, QWERTZ and AZERTY keyboards, and a letter behind the menu's key.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Action:
    """``keys`` are the names of keys as terminals send them; ``shows`` is what a person reads on them.

    ``hand`` is the key that is shown to be pressed: one that needs no Shift. ``letter`` does it from the menu;
    ``short`` fits a button.
    """

    name: str
    keys: tuple[str, ...]
    shows: str
    hand: str
    letter: str
    short: str
    says: str

    @property
    def line(self) -> str:
        """What a line of the line mode says for it."""
        return _IN_LINES.get(self.name, self.name.replace("_", "-"))


_IN_LINES = {"help": "keys", "records": "list", "earlier": "<", "now": ">", "pause": ":"}

ACTIONS: tuple[Action, ...] = (
    Action(
        "same", ("space", "right", "equals_sign"), "Space or → or =", "␣→", "s", "same",
        "As before: same zone, same behaviour",
    ),
    Action(
        "same_all", ("down", "plus"), "↓ or +", "↓", "a", "all same", "As before for everyone not yet answered"
    ),
    Action("unseen", ("minus", "up"), "- or ↑", "↑", "n", "not found", "Looked for and not found"),
    Action(
        "undo", ("backspace", "left"), "Backspace or ←", "←", "u", "undo",
        "Take the last record back, again and again",
    ),
    Action("guess", ("comma",), ",", ",", "g", "guess", "The record being typed is a guess"),
    Action("hidden", ("f8", "semicolon"), "F8 or ;", "F8", "h", "hidden", "Known to be there, but not visible"),
    Action("someone", ("end", "asterisk"), "End or *", "End", "w", "which?", "One of them, not known which"),
    Action(
        "event", ("insert", "exclamation_mark"), "Ins or !", "Ins", "e", "event",
        "A momentary event, whatever is being asked",
    ),
    Action("accept", ("enter",), "Enter", "⏎", "d", "done", "Without a behaviour; or the counts as typed"),
    Action("next_one", ("tab",), "Tab", "Tab", "k", "skip", "Ask about the next one first"),
    Action("lifted", ("f7", "underscore"), "F7 or _", "F7", "l", "lifted", "In a round: its cover was lifted, or not"),
    Action("earlier", ("pageup", "less_than_sign"), "PgUp or <", "PgUp", "b", "late", "Answer an earlier scan, late"),
    Action(
        "now", ("pagedown", "greater_than_sign"), "PgDn or >", "PgDn", "o", "now",
        "Back to the running scan; or end the settling",
    ),
    Action("write", ("f2", "quotation_mark"), 'F2 or "', "F2", "t", "note", "A note, or fed, shedding, disturbed …"),
    Action("records", ("f3", "number_sign"), "F3 or #", "F3", "r", "records", "The list of records, to correct any"),
    Action("pause", ("f4", "colon"), "F4 or :", "F4", "p", "pause", "Pause the beat, or go on"),
    Action("limits", ("f5", "percent_sign"), "F5 or %", "F5", "c", "climate", "Newest readings, and limits they break"),
    Action("elsewhere", ("f6",), "F6", "F6", "f", "elsewhere", "Write to another folder (when the disk fails)"),
    Action("new_zone", ("f12",), "F12", "F12", "z", "new zone", "A zone that turned up: its label and key, now"),
    Action("help", ("f1", "question_mark"), "F1 or ?", "F1", "i", "keys", "Show every key"),
    Action("finish", ("f10", "full_stop"), "F10 or .", "F10", "x", "finish", "Finish the session, with a summary"),
    Action("menu", ("f9", "ctrl+p", "slash"), "F9 or Ctrl+P or /", "F9", "m", "menu", "Every action, by a letter"),
    Action("leave", ("ctrl+c", "ctrl+q"), "Ctrl+C", "Ctrl+C", "v", "leave", "Leave at once; it can be continued later"),
)  # fmt: skip

BY_NAME = {action.name: action for action in ACTIONS}
BY_KEY = {key: action for action in ACTIONS for key in action.keys}
BY_LETTER = {action.letter: action for action in ACTIONS}
