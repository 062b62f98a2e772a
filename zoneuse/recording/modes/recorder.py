"""The recorder as a face sees it: keys and ticks with their moments in, a prompt and a notice out.

It does what every way of watching has in common: undo, corrections, pauses, notes, the end. The rest is its mode's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ...study import Declaration
from ...study.model import Zone
from ..session.instant import Instant
from ..session.ledger import Ledger, LedgerEntry
from ..session.plan import Plan
from ..words import line_words
from .asking import Code, Notice, Prompt
from .draft import HalfRecord
from .events import event_key, event_prompt
from .half_key import drop_half_key, half_of, whole_key
from .mode import Mode
from .sheet import COUNTED, Act, OpenEvent, Sheet

_OVER = "The session is finished."
_ELSEWHERE = "This session was continued elsewhere; nothing more is recorded here."


@dataclass(slots=True)
class Recorder:
    """One session: its sheet, and its way of watching."""

    sheet: Sheet
    mode: Mode
    paused: bool = False
    closed: str | None = None

    # What it shows. ----------------------------------------------------------------------------------------

    @property
    def plan(self) -> Plan:
        return self.sheet.plan

    @property
    def ledger(self) -> Ledger:
        return self.sheet.ledger

    @property
    def acts(self) -> list[Act]:
        return self.sheet.acts

    @property
    def draft(self) -> HalfRecord | None:
        return self.sheet.draft

    @property
    def event_open(self) -> OpenEvent | None:
        return self.sheet.event

    @property
    def told(self) -> Notice:
        return self.sheet.notice

    @property
    def notice(self) -> str:
        return self.sheet.notice.says

    def tell(self, says: str, code: Code = Code.TOLD) -> None:
        self.sheet.tell(says, code)

    @property
    def here(self) -> str:
        return self.mode.here

    def marks_by_zone(self) -> dict[str, list[str]]:
        return self.mode.marks_by_zone()

    def not_found(self) -> list[str]:
        return self.mode.not_found()

    def room_sign(self, zone: Zone) -> str:
        return self.mode.room_sign(zone)

    def all_done(self, instant: Instant) -> bool:
        return self.mode.all_done(instant)

    def prompt(self, instant: Instant) -> Prompt:
        event = self.sheet.event
        prompt = self.mode.prompt(instant) if event is None else event_prompt(self.sheet, event)
        half = half_of(self.sheet)
        return prompt if half is None else replace(prompt, half=half.typed)

    @property
    def records(self) -> list[LedgerEntry]:
        """The records that can be listed and corrected, oldest first, those taken back included."""
        return [line for line in self.ledger.lines if line.kind in (*COUNTED, "missed")]

    @property
    def saved(self) -> int:
        """Records that a person made, that stand, and that are on the disk."""
        return sum(line.saved and not line.void for line in self.ledger.lines if line.kind in COUNTED)

    # Keys and time. ----------------------------------------------------------------------------------------

    def press(self, key: str, instant: Instant) -> None:
        """One character of the keeper's keys, or a whole key that was touched."""
        if self._refuses():
            return
        sheet, waiting = self.sheet, half_of(self.sheet) is not None
        if len(key) == 1 and (waiting or sheet.event is not None or not self.mode.in_count(key)):
            meant = whole_key(sheet, key, self.here, instant)
            if meant is None:
                return
            key, begun = meant
            # An answer has the time of its first character; whom a key names is meant from its last one on.
            instant = instant if sheet.who(key, self.here) is not None else begun
        sheet.half = None
        if sheet.event is not None:
            event_key(sheet, sheet.event, key, self.here)
        else:
            self.mode.press(key, instant)

    def act(self, name: str, instant: Instant) -> None:
        """One of the program's keys, by the action's name; unknown names belong to the face."""
        if name == "undo":
            self.undo(instant)
        elif name == "pause":
            self.pause(instant)
        elif self._refuses():
            return
        elif name == "event":
            self.sheet.event = OpenEvent(instant, asked=self.mode.asked)
            self.sheet.hush()
        else:
            drop_half_key(self.sheet)
            self.sheet.event = None
            self.mode.act(name, instant)

    def tick(self, instant: Instant) -> bool:
        """Let time pass. Returns whether a scan began."""
        if self.closed or self.paused or self.ledger.continued_elsewhere():
            return False
        return self.mode.tick(instant)

    # What is said in passing. ------------------------------------------------------------------------------

    def note(self, text: str, instant: Instant, animal: str | None = None) -> None:
        if self._elsewhere():
            return
        self.sheet.record("noted", instant, text=text, animal=animal)

    def context(self, what: str, instant: Instant, entered: Instant | None = None, **fields: Any) -> None:
        """Something that bears on the session: fed, shedding, a light source."""
        if not self._elsewhere():
            line = self.ledger.put("context", instant, entered=entered, what=what, **fields)
            self.sheet.done([line])

    def adjusted(self, instant: Instant, **fields: Any) -> None:
        """A change to the enclosure made during the session (fields as in the journal)."""
        if not self._elsewhere():
            self.sheet.record("adjusted", instant, **fields)

    def zone_added(self, declared: Declaration, zone: str, instant: Instant) -> None:
        """A zone turned up: the session goes on in a new part that lists it.

        ``declared`` is the study with that zone in it. Raises OSError where the disk refuses a new part; the zone
        can be recorded all the same then.
        """
        self.sheet.plan = plan = replace(self.plan, declared=declared)
        label = declared.zones[zone].label
        # The old part ends now and not at its last record: what was followed held until now.
        self.ledger.put("noted", instant, text=f"new zone: {label} ({zone})")
        self.ledger.go_on_in_new_part(plan.opened(instant.at), instant)
        self.mode.new_part(instant)
        if self.paused:
            self.ledger.put("paused", instant)
        self.tell(f"{label} is there from now on, key {declared.zones[zone].key}. Give its amount later.")

    # What can be changed. ----------------------------------------------------------------------------------

    def pause(self, instant: Instant) -> None:
        if self.closed or self._elsewhere():
            return
        self.tick(instant)
        self.ledger.put("resumed" if self.paused else "paused", instant)
        self.paused = not self.paused
        self.mode.hold(instant, self.paused)
        self.tell(self._paused_words if self.paused else "Going on.")

    def finish(self, instant: Instant) -> None:
        """Close the session: ``finished`` when all is done, ``left`` when the keeper ends it early."""
        if self.closed is None:
            self.tick(instant)
            self.sheet.event = None
            if self._elsewhere():
                self.closed = "left"
                return
            self.closed = self.mode.end(instant)
            self.ledger.put("closed", instant, reason=self.closed)

    def undo(self, instant: Instant) -> None:
        """Drop what is half typed; else take back what the last key or entry recorded."""
        sheet = self.sheet
        if self.closed:
            self.tell("The session is finished; correct it with: zoneuse mend", Code.REFUSED)
            return
        if self._elsewhere():
            return
        if drop_half_key(sheet):
            sheet.hush()
            return
        if sheet.event is not None or self.mode.drop_half(instant):
            sheet.event = None
            sheet.hush()
            return
        while sheet.acts and all(line.void for line in sheet.acts[-1].lines):
            sheet.acts.pop()
        if not sheet.acts:
            self.tell("Nothing to take back.", Code.REFUSED)
            return
        act = sheet.acts.pop()
        for line in reversed(act.lines):
            if not line.void:
                self.ledger.take_back(line, instant)
        for line, back in act.instead:
            self.ledger.restore(line, back, instant)
        self._rebuild()
        self.mode.after_undo(act, instant)
        more = f" and {len(act.lines) - 1} more" if len(act.lines) > 1 else ""
        self.tell(f"Taken back: {line_words(self.plan.declared, act.lines[0])}{more}")

    def correct(self, line: LedgerEntry, instant: Instant, changed: Mapping[str, Any] | None) -> None:
        """Take any record back and, with ``changed`` fields, put a corrected one in its place."""
        if line.void or self._elsewhere():
            return
        new = None
        if changed is not None:
            new = self.ledger.put(line.kind, line.instant, entered=instant, **changed)
        back = self.ledger.take_back(line, instant, new)
        if new is not None:
            self.acts.append(Act([new], instead=[(line, back)]))
        self._rebuild()
        said = line_words(self.plan.declared, new or line)
        self.tell(f"{'Corrected' if new else 'Taken back'}: {said}")
        self.mode.after_correction(new, instant)

    def _rebuild(self) -> None:
        self.sheet.rebuild()
        self.mode.rebuild()

    def take_up(self) -> None:
        """Go on from what earlier parts of the session hold."""
        self._rebuild()

    def _elsewhere(self) -> bool:
        """Whether another window or device took the session up: two must never write into one session."""
        gone = self.ledger.continued_elsewhere()
        if gone:
            self.tell(_ELSEWHERE, Code.REFUSED)
        return gone

    @property
    def _paused_words(self) -> str:
        return f"Paused; {self.sheet.key('pause')} goes on."

    def _refuses(self) -> bool:
        if self.closed:
            self.tell(_OVER, Code.REFUSED)
        elif self._elsewhere():
            return True
        elif self.paused:
            self.tell(self._paused_words, Code.REFUSED)
        else:
            return False
        return True
