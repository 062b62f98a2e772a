"""Focal sampling: up to four animals, continuously; a key whenever one moves or does something else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from ...study import visible
from ...study.model import Behaviour, Zone
from ..session.beat import Beat
from ..session.instant import Instant
from ..session.ledger import LedgerEntry
from ..session.plan import Who
from ..words import span_words, state_words
from .asking import Code, Prompt
from .draft import HalfRecord
from .events import take_event
from .mode import newest_places, newest_unseen
from .sheet import Act, OpenEvent, Sheet

# Of several animals, the one named stays the one meant for so long after each key for it.
NAMED_S = 5.0


@dataclass(slots=True)
class Focal:
    """``states`` are by the last record of each animal (absent: not known, or out of sight).

    ``named`` is the animal whose key was pressed last, among several; ``beat`` is the settling time and the watch.
    ``want`` is what it does, typed before where it is.
    """

    sheet: Sheet
    beat: Beat
    states: dict[str, HalfRecord] = field(default_factory=dict)
    named: Who | None = None
    named_at: float = 0.0
    named_only: bool = False
    guess: bool = False
    want: Behaviour | None = None
    want_at: Instant | None = None
    ready: bool = False

    @property
    def animals(self) -> tuple[Who, ...]:
        return self.sheet.plan.who

    @property
    def here(self) -> str:
        return self.animals[0].enclosure

    @property
    def asked(self) -> Who | None:
        return self.sheet.alone or self.named

    def meant(self, instant: Instant) -> Who | None:
        """Whom a key is about now."""
        if self.sheet.alone is not None:
            return self.sheet.alone
        return self.named if instant.mono - self.named_at <= NAMED_S else None

    def tick(self, instant: Instant) -> bool:
        """Settling comes first; the watch begins when it is over. A name said too long ago is forgotten."""
        if self.named is not None and self.meant(instant) is None:
            self._forget()
        began = not self.ready and self.beat.scan_at(instant.mono) >= 1
        self.ready = self.ready or began
        return began

    def _forget(self) -> None:
        self.named, self.want, self.want_at, self.guess = None, None, None, False

    # The keeper's keys. ------------------------------------------------------------------------------------

    def press(self, key: str, instant: Instant) -> None:
        self.tick(instant)
        sheet = self.sheet
        zone, behaviour, who = sheet.zone(key, self.here), sheet.behaviour(key), sheet.who(key, self.here)
        if behaviour is not None and not behaviour.lasts and zone is None:
            take_event(sheet, OpenEvent(instant, behaviour, asked=self.meant(instant)))
        elif not self.ready:
            sheet.tell(f"Still settling; {sheet.key('now')} starts now.", Code.REFUSED)
        elif who is not None:
            self._name(who, instant)
        elif zone is None and behaviour is None:
            sheet.tell(
                f"{key} is neither a zone's key nor a behaviour's; {sheet.key('help')} shows every key.",
                Code.UNKNOWN_KEY,
            )
        elif (animal := self.meant(instant)) is None:
            sheet.tell(f"{key}: whose? Press the animal's key first.", Code.REFUSED)
        elif zone is not None:
            self._moved(animal, zone, instant)
        elif behaviour is not None:
            self._does(animal, behaviour, instant)

    def _name(self, who: Who, instant: Instant) -> None:
        if self.sheet.alone is not None:
            self.sheet.tell(f"{who.label} is the one followed.")
            return
        self._forget()
        self.named, self.named_at, self.named_only = who, instant.mono, True
        self.sheet.hush()

    def _moved(self, animal: Who, zone: Zone, instant: Instant) -> None:
        held = self.states.get(animal.id) or HalfRecord(animal)
        doing = self.want or held.behaviour
        hidden = held.hidden and zone == held.zone
        state = replace(held, zone=zone, behaviour=doing, hidden=hidden)
        self._state(animal, state, self.want_at or instant, instant)

    def _does(self, animal: Who, behaviour: Behaviour, instant: Instant) -> None:
        held = self.states.get(animal.id)
        if held is not None:
            self._state(animal, replace(held, behaviour=behaviour), instant, instant)
            return
        self.want, self.want_at = behaviour, instant
        self.named_at = instant.mono
        self.sheet.tell(f"{behaviour.label}: and where? Press the zone's key.")

    def _state(self, animal: Who, state: HalfRecord, since: Instant, instant: Instant) -> None:
        """Record a state; pressing the present one again changes nothing and records nothing."""
        self.want = self.want_at = None
        self.named_at, self.named_only = instant.mono, False
        state = replace(state, guess=self.guess)
        if state == self.states.get(animal.id):
            self.sheet.tell(f"Unchanged: {state_words(self.sheet.plan.declared, state.seen())}")
            return
        self.states[animal.id], self.guess = state, False
        self.sheet.done([self.sheet.ledger.put("seen", since, **state.seen())], animal)

    def in_count(self, key: str) -> bool:
        return False

    # The program's keys. -----------------------------------------------------------------------------------

    def act(self, name: str, instant: Instant) -> None:
        self.tick(instant)
        if name == "now":
            self.beat = self.beat.start_now(instant.mono)
            self.tick(instant)
        elif not self.ready:
            self.sheet.tell(f"Still settling; {self.sheet.key('now')} starts now.", Code.REFUSED)
        elif name in ("guess", "hidden", "unseen", "same"):
            animal = self.meant(instant)
            if animal is None:
                self.sheet.tell("Whose? Press the animal's key first.", Code.REFUSED)
            else:
                self.named_at = instant.mono
                self._mark(animal, name, instant)

    def _mark(self, animal: Who, name: str, instant: Instant) -> None:
        state = self.states.get(animal.id)
        if name == "guess":
            self.guess = not self.guess
            self.sheet.tell("The next record is a guess." if self.guess else "")
        elif name == "unseen":
            self._lose(animal, instant)
        elif name == "same":
            self.sheet.tell(f"Unchanged: {self._words(animal)}")
        elif state is None:
            self.sheet.tell("Hidden where? Press the zone's key first.", Code.REFUSED)
        else:
            self._state(animal, replace(state, hidden=not state.hidden), instant, instant)

    def _lose(self, animal: Who, instant: Instant) -> None:
        before = self.sheet.before(animal)
        if before and before[0].kind == "unseen":
            self.sheet.tell("Still out of sight.")
            return
        self.want = self.want_at = None
        self.states.pop(animal.id, None)
        self.named_only = False
        self.sheet.done([self.sheet.ledger.put("unseen", instant, **animal.fields)], animal)

    def drop_half(self, instant: Instant) -> bool:
        self.tick(instant)
        typed = self.want is not None or self.guess
        named_only = self.named is not None and self.named_only
        self.want, self.want_at, self.guess = None, None, False
        if named_only and not typed:
            self.named = None
        return typed or named_only

    def begin_line(self) -> None:
        """A line names its animals anew."""
        self._forget()

    def take_line(self, instant: Instant) -> None:
        """Each key was complete by itself."""

    def end(self, instant: Instant) -> str:
        return "finished" if self.all_done(instant) else "left"

    def new_part(self, instant: Instant) -> None:
        """The running states hold on; no key made these records, so none takes them back."""
        for state in self.states.values():
            self.sheet.ledger.put("seen", instant, **state.seen())

    def all_done(self, instant: Instant) -> bool:
        return self.beat.scan_at(instant.mono) > self.beat.scans

    # After changes. ----------------------------------------------------------------------------------------

    def after_undo(self, act: Act, instant: Instant) -> None:
        """The state is again what the record before says."""

    def after_correction(self, new: LedgerEntry | None, instant: Instant) -> None:
        """The states are found anew from the records."""

    def rebuild(self) -> None:
        self.states = {}
        for animal in self.animals:
            for line in self.sheet.before(animal):
                if line.kind == "seen" and (state := self._draft(animal, line.fields)) is not None:
                    self.states[animal.id] = state

    def _draft(self, animal: Who, fields: Mapping[str, Any]) -> HalfRecord | None:
        declared = self.sheet.plan.declared
        zone = declared.zones.get(fields["zone"])
        behaviour = declared.behaviours.get(fields.get("behaviour") or "")
        guess, hidden = fields.get("sure") is False, bool(fields.get("hidden"))
        return None if zone is None else HalfRecord(animal, None, zone, behaviour, guess, hidden)

    def hold(self, instant: Instant, on: bool) -> None:
        self.beat = self.beat.pause(instant.mono) if on else self.beat.resume(instant.mono)

    # What is shown. ----------------------------------------------------------------------------------------

    def marks_by_zone(self) -> dict[str, list[str]]:
        return newest_places(self.sheet)

    def not_found(self) -> list[str]:
        return newest_unseen(self.sheet)

    def room_sign(self, zone: Zone) -> str:
        return ""

    def _words(self, animal: Who) -> str:
        state = self.states.get(animal.id)
        return "not recorded yet" if state is None else state_words(self.sheet.plan.declared, state.seen())

    def prompt(self, instant: Instant) -> Prompt:
        sheet, animal = self.sheet, self.meant(instant)
        choices = sheet.choices("behaviour", "event", "who", enclosure=self.here)
        if not self.ready and self.beat.scan_at(instant.mono) < 1:
            them = "it" if sheet.alone is not None else "them"
            left = span_words(self.beat.left_s(instant.mono) + 0.999)
            ask = f"Let {them} settle: watch from {left} on. {sheet.key('now')} starts now."
            return Prompt(ask, "", "", choices, animal)
        if sheet.alone is None:
            lines = [self._line(one, animal, instant) for one in self.animals]
            if self.all_done(instant):
                lines[-1] += f". Time is up: {sheet.key('finish')} ends it."
            return Prompt("\n".join(lines), "", "", choices, animal)
        ask = self._alone(sheet.alone, instant)
        if self.all_done(instant):
            ask += f". Time is up: {sheet.key('finish')} ends it."
        return Prompt(ask, self._typed, "", choices, animal)

    @property
    def _typed(self) -> str:
        return self.want.key if self.want is not None else ""

    def _since(self, animal: Who, instant: Instant) -> str:
        lines = self.sheet.before(animal)
        return span_words(instant.mono - lines[-1].instant.mono) if lines else ""

    def _alone(self, animal: Who, instant: Instant) -> str:
        name = visible(animal.label)
        if self.want is not None:
            return f"{name}, {self.want.label.lower()}: where?"
        since = self._since(animal, instant)
        if animal.id in self.states:
            return f"{name}: {self._words(animal)} for {since}"
        return f"{name}: out of sight for {since}. Where is it?" if since else f"{name}: where is it?"

    def _line(self, animal: Who, meant: Who | None, instant: Instant) -> str:
        """One of several: its key, its running state, since when."""
        lead = f"▸{animal.key}" if animal == meant else f" {animal.key}"
        since = self._since(animal, instant)
        if animal == meant and self.want is not None:
            return f"{lead} {self.want.label.lower()}: where?"
        if animal.id in self.states:
            return f"{lead} {self._words(animal)} {since}"
        return f"{lead} out of sight {since}" if since else f"{lead} {visible(animal.label)}: where?"
