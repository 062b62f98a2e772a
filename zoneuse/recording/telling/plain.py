"""The line mode: one line in, one line back, on the same core. For screen readers and slow connections."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from math import inf
from pathlib import Path

from ...journal import Session
from ...study import under_words, visible
from ..modes.asking import Code
from ..modes.half_key import half_of
from ..modes.opening import begin, go_on, joined_plan, plan_of
from ..modes.recorder import Recorder
from ..modes.scanning import Scanning
from ..session.actions import ACTIONS
from ..session.instant import Instant, read_clocks
from ..session.ledger import LedgerEntry
from ..session.newest import broken, read_newest
from ..session.notes import understand
from ..session.others import going_on
from ..session.past import read_past
from ..session.plan import Plan, PlanError
from ..session.recall import Recall
from ..words import clock_words, line_words
from .first_line import first_line
from .summary import summary

# A word for every action, since a line can hold one; the punctuation works as well.
_SIGNS = {
    "=": "same", "+": "same_all", "-": "unseen", ",": "guess", ";": "hidden", "*": "someone", "!": "event",
    "<": "earlier", ">": "now", ":": "pause", "_": "lifted",
}  # fmt: skip
_WORDS = {a.name.replace("_", "-"): a.name for a in ACTIONS} | {
    "late": "earlier", "skip": "next_one", "next": "accept", "back": "earlier",
}  # fmt: skip
# A line of keys is shorter; longer ones were pasted.
_LONGEST = 200
HELP = (
    "A line holds your keys: 'c r' is zone and behaviour of the one asked about; '2 w m' names another first; "
    "'Y c3 w2 -1' counts a group. = same, + all same, - not found, ',' guess, ';' hidden, '! x' event, < late, "
    "> now, : pause. In a round of the retreats: '1 r 2' are found here, * some not told apart, _ cover lifted, "
    "and the words next, skip (not looked into), back. Words: undo, note TEXT, "
    "zone KEY LABEL (one that turned up), list, state, keys, finish, leave. "
    "An empty line says what is asked."
)


def run_plain(
    plan: Plan,
    folder: Path,
    lines: Iterable[str] | None = None,
    *,
    out: Callable[[str], None] = print,
    ends: Callable[[Recorder], list[str]] | None = None,
    sees: Callable[[Recorder, Instant], str] | None = None,
) -> bool:
    """Watch by lines from standard input until finish, leave or the end of the input; whether all of it is on the disk.

    A practice says at the end how it went (``ends``), and with each line what there is to be seen (``sees``).
    """
    known = read_past(plan.declared, folder) if ends is None else Recall()
    for warning in broken(plan.declared, read_newest(folder), read_clocks().at):
        out(f"Attention: {warning}. The animal comes before the record.")
    if known.unread:
        out(known.unread_words)
    core = open_in_lines(plan, known, out)
    if core.plan.treatment:
        out(f"Under: {visible(under_words(core.plan.declared, core.plan.treatment))}.")
    session = PlainSession(core, known, out, ends, sees)
    session.answer("", read_clocks())
    for line in _stdin() if lines is None else lines:
        if not session.answer(line, read_clocks()):
            break
    unsaved = [x for x in core.records if not x.saved]
    if unsaved:
        out("\n".join(["Write down what could not be saved:", *map(session.told, unsaved)]))
    whole = not core.ledger.waiting
    core.ledger.close()
    return whole


def _stdin() -> Iterator[str]:
    while line := sys.stdin.readline():
        yield line


def open_in_lines(plan: Plan, known: Recall, out: Callable[[str], None]) -> Recorder:
    """A session gone on with, joined, or begun, as is answered in a terminal."""
    now = read_clocks()
    if known.unfinished and sys.stdin.isatty():
        session = known.unfinished[0]
        if session.observer != plan.observer and going_on(session, now.at):
            return _joined(plan, session, out)
        opened = clock_words(session.opened, plan.declared)[:5]
        out(f"The session of {opened} was not finished. Continue it? y or n")
        if sys.stdin.readline().strip().lower().startswith("y"):
            try:
                return go_on(plan_of(plan, session), session, read_clocks())
            except PlanError as error:
                out(f"It cannot be continued: {error}. A new one begins.")
    return _begun(plan, known)


def _joined(plan: Plan, session: Session, out: Callable[[str], None]) -> Recorder:
    """Somebody else is watching: a session of one's own beside theirs, or one that has nothing to do with it."""
    who = visible(session.observer)
    out(f"{who} is watching now. Join, in a session of your own as {visible(plan.observer)}? y or n")
    if not sys.stdin.readline().strip().lower().startswith("y"):
        return _begun(plan, Recall())
    try:
        now = read_clocks()
        return begin(joined_plan(plan, session, now.at), now)
    except PlanError as error:
        out(f"It cannot be joined: {error}. A session of your own begins.")
        return _begun(plan, Recall())


def _begun(plan: Plan, known: Recall) -> Recorder:
    core = begin(plan, read_clocks())
    if known.light:
        core.context("light source", read_clocks(), value=known.light)
        core.acts.clear()
    core.tell("")
    return core


