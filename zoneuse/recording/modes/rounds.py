"""A retreat round: one retreat after the other, and who is in it: animals by their key, or how many."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ...study.model import Zone
from ..session.ledger import Line
from ..session.moment import Moment
from ..session.plan import Who, nobody_known
from .draft import Draft
from .found import Found, Tally, fold, short_of, tally
from .recorder import Act, Event, Prompt, Recorder
from .round_prompt import round_prompt

_MOST_DIGITS = 3
# An Enter so soon after the last retreat's was one too many, not an answer to the question it called up.
_READ_S = 0.7


@dataclass(slots=True)
class Rounding(Recorder):
    """``place`` is the zone looked into (None: the round is over), ``typed`` a count.

    ``lifted`` is whether its cover is lifted, taken over from the retreat before until it is said otherwise.
    ``doubt`` is why a record must be confirmed with Enter before it is written.
    """

    place: Zone | None = None
    typed: str = ""
    lifted: bool = False
    guess: bool = False
    hidden: bool = False
    doubt: str | None = None

    # What a round knows. -----------------------------------------------------------------------------------

    @property
    def found(self) -> Found:
        return fold(self.ledger.lines)

    @property
    def here(self) -> str:
        return self.place.enclosure if self.place is not None else self.plan.retreats[-1].enclosure

    @property
    def counting(self) -> bool:
        return self.draft is not None and (self.draft.who.group or not self.draft.who.id)

    @property
    def at_retreat(self) -> bool:
        return self.place in self.plan.retreats

    def tallies(self) -> list[Tally]:
        found = self.found
        return [tally(self.plan, found, enclosure) for enclosure in self.plan.enclosures]

    def left(self) -> list[Zone]:
        """The retreats neither looked into nor left out."""
        checked = self.found.checked
        return [zone for zone in self.plan.retreats if zone.id not in checked]

    def all_done(self, moment: Moment) -> bool:
        return not self.left() and not any(one.to_confirm for one in self.tallies())

    def whereabouts(self) -> dict[str, list[str]]:
        """Zone id to the marks of who is there: ``1``, ``2?``, ``3~``, ``Y:4``, and ``*:2`` for two not told apart."""
        rooms: dict[str, dict[str, int]] = {}
        for line in self.ledger.lines:
            if line.kind != "seen" or line.void:
                continue
            name = line.fields.get("group") or line.fields.get("animal")
            key = next((who.key for who in self.plan.who if who.id == name), "*")
            signs = ("?" if line.fields.get("sure") is False else "") + (
                "~" if line.fields.get("hidden") else ""
            )
            marks = rooms.setdefault(line.fields["zone"], {})
            if line.fields.get("animal"):
                marks[f"{key}{signs}"] = 0
            else:
                marks[key] = marks.get(key, 0) + (line.fields.get("count") or 1)
        return {zone: [f"{k}:{n}" if n else k for k, n in marks.items()] for zone, marks in rooms.items()}

    def not_found(self) -> list[str]:
        unseen = self.found.unseen
        return [
            f"{who.key}:{unseen[who.id].fields.get('count')}" if who.group else who.key
            for who in self.plan.who
            if who.id in unseen
        ]

    def room_sign(self, zone: Zone) -> str:
        """Where the round is, what it has looked into, and what it left out."""
        if zone == self.place:
            return "▸"
        line = self.found.checked.get(zone.id)
        return "" if line is None else "×" if line.fields.get("skipped") else "✓"

    def prompt(self, moment: Moment) -> Prompt:
        return self._event_prompt(self.event_open) if self.event_open is not None else round_prompt(self)

    # The keeper's keys. ------------------------------------------------------------------------------------

    def _press(self, key: str, moment: Moment) -> None:
        if self.draft is None:
            self._name(key, moment)
        elif self.counting and key.isdigit():
            self.typed = (self.typed + key)[:_MOST_DIGITS]
            self.doubt = None
        else:
            self._doing(self.draft, key, moment)

    def _name(self, key: str, moment: Moment) -> None:
        who, zone, behaviour = self._who(key), self._zone(key, self.here), self._behaviour(key)
        if who is not None:
            self._open(who, moment)
        elif zone is not None:
            self._go(zone)
        elif behaviour is not None and not behaviour.lasts:
            self._finish_event(Event(moment, behaviour))
        elif behaviour is not None:
            self.notice = f"{behaviour.label}: who? Press the animal's key first."
        else:
            self.notice = f"{key} is no animal's and no zone's key here; ? shows every key."

    def _open(self, who: Who, moment: Moment) -> None:
        """Ask about somebody found here."""
        if self.place is None:
            self.notice = f"Where is {who.label}? Press the zone's key first."
            return
        if who.id and who.enclosure != self.here:
            self.notice = f"{who.label} lives in {who.enclosure}."
            return
        self.draft = Draft(who, None, self.place, None, self.guess, self.hidden, moment)
        self.guess = self.hidden = False
        self.typed, self.notice = "", ""
        before = None if self.counting else self.found.seen.get(who.id)
        self.doubt = None if before is None else self._recorded_in(before)
        if not self._lasting and not self.counting and self.doubt is None:
            self._complete(moment)

    def _recorded_in(self, line: Line) -> str:
        zone = self.plan.declared.zones.get(line.fields["zone"])
        where = "here" if zone == self.place else f"in {zone.label if zone else line.fields['zone']}"
        return f"recorded {where} already; Enter puts this in its place, Backspace leaves it"

    def _doing(self, draft: Draft, key: str, moment: Moment) -> None:
        behaviour, who, zone = self._behaviour(key), self._who(key), self._zone(key, self.here)
        if behaviour is not None and behaviour.lasts:
            self.draft = replace(draft, behaviour=behaviour)
            if self.doubt is None:
                self._complete(moment)
        elif behaviour is not None:
            self._finish_event(Event(moment, behaviour))
        elif who is not None and who == draft.who and not self.typed:
            return  # its own key asks for what is asked already
        elif who is not None or zone is not None:
            if self._settle(moment):
                self._name(key, moment)
        else:
            self.notice = f"{key} is no behaviour's key; Enter records without one."

    # The program's keys. -----------------------------------------------------------------------------------

    def _act(self, name: str, moment: Moment) -> None:
        if name == "event":
            self.event_open = Event(moment)
        elif name in ("guess", "hidden"):
            self._mark(name)
        elif name == "lifted":
            self._lift()
        elif self.draft is not None and name in ("accept", "same"):
            self._complete(moment, sure=True)
        elif self._settle(moment):
            self._move(name, moment)

    def _move(self, name: str, moment: Moment) -> None:
        """Keys that leave the present retreat, or ask about somebody without a name."""
        if name == "someone":
            self._open(nobody_known(self.here), moment)
        elif name == "earlier":
            self._go_back()
        elif name == "now":
            self._go(next(iter(self.left()), None))
        elif name == "next_one" and self.place is not None:
            self._leave(moment, skipped=True)
        elif name == "unseen" and self._anybody_here():
            self.notice = "Somebody is recorded here; Enter goes on, Backspace takes the record back."
        elif name in ("accept", "unseen"):
            self._leave(moment, skipped=False)
        else:
            self.notice = "That key has no use in a retreat round; ? shows every key."

    def _mark(self, name: str) -> None:
        draft = self.draft
        if draft is not None and name == "guess":
            self.draft = replace(draft, guess=not draft.guess)
        elif draft is not None:
            self.draft = replace(draft, hidden=not draft.hidden)
        elif name == "guess":
            self.guess = not self.guess
        else:
            self.hidden = not self.hidden

    def _lift(self) -> None:
        if not self.at_retreat:
            self.notice = "No retreat is looked into now."
            return
        self.lifted = not self.lifted
        self.notice = (
            f"Cover {'lifted' if self.lifted else 'not lifted'}; Enter records it with this retreat."
        )

    def _leave(self, moment: Moment, skipped: bool) -> None:
        """Record that this retreat was looked into, or left out, and go on to the next."""
        zone = self.place
        if zone is None:
            self._confirm(moment)
        elif not self.at_retreat:
            self._go(next(iter(self.left()), None))
        elif skipped and self._anybody_here():
            self.notice = "Somebody is recorded here, so it was looked into: Enter goes on."
        else:
            said: dict[str, Any] = {"skipped": True} if skipped else {"lifted": self.lifted}
            before = self.found.checked.get(zone.id)
            if before is None or any(before.fields.get(k) != said.get(k) for k in ("skipped", "lifted")):
                line = self.ledger.put("checked", moment, zone=zone.id, **said)
                old = [] if before is None else [before]
                self._done([line], instead=self._take_out(old, line, moment))
            self._go(self._following(zone))

    def _following(self, zone: Zone) -> Zone | None:
        """The next retreat not done, going on from this one; then those before it."""
        left, order = self.left(), self.plan.retreats
        later = [one for one in left if order.index(one) > order.index(zone)]
        return next(iter(later or left), None)

    def _go(self, zone: Zone | None) -> None:
        """Look into this zone now (None: the round is over). What is on record of its cover stands."""
        self.place, self.typed, self.draft, self.doubt = zone, "", None, None
        self.guess = self.hidden = False
        line = self.found.checked.get(zone.id) if zone is not None else None
        if line is not None and not line.fields.get("skipped"):
            self.lifted = bool(line.fields.get("lifted"))

    def _go_back(self) -> None:
        order = self.plan.retreats
        at = order.index(self.place) if self.place in order else len(order)
        if at == 0:
            self.notice = "This is the first retreat."
        else:
            self._go(order[at - 1])

    def _anybody_here(self) -> bool:
        here = self.place.id if self.place is not None else ""
        return any(x.kind == "seen" and not x.void and x.fields["zone"] == here for x in self.ledger.lines)

    # What is written. --------------------------------------------------------------------------------------

    def _complete(self, moment: Moment, sure: bool = False) -> None:
        """Write the sighting; its time is its first key's. ``sure``: a doubt has been answered."""
        draft = self.draft
        assert draft is not None
        count = int(self.typed or 1) if self.counting else None
        if count == 0:
            self.notice = "0 counts nobody; leave it out."
            return
        if count is not None and self.doubt is None and (doubt := self._too_many(draft.who, count)):
            self.doubt = doubt
            return
        if self.doubt is not None and not sure:
            return
        fields = draft.seen() if count is None else {**draft.seen(), "count": count}
        line = self.ledger.put("seen", draft.first or moment, **fields)
        old = [x for x in self.ledger.lines if self._same_animal(x, line)] if count is None else []
        left_out = self.found.checked.get(line.fields["zone"])
        if left_out is not None and left_out.fields.get("skipped"):
            old.append(left_out)  # where somebody is found somebody has looked
        self.draft, self.typed, self.doubt = None, "", None
        self._done([line], draft.who, instead=self._take_out(old, line, moment))

    def _same_animal(self, one: Line, new: Line) -> bool:
        same = one.fields.get("animal") == new.fields["animal"]
        return one is not new and one.kind == "seen" and not one.void and same

    def _too_many(self, who: Who, count: int) -> str | None:
        """What to ask where more are counted than are known to live here."""
        found = self.found
        if who.group and who.size is not None and found.counted.get(who.id, 0) + count > who.size:
            total = found.counted.get(who.id, 0) + count
            return f"{total} in all, but the group is {who.size}; Enter records it so, Backspace changes it"
        here = tally(self.plan, found, self.here)
        if not who.id and here.found + count > here.alive:
            return (
                f"{here.found + count} in all, but {here.alive} are known to live here; "
                "Enter records it so, Backspace changes it"
            )
        return None

    def _take_out(self, old: list[Line], new: Line | None, moment: Moment) -> list[tuple[Line, Line | None]]:
        """Take back what the new record replaces, and every 'not found' that is no longer so."""
        instead = [(line, self.ledger.take_back(line, moment, new)) for line in old]
        found = self.found
        for enclosure in self.plan.enclosures:
            numbers = tally(self.plan, found, enclosure)
            for who in self.plan.who:
                line = found.unseen.get(who.id)
                if line is None or who.enclosure != enclosure:
                    continue
                still = numbers.whole and not numbers.nameless
                if not still or short_of(who, found) != (line.fields.get("count") or 1):
                    instead.append((line, self.ledger.take_back(line, moment)))
        return instead

    def _confirm(self, moment: Moment) -> None:
        """The keeper says that those not found were looked for in every retreat."""
        found = self.found
        missing = [who for one in self.tallies() for who in one.to_confirm]
        last = self.acts[-1].lines[-1].moment.mono if self.acts else moment.mono - _READ_S
        if missing and moment.mono - last < _READ_S:
            self.notice = "Read first who was not found; then Enter."
            return
        lines = [
            self.ledger.put("unseen", moment, **who.fields, count=short_of(who, found) if who.group else None)
            for who in missing
        ]
        if lines:
            self._done(lines)
        else:
            self.notice = "Nothing is left to record; . finishes."

    def _settle(self, moment: Moment) -> bool:
        """Record what is half typed: who was found must not be lost. False where a doubt has to be answered."""
        draft = self.draft
        if draft is None:
            return True
        if self.counting and not self.typed and draft.who.group:
            self.draft = None  # a group's key without a number says nothing yet
            return True
        if self.doubt is None:
            self._complete(moment)
        if self.draft is not None:
            self.notice = "First answer this: Enter or Backspace."
        return self.draft is None

    def finish(self, moment: Moment) -> None:
        """Close: finished where every retreat was looked into or left out, whatever was said of those not found."""
        if self.closed is None:
            if not self._settle(moment) and self.counting:
                self._complete(moment, sure=True)  # what was counted was seen, whether it adds up or not
            self.draft = None  # who is recorded elsewhere stays there
            self.closed = "left" if self.left() else "finished"
            self.ledger.put("closed", moment, reason=self.closed)

    # After changes. ----------------------------------------------------------------------------------------

    def _drop_half(self, moment: Moment) -> bool:
        if self.typed:
            self.typed, self.doubt = self.typed[:-1], None
        elif self.draft is not None:
            self.draft = self.doubt = None
        elif self.guess or self.hidden:
            self.guess = self.hidden = False
        else:
            return False
        return True

    def _after_undo(self, act: Act, moment: Moment) -> None:
        zone = self.plan.declared.zones.get(act.lines[0].fields.get("zone") or "")
        if act.lines[0].kind in ("seen", "checked") and zone is not None:
            self._go(zone)
        elif act.lines[0].kind == "unseen":
            self._go(None)

    def correct(self, line: Line, moment: Moment, changed: Mapping[str, Any] | None) -> None:
        Recorder.correct(self, line, moment, changed)
        gone = self._take_out([], None, moment)
        if changed is not None:
            self.acts[-1].instead = (*self.acts[-1].instead, *gone)
            new = self.acts[-1].lines[0]
            if new.fields.get("animal") and any(self._same_animal(x, new) for x in self.ledger.lines):
                self.notice += ". It is recorded twice now: correct the other too (#)."
        if self.place is None and (left := self.left()):
            self._go(left[0])

    def take_up(self) -> None:
        """Go on after a cut: where somebody was being recorded, else at the first retreat not done."""
        left = self.left()
        standing = [line for line in self.ledger.lines if not line.void]
        places = [line.fields["zone"] for line in standing if line.kind == "seen"]
        covers = [line for line in standing if line.kind == "checked" and not line.fields.get("skipped")]
        self.lifted = bool(covers and covers[-1].fields.get("lifted"))
        begun = next((zone for zone in left if places and zone.id == places[-1]), None)
        self._go(begun or next(iter(left), None))

    def _asked(self) -> Who | None:
        if self.draft is not None:
            return self.draft.who if self.draft.who.id else None
        return Recorder._asked(self)
