"""What every way of watching shares: records, events, undo, notes, pauses. No screen, no clock of its own.

A face hands in keys and ticks with their moments, and shows what ``prompt`` and ``notice`` say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ...study.model import Behaviour, Zone
from ..session.ledger import Ledger, Line
from ..session.moment import Moment
from ..session.plan import Plan, Who
from ..words import line_words
from .draft import Draft

# What a person records; the rest (missed, paused …) the program adds.
COUNTED = ("seen", "unseen", "happened", "checked", "context", "noted", "adjusted")


@dataclass(frozen=True, slots=True)
class Choice:
    """A key of the keeper's that means something now; ``kind`` is zone, behaviour, event or who."""

    key: str
    label: str
    kind: str


@dataclass(frozen=True, slots=True)
class Prompt:
    """What is asked: ``ask`` in words, what is typed so far, what was before, and the keys that answer.

    ``counting``: a number is asked for, and digits are part of it.
    """

    ask: str
    typed: str = ""
    before: str = ""
    choices: tuple[Choice, ...] = ()
    who: Who | None = None
    late: bool = False
    counting: bool = False


@dataclass(slots=True)
class Act:
    """What one key or entry recorded: undone together.

    ``instead`` are the records it took back, each with its take-back: they count again when it is undone.
    """

    lines: list[Line]
    who: Who | None = None
    scan: int | None = None
    instead: Sequence[tuple[Line, Line | None]] = ()


@dataclass(slots=True)
class Event:
    """A momentary event under the fingers, opened with ``!`` or with its own key."""

    moment: Moment
    behaviour: Behaviour | None = None
    who: Who | None = None