class PlainSession:
    """Answers lines. Each reply is one line: what was recorded and saved, then what is asked."""

    def __init__(
        self,
        core: Recorder,
        known: Recall,
        out: Callable[[str], None],
        ends: Callable[[Recorder], list[str]] | None = None,
        sees: Callable[[Recorder, Instant], str] | None = None,
    ) -> None:
        self.core, self.known, self._out, self._ends, self._sees = core, known, out, ends, sees
        core.sheet.by_lines = True

    def answer(self, line: str, now: Instant) -> bool:
        """Take one line and reply. Returns whether the session goes on."""
        core, words = self.core, line.split()
        core.tick(now)
        core.ledger.retry(now)
        before = len(core.acts)
        core.tell("")
        first = words[0].lower() if words else ""
        if first == "finish":
            core.finish(now)
            self._out(" ".join(self._ends(core) if self._ends else summary(core, self.known, now)))
            return False
        if first == "leave":
            practice = "The practice was left; none of it is kept."
            self._out(practice if self._ends else "Left without finishing; watch --plain offers to continue.")
            return False
        if first in ("help", "keys", "?", "list", "state"):
            self._out(self._asked(first, now))
            return True
        if first == "note" and len(words) > 1:
            self._note(words[1:], now)
        elif first == "zone" and len(words) > 2:
            self._new_zone(words[1], " ".join(words[2:]), now)
        elif first == "yes":
            core.sheet.doubted_at = -inf  # a word is no key that bounced
            core.act("accept", now)
        elif first in _WORDS:
            core.act(_WORDS[first], now)
        else:
            self._type(line.strip(), now)
        self._reply(before, now)
        return True

    def _asked(self, what: str, now: Instant) -> str:
        """What is told and changes nothing."""
        if what == "list":
            return "; ".join(self._listed()) or "Nothing recorded yet."
        if what == "state":
            return ". ".join(first_line(self.core, self.known, now)) + "."
        return self._keys(now) if what == "keys" else HELP

    def _type(self, text: str, now: Instant) -> None:
        """Every character as a key; what the line began is recorded at its end."""
        core = self.core
        if len(text) > _LONGEST:
            core.tell(f"{len(text)} characters are not a line of keys: none of it was used.", Code.REFUSED)
            return
        core.mode.begin_line()
        core.sheet.half = None
        for at, sign in enumerate(text):
            half = half_of(core.sheet)
            if sign == " " and half is not None:
                core.tell(f"{half.typed} is not a complete key here; keys lists them.", Code.UNKNOWN_KEY)
            elif sign == " ":
                if core.sheet.typed:
                    core.act("same", now)
            elif sign in _SIGNS:
                core.act(_SIGNS[sign], now)
            elif sign.isalnum():
                core.press(sign, now)
            else:
                core.tell(f"{sign} means nothing here; help tells what does.", Code.UNKNOWN_KEY)
            if core.told.code is Code.UNKNOWN_KEY or (core.sheet.doubt and text[at + 1 :].strip()):
                core.tell(f"{core.notice} The rest of the line was not used: {text[at:]}", Code.UNKNOWN_KEY)
                return
        half = half_of(core.sheet)
        if not core.closed and not core.paused:
            core.mode.take_line(now)
        if half is not None:
            core.sheet.half = None
            core.tell(f"{half.typed} is not a complete key here; keys lists them.", Code.UNKNOWN_KEY)

    def _note(self, words: list[str], now: Instant) -> None:
        from .said import write_said

        try:
            said = understand(self.core.plan.declared, words, now.at, self.known.open_periods)
        except ValueError as error:
            self.core.tell(f"{error}.")
            return
        write_said(self.core, said, now)

    def _new_zone(self, key: str, label: str, now: Instant) -> None:
        """``zone u under the new bark``: a zone that turned up."""
        from ..modes.added_zone import put_into_session, read_key

        try:
            put_into_session(self.core, read_key(self.core, label, key), now)
        except ValueError as error:
            self.core.tell(f"{error}.")

    def _reply(self, before: int, now: Instant) -> None:
        core = self.core
        made = [line for act in core.acts[before:] for line in act.lines]
        state = f"NOT SAVED, {core.ledger.trouble}" if core.ledger.waiting else "Saved"
        said = "; ".join(line_words(core.plan.declared, x) for x in made)
        parts = [f"{state}: {said if said.endswith('!') else said + '.'}"] if made else []
        prompt = core.prompt(now)
        if prompt.doubt:
            core.tell("Say yes to record it anyway, or type the line again.")
        if core.notice and core.told.code is not Code.RECORDED:
            parts.append(visible(core.notice if core.notice.endswith(".") else core.notice + "."))
        begun = f"{first_line(core, self.known, now)[0]}. " if isinstance(core.mode, Scanning) else ""
        ask = prompt.ask.replace("\n", " ")
        parts.append(f"{begun}{ask}" + (f" Before: {prompt.before}." if prompt.before else ""))
        if self._sees is not None:
            parts.append(f"To be seen: {self._sees(core, now)}.")
        self._out(" ".join(parts))

    def _keys(self, now: Instant) -> str:
        return ", ".join(f"{c.key} {visible(c.label)}" for c in self.core.prompt(now).choices)

    def _listed(self) -> list[str]:
        return [self.told(x) for x in self.core.records[-20:]]

    def told(self, x: LedgerEntry) -> str:
        """A record in words, with its time."""
        declared = self.core.plan.declared
        return f"{clock_words(x.instant.at, declared)} {'taken back: ' if x.void else ''}{line_words(declared, x)}"
