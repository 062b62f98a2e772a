"""The last records of every kind, numbered from the newest, and what may be changed of the one that was chosen."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import click

from ...journal import Journals
from ...recording.mending import Made, last_made, made_words
from ...study import Declaration, visible
from ..narration import ask, confirm, say, tell


def list_last(declared: Declaration, journals: Journals, now: datetime) -> list[Made]:
    """Print them, numbered; the list is what a number is then taken from."""
    made = last_made(journals)
    if not made:
        say("Nothing is recorded yet; start with: zoneuse watch")
    for number, one in enumerate(made, 1):
        tell(f"{number:>3}  {made_words(declared, one, now)}")
    return made


_QUESTIONS = {
    "z": ("zone", "it was in another zone"),
    "a": ("animal", "it was another animal"),
    "b": ("behaviour", "it did something else (- nothing)"),
    "c": ("count", "it was so many"),
    "w": ("when", "it was at another time"),
    "v": ("text", "its text or value"),
}
_FOR_KIND = {
    "seen": "zabcw", "unseen": "zaw", "missed": "zaw", "happened": "zabw", "context": "avw", "noted": "avw",
}  # fmt: skip


def ask_what(declared: Declaration, made: Made, now: datetime) -> tuple[str, Any] | None:
    """Show a record and ask what is wrong with it: a change, ``take_back``, ``put_back``; None for nothing."""
    say(made_words(declared, made, now))
    if made.now is None:
        put_back = confirm("It was taken back. Let it count again", default=False)
        return ("put_back", True) if put_back else None
    record = made.now.record
    letters = [c for c in _FOR_KIND.get(record.kind, "") if c != "c" or record.get("group")]
    for letter in letters:
        say(f"  {letter}  {_QUESTIONS[letter][1]}")
    say("  t  it never was: take it back")
    answer = ask(
        "What is wrong (Enter: nothing)", type=click.Choice([*letters, "t", ""]), default="",
        show_choices=False, show_default=False,
    )  # fmt: skip
    if answer == "t":
        return "take_back", True
    if not answer:
        return None
    name, _ = _QUESTIONS[answer]
    _say_choices(declared, name)
    value = ask("It was", type=int if name == "count" else str)
    return name, value


def _say_choices(declared: Declaration, name: str) -> None:
    if name == "zone":
        listed = [f"{z.key} {z.label}" for z in declared.zones.values()]
    elif name == "animal":
        listed = [f"{a.key} {a.label}" for a in declared.animals.values()]
        listed += [f"{g.key} {g.label}" for g in declared.groups.values()]
    elif name == "behaviour":
        listed = [f"{b.key} {b.label}" for b in declared.behaviours.values()]
    else:
        return
    say("  " + ", ".join(visible(one) for one in listed[:20]))


def ask_number(made: Sequence[Made]) -> Made | None:
    """Which of the list is to be corrected; None for none."""
    say()
    text = ask("The number of one to correct (Enter: none)", default="", show_default=False)
    return chosen(made, text) if text.strip() else None


def chosen(made: Sequence[Made], text: str) -> Made:
    if text.strip().isdecimal() and 1 <= int(text) <= len(made):
        return made[int(text) - 1]
    raise click.UsageError(f"the list has no number {text}; zoneuse mend shows it.")