@dataclass(slots=True)
class Recorder:
    """The state shared by scans, following one animal, and seeing in passing."""

    plan: Plan
    ledger: Ledger
    notice: str = ""
    said: str = ""
    acts: list[Act] = field(default_factory=list)
    draft: Draft | None = None
    event_open: Event | None = None
    last: dict[str, list[Line]] = field(default_factory=dict)
    paused: bool = False
    closed: str | None = None

    # What a face may call. -------------------------------------------------------------------------------

    def press(self, key: str, moment: Moment) -> None:
        """One of the keeper's keys: a letter or digit."""
        if self._refuses():
            return
        if self.event_open is not None:
            self._event_key(self.event_open, key)
        else:
            self._press(key, moment)

    def act(self, name: str, moment: Moment) -> None:
        """One of the program's keys, by the action's name; unknown names belong to the face."""
        if name == "undo":
            self.undo(moment)
        elif name == "pause":
            self.pause(moment)
        elif not self._refuses():
            if name != "event":
                self.event_open = None
            self._act(name, moment)

    def tick(self, moment: Moment) -> bool:
        """Let time pass. Returns whether a scan began."""
        return False

    def prompt(self, moment: Moment) -> Prompt:
        raise NotImplementedError

    def note(self, text: str, moment: Moment, animal: str | None = None) -> None:
        self._record("noted", moment, text=text, animal=animal)

    def context(self, what: str, moment: Moment, entered: Moment | None = None, **fields: Any) -> None:
        """Something that bears on the session: fed, shedding, a light source."""
        line = self.ledger.put("context", moment, entered=entered, what=what, **fields)
        self._done([line])

    def adjusted(self, moment: Moment, **fields: Any) -> None:
        """A change to the enclosure made during the session (fields as in the journal)."""
        self._record("adjusted", moment, **fields)

    def pause(self, moment: Moment) -> None:
        if self.closed:
            return
        self.ledger.put("resumed" if self.paused else "paused", moment)
        self.paused = not self.paused
        self.notice = "Paused; : goes on." if self.paused else "Going on."

    def finish(self, moment: Moment) -> None:
        """Close the session: ``finished`` when all is done, ``left`` when the keeper ends it early."""
        if self.closed is None:
            self.closed = "finished" if self.all_done(moment) else "left"
            self.ledger.put("closed", moment, reason=self.closed)

    def undo(self, moment: Moment) -> None:
        """Drop what is half typed; else take back what the last key or entry recorded."""
        if self.closed:
            self.notice = "The session is finished; correct it with: zoneuse mend"
            return
        if self.event_open is not None or self._drop_half(moment):
            self.event_open = None
            self.notice = ""
            return
        while self.acts and all(line.void for line in self.acts[-1].lines):
            self.acts.pop()
        if not self.acts:
            self.notice = "Nothing to take back."
            return
        act = self.acts.pop()
        for line in reversed(act.lines):
            if not line.void:
                self.ledger.take_back(line, moment)
        for line, back in act.instead:
            self.ledger.restore(line, back, moment)
        self.rebuild()
        self._after_undo(act, moment)
        more = f" and {len(act.lines) - 1} more" if len(act.lines) > 1 else ""
        self.notice = f"Taken back: {line_words(self.plan.declared, act.lines[0])}{more}"

    def correct(self, line: Line, moment: Moment, changed: Mapping[str, Any] | None) -> None:
        """Take any record back and, with ``changed`` fields, put a corrected one in its place."""
        new = None
        if changed is not None:
            new = self.ledger.put(line.kind, line.moment, entered=moment, **changed)
        back = self.ledger.take_back(line, moment, new)
        if new is not None:
            self.acts.append(Act([new], instead=[(line, back)]))
        self.rebuild()
        said = line_words(self.plan.declared, new or line)
        self.notice = f"{'Corrected' if new else 'Taken back'}: {said}"

    def whereabouts(self) -> dict[str, list[str]]:
        """Zone id to the marks of who is there by the newest records.

        ``1`` an animal, ``2?`` a guess, ``3~`` hidden, ``Y:4`` four of a group.
        """
        rooms: dict[str, list[str]] = {}
        for who, line in self._newest():
            if (zone := line.fields.get("zone")) is not None:
                count = f":{line.fields.get('count')}" if who.group else ""
                sign = ("?" if line.fields.get("sure") is False else "") + (
                    "~" if line.fields.get("hidden") else ""
                )
                rooms.setdefault(zone, []).append(f"{who.key}{count}{sign}")
        return rooms

    def not_found(self) -> list[str]:
        """The keys of those whose newest record says not found."""
        return [
            f"{who.key}:{line.fields.get('count')}" if who.group else who.key
            for who, line in self._newest()
            if line.kind == "unseen"
        ]

    @property
    def here(self) -> str:
        """The enclosure that is looked at."""
        return self.draft.who.enclosure if self.draft is not None else self.plan.enclosures[0]

    def room_sign(self, zone: Zone) -> str:
        """What stands before a zone's key in its room, beyond who is in it."""
        return ""

    @property
    def records(self) -> list[Line]:
        """The records that can be listed and corrected, oldest first, those taken back included."""
        return [line for line in self.ledger.lines if line.kind in (*COUNTED, "missed")]

    @property
    def saved(self) -> int:
        """Records that a person made, that stand, and that are on the disk."""
        return sum(line.saved and not line.void for line in self.ledger.lines if line.kind in COUNTED)

    def rebuild(self) -> None:
        """Find anew who was last seen where, from the records that stand, in the order they happened."""
        self.last = {}
        standing = (x for x in self.ledger.lines if not x.void and x.kind in ("seen", "unseen"))
        for line in sorted(standing, key=lambda one: one.moment.mono):
            self._remember(line)

    # For the methods. --------------------------------------------------------------------------------------

    def _press(self, key: str, moment: Moment) -> None:
        raise NotImplementedError

    def _act(self, name: str, moment: Moment) -> None:
        raise NotImplementedError

    def _drop_half(self, moment: Moment) -> bool:
        """Drop what is half typed; whether there was anything."""
        return False

    def _after_undo(self, act: Act, moment: Moment) -> None:
        """Ask again what was taken back."""

    def all_done(self, moment: Moment) -> bool:
        return True

    def _asked(self) -> Who | None:
        """Whom an event is about unless another is named."""
        return self.plan.who[0] if len(self.plan.who) == 1 else None

    def _who(self, key: str) -> Who | None:
        """Whose key this is; one in the enclosure being looked at comes first."""
        bearers = [who for who in self.plan.who if who.key == key]
        return next((who for who in bearers if who.enclosure == self.here), bearers[0] if bearers else None)

    def _behaviour(self, key: str) -> Behaviour | None:
        return next((one for one in self.plan.behaviours if one.key == key), None)

    @property
    def _lasting(self) -> list[Behaviour]:
        return [one for one in self.plan.behaviours if one.lasts]

    def _choices(self, *kinds: str, enclosure: str = "") -> tuple[Choice, ...]:
        """The keys that answer, kind by kind."""
        found: list[Choice] = []
        for kind in kinds:
            if kind == "zone":
                found += [Choice(z.key, z.label, kind) for z in self.plan.zones(enclosure)]
            elif kind == "behaviour":
                found += [Choice(b.key, b.label, kind) for b in self._lasting]
            elif kind == "event":
                found += [Choice(b.key, b.label, kind) for b in self.plan.behaviours if not b.lasts]
            elif kind == "who" and len(self.plan.who) > 1:
                found += [Choice(w.key, w.label, kind) for w in self.plan.who]
        return tuple(found)

    def _event_key(self, event: Event, key: str) -> None:
        behaviour, who = self._behaviour(key), self._who(key)
        if behaviour is not None and not behaviour.lasts and event.behaviour is None:
            event.behaviour = behaviour
        elif who is not None:
            event.who = who
        else:
            lasting = behaviour is not None and behaviour.lasts
            self.notice = (
                f"{behaviour.label} lasts; it is no momentary event." if behaviour and lasting
                else f"{key} is no event's and no animal's key; Backspace drops the event."
            )  # fmt: skip
            return
        self._finish_event(event)

    def _finish_event(self, event: Event) -> None:
        """Record the event as soon as it is known what happened and to whom."""
        who = event.who or self._asked()
        if event.behaviour is None or who is None or not who.id:
            self.event_open = event
            self.notice = ""
            return
        self.event_open = None
        mine = self.draft if self.draft is not None and self.draft.who == who else None
        zone = mine.zone.id if mine is not None and mine.zone is not None else None
        self._record("happened", event.moment, **who.fields, behaviour=event.behaviour.id, zone=zone)

    def _event_prompt(self, event: Event) -> Prompt:
        if event.behaviour is None:
            name = f" of {event.who.label}" if event.who else ""
            return Prompt(f"Which event{name}?", "", "", self._choices("event", "who"), event.who)
        return Prompt(f"{event.behaviour.label}: who?", event.behaviour.key, "", self._choices("who"))

    def _record(self, kind: str, moment: Moment, **fields: Any) -> Line:
        line = self.ledger.put(kind, moment, **fields)
        self._done([line])
        return line

    def _done(
        self,
        lines: list[Line],
        who: Who | None = None,
        scan: int | None = None,
        instead: Sequence[tuple[Line, Line | None]] = (),
    ) -> None:
        """Remember an act and say what was recorded."""
        self.acts.append(Act(lines, who, scan, instead))
        for line in lines:
            if line.kind in ("seen", "unseen"):
                self._remember(line)
        last = line_words(self.plan.declared, lines[-1])
        self.said = last if len(lines) == 1 else f"{len(lines)} records, the last: {last}"
        self.notice = self.said

    def _remember(self, line: Line) -> None:
        group = line.fields.get("group")
        who = group or line.fields.get("animal")
        if not who:
            return
        before = self.last.get(who, [])
        # A group's counts of one entry share their moment.
        together = group is not None and bool(before) and before[0].moment.at == line.moment.at
        if not together and before and before[0].moment.mono > line.moment.mono:
            return  # a late answer about the past does not move anybody now
        self.last[who] = [*before, line] if together else [line]

    def _newest(self) -> list[tuple[Who, Line]]:
        return [(who, line) for who in self.plan.who for line in self.last.get(who.id, ())]

    def _refuses(self) -> bool:
        if self.closed:
            self.notice = "The session is finished."
        elif self.paused:
            self.notice = "Paused; : goes on."
        return bool(self.closed or self.paused)

    def _zone(self, key: str, enclosure: str) -> Zone | None:
        return self.plan.zone_by_key(enclosure).get(key)
