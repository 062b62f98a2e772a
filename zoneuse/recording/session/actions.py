"""Everything the program does by itself, with its keys: one table for help, palette, buttons and line mode.

Letters and digits belong to the keeper; punctuation and function keys are the program's.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Action:
    """``keys`` are Textual's names; ``shows`` is what a person reads on the key; ``short`` fits a button."""

    name: str
    keys: tuple[str, ...]
    shows: str
    short: str
    says: str


ACTIONS: tuple[Action, ...] = (
    Action("same", ("space", "equals_sign"), "Space or =", "same", "As before: same zone, same behaviour"),
    Action("same_all", ("plus",), "+", "all same", "As before for everyone not yet answered"),
    Action("unseen", ("minus",), "-", "not found", "Looked for and not found"),
    Action("guess", ("comma",), ",", "guess", "The record being typed is a guess"),
    Action("hidden", ("semicolon",), ";", "hidden", "Known to be there, but not visible"),
    Action("someone", ("asterisk",), "*", "which?", "One of them, not known which"),
    Action("event", ("exclamation_mark",), "!", "event", "A momentary event, whatever is being asked"),
    Action("accept", ("enter",), "Enter", "done", "Without a behaviour; or the counts as typed"),
    Action("undo", ("backspace",), "Backspace", "undo", "Take the last record back, again and again"),
    Action("next_one", ("tab", "right"), "Tab", "skip", "Ask about the next one first"),
    Action("lifted", ("underscore", "f7"), "_ or F7", "lifted", "Retreat round: its cover was lifted, or not"),
    Action("earlier", ("less_than_sign", "left"), "<", "late", "Answer an earlier scan, late"),
    Action("now", ("greater_than_sign",), ">", "now", "Back to the running scan; or end the settling"),
    Action("write", ("quotation_mark", "f2"), '" or F2', "note", "A note, or fed, shedding, disturbed …"),
    Action("records", ("number_sign", "f3"), "# or F3", "records", "The list of records, to correct any"),
    Action("pause", ("colon", "f4"), ": or F4", "pause", "Pause the beat, or go on"),
    Action("limits", ("percent_sign", "f5"), "% or F5", "climate", "Newest readings, and limits they break"),
    Action("elsewhere", ("f6",), "F6", "elsewhere", "Write to another folder (when the disk refuses)"),
    Action("help", ("question_mark", "f1"), "? or F1", "keys", "Show every key"),
    Action("finish", ("full_stop", "f10"), ". or F10", "finish", "Finish the session, with a summary"),
    Action("menu", ("slash", "ctrl+p"), "/ or Ctrl+P", "menu", "Every action by name"),
    Action("leave", ("ctrl+c", "ctrl+q"), "Ctrl+C", "leave", "Leave at once; it can be continued later"),
)  # fmt: skip

BY_NAME = {action.name: action for action in ACTIONS}
BY_KEY = {key: action for action in ACTIONS for key in action.keys}
