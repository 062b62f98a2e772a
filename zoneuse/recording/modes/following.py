"""Focal sampling: one animal, continuously; a key whenever it moves or does something else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ...study.labels import visible
from ...study.model import Behaviour
from ..session.beat import Beat
from ..session.moment import Moment
from ..session.plan import Who
from ..words import span_words, state_words
from .draft import Draft
from .recorder import Act, Event, Prompt, Recorder


@dataclass(slots=True)
class Following(Recorder):
    """``now`` is the state by the last record (None: not known, or out of sight)."""

    beat: Beat | None = None
    now: Draft | None = None
    next_guess: bool = False
    want: Behaviour | None = None
    want_at: Moment | None = None
    ready: bool = False

    @property
    def animal(self) -> Who:
        return self.plan.who[0]

    @property
    def _settling(self) -> bool:
        return self.beat is not None and not self.ready

    def tick(self, moment: Moment) -> bool:
        """Settling comes first; the watch begins when it is over."""
        began = self.beat is not None and not self.ready and self.beat.scan_at(moment.mono) >= 1
        self.ready = self.ready or began
        return began

    def _press(self, key: str, moment: Moment) -> None:
        zone, behaviour = self._zone(key, self.animal.enclosure), self._behaviour(key)
        if self._settling and not (behaviour is not None and not behaviour.lasts):
            self.notice = "Still settling; > starts now."
        elif zone is not None:
            held = self.now or Draft(self.animal)
            doing = self.want or held.behaviour
            hidden = held.hidden and zone == held.zone
            self._state(replace(held, zone=zone, behaviour=doing, hidden=hidden), self.want_at or moment)
        elif behaviour is not None and not behaviour.lasts:
            self._finish_event(Event(moment, behaviour))
        elif behaviour is not None and self.now is not None:
            self._state(replace(self.now, behaviour=behaviour), moment)
        elif behaviour is not None:
            self.want, self.want_at = behaviour, moment
            self.notice = f"{behaviour.label}: and where? Press the zone's key."
        elif key == self.animal.key:
            self.notice = f"{self.animal.label} is the one followed."
        else:
            self.notice = f"{key} is no zone's and no behaviour's key; ? shows every key."

    def _state(self, state: Draft, moment: Moment) -> None:
        """Record a state; pressing the present one again changes nothing and records nothing."""
        self.want = self.want_at = None
        state = replace(state, guess=self.next_guess)
        if state == self.now:
            self.notice = f"Still so: {state_words(self.plan.declared, state.seen())}"
            return
        self.now, self.next_guess = state, False
        line = self.ledger.put("seen", moment, **state.seen())
        self._done([line], self.animal)

    def _act(self, name: str, moment: Moment) -> None:
        if name == "event":
            self.event_open = Event(moment)
        elif self._settling and name != "now":
            self.notice = "Still settling; > starts now."
        elif name == "guess":
            self.next_guess = not self.next_guess
            self.notice = "The next record is a guess." if self.next_guess else ""
        elif name == "hidden":
            self._hide(moment)
        elif name == "unseen":
            self._lose(moment)
        elif name == "same":
            self.notice = f"Still so: {self._now_words()}"
        elif name == "now" and self.beat is not None:
            self.beat = self.beat.start_now(moment.mono)
            self.tick(moment)

    def _hide(self, moment: Moment) -> None:
        if self.now is None:
            self.notice = "Hidden where? Press the zone's key first."
        else:
            self._state(replace(self.now, hidden=not self.now.hidden), moment)

    def _lose(self, moment: Moment) -> None:
        if self.now is None and self.acts and self.acts[-1].lines[-1].kind == "unseen":
            self.notice = "Still out of sight."
            return
        self.now = None
        self._done([self.ledger.put("unseen", moment, **self.animal.fields)], self.animal)

    def _drop_half(self, moment: Moment) -> bool:
        dropped = self.want is not None or self.next_guess
        self.want, self.want_at, self.next_guess = None, None, False
        return dropped

    def _after_undo(self, act: Act, moment: Moment) -> None:
        """The state is again what the record before says."""

    def rebuild(self) -> None:
        Recorder.rebuild(self)
        self.now = None
        for line in self.last.get(self.animal.id, []):
            self.now = None if line.kind == "unseen" else self._draft(line.fields)

    def _draft(self, fields: Mapping[str, Any]) -> Draft | None:
        declared = self.plan.declared
        zone = declared.zones.get(fields["zone"])
        behaviour = declared.behaviours.get(fields.get("behaviour") or "")
        guess, hidden = fields.get("sure") is False, bool(fields.get("hidden"))
        return None if zone is None else Draft(self.animal, None, zone, behaviour, guess, hidden)

    def pause(self, moment: Moment) -> None:
        Recorder.pause(self, moment)
        if self.beat is not None and not self.closed:
            self.beat = self.beat.pause(moment.mono) if self.paused else self.beat.resume(moment.mono)

    def all_done(self, moment: Moment) -> bool:
        return self.beat is None or self.beat.scan_at(moment.mono) > self.beat.scans

    def _asked(self) -> Who | None:
        return self.animal

    def _now_words(self) -> str:
        return "not recorded yet" if self.now is None else state_words(self.plan.declared, self.now.seen())

    def prompt(self, moment: Moment) -> Prompt:
        if self.event_open is not None:
            return self._event_prompt(self.event_open)
        name = visible(self.animal.label)
        choices = self._choices("zone", "behaviour", "event", enclosure=self.animal.enclosure)
        if self.want is not None:
            return Prompt(
                f"{name}, {self.want.label.lower()}: where?", self.want.key, "", choices, self.animal
            )
        if self.beat is not None and self._settling:
            left = span_words(self.beat.left_s(moment.mono) + 0.999)
            return Prompt(f"Let it settle: watch from {left} on. > starts now.", "", "", choices, self.animal)
        lines = self.last.get(self.animal.id, [])
        since = f" for {span_words(moment.mono - lines[-1].moment.mono)}" if lines else ""
        if self.now is None:
            ask = f"{name}: out of sight{since}. Where is it?" if lines else f"{name}: where is it?"
        else:
            ask = f"{name}: {self._now_words()}{since}"
        if self.all_done(moment):
            ask += ". Time is up: . finishes."
        return Prompt(ask, "", "", choices, self.animal)
