"""A record shown and mended: taken back, corrected, or let count again, with a trace; as `zoneuse mend` does it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from ...journal import Place
from ...recording.mending import Made, MendError, last_made, made_at, made_words, mend_entry, put_back
from ...study import UnknownNameError, parse_when, to_utc, visible
from ..recorder.panels import Chip
from .base import BACK, KEYS
from .drawing.blocks import BLANK, OpenMend, Opens, Pressed, TextBlock, heading, plain_lines, wrapped
from .records import JournalScreen

# What may have been wrong with a record, as a person says it.
_WRONG = {
    "zone": "it was in another zone",
    "animal": "it was another animal",
    "behaviour": "it did something else",
    "count": "it was so many",
    "guess": "it was a guess",
    "sure": "it was sure",
    "hidden": "it was there, but not visible",
    "visible": "it was visible",
    "when": "it was at another time",
    "text": "its text or value",
    "take_back": "it never was: take it back",
    "put_back": "let it count again",
}
_FOR_KIND = {
    "seen": ("zone", "animal", "behaviour", "count", "guess", "hidden", "when"),
    "unseen": ("zone", "animal", "when"),
    "missed": ("zone", "animal", "when"),
    "happened": ("zone", "animal", "behaviour", "when"),
    "context": ("animal", "when", "text"),
    "noted": ("animal", "when", "text"),
}
_TYPED = {
    "count": ("How many", "a whole number"),
    "when": ("When was it", "yesterday 21:30, 2h ago, or 2026-03-04 19:05"),
    "text": ("Its text or value", "as you would note it: 12 g"),
}


class LastRecordsScreen(JournalScreen):
    """The last records of every kind, numbered from the newest: the list that `zoneuse mend` prints."""

    def title_words(self) -> str:
        return "The last records"

    def keys(self) -> Sequence[Chip]:
        return (Chip("⏎", "mend it", action="open"), BACK, KEYS)

    def blocks(self, width: int) -> Sequence[TextBlock]:
        journals = self.review.journals
        if journals is None:
            return [self.reading(width)]
        made = last_made(journals)
        if not made:
            return [wrapped("Nothing is recorded yet; start with: zoneuse watch", width)]
        now, declared = self.review.clock(), self.review.declared
        return [
            wrapped(
                made_words(declared, one, now), width, f"{number:>2}  ", "    ",
                style="" if one.now is not None else "$muted", opens=OpenMend(one.first.place),
            )
            for number, one in enumerate(made, 1)
        ]  # fmt: skip

    def action_answer(self, number: int) -> None:
        """A digit is a number of this list here."""
        journals = self.review.journals
        made = last_made(journals) if journals is not None else []
        if number <= len(made):
            self.review.open(OpenMend(made[number - 1].first.place))


class MendScreen(JournalScreen):
    """One record: what it says, and what may be wrong with it."""

    def __init__(self, place: Place) -> None:
        super().__init__()
        self._place, self._asking, self._told = place, "", ""

    def title_words(self) -> str:
        return "Mend a record"

    def keys(self) -> Sequence[Chip]:
        return (Chip("⏎", "choose", action="open"), BACK, KEYS)

    def _made(self) -> Made | None:
        journals = self.review.journals
        return made_at(journals, self._place) if journals is not None else None

    def blocks(self, width: int) -> Sequence[TextBlock]:
        made = self._made()
        told = [wrapped(self._told, width, style="bold $who"), BLANK] if self._told else []
        if self.review.journals is None:
            return [*told, self.reading(width)]
        if made is None:
            return [*told, wrapped("This record is not on the disk any more. F5 looks again.", width)]
        says = made_words(self.review.declared, made, self.review.clock())
        head = [*told, wrapped(says, width), wrapped(_whence(made), width, style="$muted")]
        if self._asking:
            return [*head, *heading(f"{_WRONG[self._asking].capitalize()}. Which?", width), *self._choices()]
        wrong = [plain_lines(_WRONG[name], opens=Pressed("wrong", name)) for name in may_be_wrong(made)]
        return [
            *head,
            *heading("What is wrong with it?", width),
            *wrong,
            BLANK,
            wrapped(_TRACE, width, style="$muted"),
        ]

    def _choices(self) -> list[TextBlock]:
        declared = self.review.declared
        found: list[tuple[str, str, str]] = []
        if self._asking == "zone":
            several = " ({})" if declared.several else ""
            found = [(z.id, z.key, z.label + several.format(z.enclosure)) for z in declared.zones.values()]
        elif self._asking == "animal":
            found = [(a.id, a.key, a.label) for a in declared.animals.values()]
            found += [(g.id, g.key, g.label) for g in declared.groups.values()]
        else:
            found = [(b.id, b.key, b.label) for b in declared.behaviours.values()] + [
                ("-", "", "nothing of these")
            ]
        return [
            plain_lines(f"{key:<2} {visible(label)}", opens=Pressed("is", name)) for name, key, label in found
        ]

    def chosen(self, opens: Opens) -> None:
        if not isinstance(opens, Pressed):
            return
        self._told = ""
        if opens.what == "is":
            self._change({self._asking: opens.value})
        elif opens.value in ("zone", "animal", "behaviour"):
            self._asking = opens.value
        elif opens.value in _TYPED:
            self._type(opens.value)
        else:
            self._change(_AT_ONCE[opens.value])
        self.leaf.at, self.leaf.top = None, 0
        self.show()

    def action_back(self) -> None:
        if self._asking:
            self._asking = ""
            self.show()
        else:
            super().action_back()

    def _type(self, name: str) -> None:
        from ..recorder.boxes import AskText

        check: dict[str, Callable[[str], Any]] = {"count": _count, "when": self._when, "text": _text}
        title, hint = _TYPED[name]
        self.app.push_screen(AskText(title, hint, check[name], lambda value: self._change({name: value})))

    def _when(self, typed: str) -> datetime:
        zone, now = self.review.declared.timezone, self.review.clock()
        at = to_utc(parse_when(typed, now, zone), zone)
        if at > now:
            raise ValueError("that is in the future; a record is of what was")
        return at

    def _change(self, changes: dict[str, Any]) -> None:
        """Write the correction, and look at the files again: every answer may move."""
        app, made = self.review, self._made()
        self._asking = ""
        if made is None or app.journals is None:
            return
        mender, now, declared = app.declared.watching.observer, app.clock(), app.declared
        try:
            if "put_back" in changes:
                done = put_back(declared, app.journals, made.first, mender, now)
            elif made.now is None:
                raise MendError("it was taken back; let it count again first")
            else:
                done = mend_entry(declared, made.now, changes, mender, now)
        except (MendError, UnknownNameError) as error:
            self._told = f"Nothing was changed: {error}."
        except OSError as error:
            self._told = f"Nothing was changed: the disk refused it ({error.strerror})."
        else:
            self._told = _done_words(done.was, done.now)
            app.ask(app.asked)
        self.show()


_TRACE = "What was written stays on the disk, marked; the answers are worked out anew."
_AT_ONCE: dict[str, dict[str, Any]] = {
    "guess": {"guess": True}, "sure": {"guess": False}, "hidden": {"hidden": True},
    "visible": {"hidden": False}, "take_back": {"take_back": True}, "put_back": {"put_back": True},
}  # fmt: skip


def may_be_wrong(made: Made) -> list[str]:
    """What may be changed of a record as it stands."""
    if made.now is None:
        return ["put_back"]
    record = made.now.record
    turned = {"guess": "sure" if record.get("sure") is False else "guess",
              "hidden": "visible" if record.get("hidden") else "hidden"}  # fmt: skip
    names = [n for n in _FOR_KIND.get(record.kind, ()) if n != "count" or record.get("group")]
    return [*(turned.get(n, n) for n in names), "take_back"]


def _whence(made: Made) -> str:
    return f"By {visible(made.session.observer)}, in session {visible(made.session.id)}."


def _done_words(was: str, now: str) -> str:
    if not was:
        return f"Counts again: {now}."
    return f"Corrected: was {was}; now {now}." if now else f"Taken back: {was}."


def _count(typed: str) -> int:
    if not typed.strip().isdecimal() or not 0 < int(typed) < 10_000:
        raise ValueError("a whole number from 1 on, please")
    return int(typed)


def _text(typed: str) -> str:
    if not typed.strip():
        raise ValueError("it cannot be empty; take the record back instead")
    return typed.strip()
