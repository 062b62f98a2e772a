"""A retreat round: one retreat after the other, and who is in it: animals by their key, or how many."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from ....study.model import Zone
from ...session.instant import Instant
from ...session.ledger import LedgerEntry
from ...session.plan import Who, nobody_known
from ..answering import marked
from ..asking import Code, Prompt
from ..draft import HalfRecord
from ..events import take_event
from ..sheet import READ_S, Act, OpenEvent, Sheet, place_marks
from .found import Found, Tally, fold, tally
from .prompt import round_prompt
from .records import doubted, record_unfound, same_animal, take_out

_MOST_DIGITS = 3


@dataclass(slots=True)
class Rounding:
    """``place`` is the zone looked into (None: the round is over).

    ``lifted`` is whether its cover is lifted, taken over from the retreat before until it is said otherwise.
    ``guess`` and ``hidden`` hold for the next one named.
    """

    sheet: Sheet
    place: Zone | None = None
    lifted: bool = False
    guess: bool = False
    hidden: bool = False

    # What a round knows. -----------------------------------------------------------------------------------

    @property
    def found(self) -> Found:
        return fold(self.sheet.ledger.lines)

    @property
    def here(self) -> str:
        return self.place.enclosure if self.place is not None else self.sheet.plan.retreats[-1].enclosure

    @property
    def counting(self) -> bool:
        return self.sheet.draft is not None and (self.sheet.draft.who.group or not self.sheet.draft.who.id)

    @property
    def at_retreat(self) -> bool:
        return self.place in self.sheet.plan.retreats

    def tallies(self) -> list[Tally]:
        found = self.found
        return [tally(self.sheet.plan, found, enclosure) for enclosure in self.sheet.plan.enclosures]

    def left(self) -> list[Zone]:
        """The retreats neither looked into nor left out."""
        checked = self.found.checked
        return [zone for zone in self.sheet.plan.retreats if zone.id not in checked]

    def new_part(self, instant: Instant) -> None:
        """Every record says all there is to say."""

    def all_done(self, instant: Instant) -> bool:
        return not self.left() and not any(one.to_confirm for one in self.tallies())

    def marks_by_zone(self) -> dict[str, list[str]]:
        """Zone id to the marks of who is there: ``1``, ``2?``, ``3~``, ``Y:4``, and ``*:2`` for two not told apart."""
        rooms: dict[str, dict[str, int]] = {}
        for line in self.sheet.ledger.lines:
            if line.kind != "seen" or line.void:
                continue
            name = line.fields.get("group") or line.fields.get("animal")
            key = next((who.key for who in self.sheet.plan.who if who.id == name), "*")
            signs = place_marks(line.fields)
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
            for who in self.sheet.plan.who
            if who.id in unseen
        ]

    def room_sign(self, zone: Zone) -> str:
        """Where the round is, what it has looked into, and what it left out."""
        if zone == self.place:
            return "▸"
        line = self.found.checked.get(zone.id)
        return "" if line is None else "×" if line.fields.get("skipped") else "✓"

    def prompt(self, instant: Instant) -> Prompt:
        return round_prompt(self)

    def tick(self, instant: Instant) -> bool:
        """Nothing waits for a beat."""
        return False

    def hold(self, instant: Instant, on: bool) -> None:
        """No beat runs."""

    # The keeper's keys. ------------------------------------------------------------------------------------

    def press(self, key: str, instant: Instant) -> None:
        if self.sheet.draft is None:
            self._name(key, instant)
        elif self.counting and key.isdigit():
            self.sheet.typed = (self.sheet.typed + key)[:_MOST_DIGITS]
            self.sheet.doubt = None
        else:
            self._doing(self.sheet.draft, key, instant)

    def _name(self, key: str, instant: Instant) -> None:
        who, zone, behaviour = (
            self.sheet.who(key, self.here),
            self.sheet.zone(key, self.here),
            self.sheet.behaviour(key),
        )
        if who is not None:
            self._open(who, instant)
        elif zone is not None:
            self._go(zone)
        elif behaviour is not None and not behaviour.lasts:
            take_event(self.sheet, OpenEvent(instant, behaviour, asked=self.asked))
        elif behaviour is not None:
            self.sheet.tell(f"{behaviour.label}: who? Press the animal's key first.", Code.REFUSED)
        else:
            self.sheet.tell(
                f"{key} is neither an animal's key nor a zone's here; {self.sheet.key('help')} shows every key.",
                Code.UNKNOWN_KEY,
            )

    def _open(self, who: Who, instant: Instant) -> None:
        """Ask about somebody found here."""
        if self.place is None:
            self.sheet.tell(f"Where is {who.label}? Press the zone's key first.", Code.REFUSED)
            return
        if who.id and who.enclosure != self.here:
            self.sheet.tell(f"{who.label} lives in {who.enclosure}.", Code.REFUSED)
            return
        self.sheet.draft = HalfRecord(who, None, self.place, None, self.guess, self.hidden, instant)
        self.guess = self.hidden = False
        self.sheet.typed = ""
        self.sheet.hush()
        before = None if self.counting else self.found.seen.get(who.id)
        self.sheet.doubt = None
        if before is not None:
            self.sheet.ask(self._recorded_in(before), instant)
            self.sheet.hush()
        elif not self.sheet.lasting and not self.counting:
            self._complete(instant)

    def _recorded_in(self, line: LedgerEntry) -> str:
        zone = self.sheet.plan.declared.zones.get(line.fields["zone"])
        where = "here" if zone == self.place else f"in {zone.label if zone else line.fields['zone']}"
        return f"recorded {where} already; Enter replaces that, Backspace keeps it"

    def _doing(self, draft: HalfRecord, key: str, instant: Instant) -> None:
        behaviour, who, zone = (
            self.sheet.behaviour(key),
            self.sheet.who(key, self.here),
            self.sheet.zone(key, self.here),
        )
        if behaviour is not None and behaviour.lasts:
            self.sheet.draft = replace(draft, behaviour=behaviour)
            if self.sheet.doubt is None:
                self._complete(instant)
        elif behaviour is not None:
            take_event(self.sheet, OpenEvent(instant, behaviour, asked=self.asked))
        elif who is not None and who == draft.who and not self.sheet.typed:
            return  # its own key asks for what is asked already
        elif who is not None or zone is not None:
            if self._settle(instant):
                self._name(key, instant)
        else:
            self.sheet.tell(f"{key} is not a behaviour's key; Enter records without one.", Code.UNKNOWN_KEY)

    def in_count(self, key: str) -> bool:
        return self.counting and key.isdigit()

    # The program's keys. -----------------------------------------------------------------------------------

    def act(self, name: str, instant: Instant) -> None:
        if name in ("guess", "hidden"):
            self._mark(name)
        elif name == "lifted":
            self._lift()
        elif self.sheet.draft is not None and name in ("accept", "same"):
            self._complete(instant, sure=True)
        elif self._settle(instant):
            self._move(name, instant)

    def _move(self, name: str, instant: Instant) -> None:
        """Keys that leave the present retreat, or ask about somebody without a name."""
        if name == "someone":
            self._open(nobody_known(self.here), instant)
        elif name == "earlier":
            self._go_back()
        elif name == "now":
            self._go(next(iter(self.left()), None))
        elif name == "next_one" and self.place is not None:
            self._leave(instant, skipped=True)
        elif name == "unseen" and self._anybody_here():
            self.sheet.tell("Somebody is recorded here; Enter goes on, Backspace takes the record back.")
        elif name in ("accept", "unseen"):
            self._leave(instant, skipped=False)
        else:
            self.sheet.tell(
                f"That key does nothing in a retreat round; {self.sheet.key('help')} shows every key."
            )

    def _mark(self, name: str) -> None:
        if self.sheet.draft is not None:
            self.sheet.draft = marked(self.sheet.draft, name)
        elif name == "guess":
            self.guess = not self.guess
        else:
            self.hidden = not self.hidden

    def _lift(self) -> None:
        if not self.at_retreat:
            self.sheet.tell("No retreat is being looked into.")
            return
        self.lifted = not self.lifted
        self.sheet.tell(
            f"Cover {'lifted' if self.lifted else 'not lifted'}; Enter records it with this retreat."
        )

    def _leave(self, instant: Instant, skipped: bool) -> None:
        """Record that this retreat was looked into, or left out, and go on to the next."""
        zone = self.place
        if zone is None:
            self._confirm(instant)
        elif not self.at_retreat:
            self._go(next(iter(self.left()), None))
        elif skipped and self._anybody_here():
            self.sheet.tell("Somebody is recorded here, so it was looked into: Enter goes on.")
        else:
            said: dict[str, Any] = {"skipped": True} if skipped else {"lifted": self.lifted}
            before = self.found.checked.get(zone.id)
            if before is None or any(before.fields.get(k) != said.get(k) for k in ("skipped", "lifted")):
                line = self.sheet.ledger.put("checked", instant, zone=zone.id, **said)
                old = [] if before is None else [before]
                self.sheet.done([line], instead=take_out(self.sheet, old, line, instant))
            self._go(self._following(zone))

    def _following(self, zone: Zone) -> Zone | None:
        """The next retreat not done, going on from this one; then those before it."""
        left, order = self.left(), self.sheet.plan.retreats
        later = [one for one in left if order.index(one) > order.index(zone)]
        return next(iter(later or left), None)

    def _go(self, zone: Zone | None) -> None:
        """Look into this zone now (None: the round is over). What is on record of its cover stands."""
        self.place, self.sheet.typed, self.sheet.draft, self.sheet.doubt = zone, "", None, None
        self.guess = self.hidden = False
        line = self.found.checked.get(zone.id) if zone is not None else None
        if line is not None and not line.fields.get("skipped"):
            self.lifted = bool(line.fields.get("lifted"))

    def _go_back(self) -> None:
        order = self.sheet.plan.retreats
        at = order.index(self.place) if self.place in order else len(order)
        if at == 0:
            self.sheet.tell("This is the first retreat.")
        else:
            self._go(order[at - 1])

    def _anybody_here(self) -> bool:
        here = self.place.id if self.place is not None else ""
        return any(
            x.kind == "seen" and not x.void and x.fields["zone"] == here for x in self.sheet.ledger.lines
        )

    # What is written. --------------------------------------------------------------------------------------

    def _complete(self, instant: Instant, sure: bool = False) -> None:
        """Write the sighting; its time is its first key's. ``sure``: a doubt has been answered."""
        draft = self.sheet.draft
        assert draft is not None
        count = int(self.sheet.typed or 1) if self.counting else None
        if count == 0:
            self.sheet.tell("0 counts nobody; leave it out.", Code.REFUSED)
            return
        if doubted(self.sheet, self.here, draft.who, count, instant, sure=sure):
            return
        fields = draft.seen() if count is None else {**draft.seen(), "count": count}
        line = self.sheet.ledger.put("seen", draft.first or instant, **fields)
        old = [x for x in self.sheet.ledger.lines if same_animal(x, line)] if count is None else []
        left_out = self.found.checked.get(line.fields["zone"])
        if left_out is not None and left_out.fields.get("skipped"):
            old.append(left_out)  # where somebody is found somebody has looked
        self.sheet.draft, self.sheet.typed, self.sheet.doubt = None, "", None
        self.sheet.done([line], draft.who, instead=take_out(self.sheet, old, line, instant))

    def _confirm(self, instant: Instant) -> None:
        """The keeper says that those not found were looked for in every retreat."""
        sheet = self.sheet
        missing = [who for one in self.tallies() for who in one.to_confirm]
        last = sheet.acts[-1].lines[-1].instant.mono if sheet.acts else instant.mono - READ_S
        if missing and instant.mono - last < READ_S:
            sheet.tell("First read who was not found, then press Enter.", Code.REFUSED)
        elif missing:
            record_unfound(sheet, self.found, missing, instant)
        else:
            sheet.tell(f"Nothing is left to record; {sheet.key('finish')} ends it.")

    def _settle(self, instant: Instant) -> bool:
        """Record what is half typed: who was found must not be lost. False where a doubt has to be answered."""
        sheet, draft = self.sheet, self.sheet.draft
        if draft is None:
            return True
        if self.counting and not sheet.typed and draft.who.group:
            sheet.draft = None  # a group's key without a number says nothing yet
            return True
        if sheet.doubt is None:
            self._complete(instant)
        if sheet.draft is not None:
            sheet.tell("Answer this first: Enter or Backspace.", Code.REFUSED)
        return sheet.draft is None

    def end(self, instant: Instant) -> str:
        """Finished where every retreat was looked into or left out, whatever was said of those not found."""
        if not self._settle(instant) and self.counting:
            self.sheet.doubted_at = -1e9
            self._complete(instant, sure=True)  # what was counted was seen, whether it adds up or not
        self.sheet.draft = None  # who is recorded elsewhere stays there
        return "left" if self.left() else "finished"

    def begin_line(self) -> None:
        """What the line before left in doubt is dropped: another line answers it with yes."""
        self.sheet.draft, self.sheet.typed, self.sheet.doubt = None, "", None

    def take_line(self, instant: Instant) -> None:
        if self.sheet.draft is not None and self.sheet.doubt is None:
            self._complete(instant, sure=True)

    # After changes. ----------------------------------------------------------------------------------------

    def drop_half(self, instant: Instant) -> bool:
        sheet = self.sheet
        if sheet.typed:
            sheet.typed, sheet.doubt = sheet.typed[:-1], None
        elif sheet.draft is not None:
            sheet.draft = sheet.doubt = None
        elif self.guess or self.hidden:
            self.guess = self.hidden = False
        else:
            return False
        return True

    def after_undo(self, act: Act, instant: Instant) -> None:
        zone = self.sheet.plan.declared.zones.get(act.lines[0].fields.get("zone") or "")
        if act.lines[0].kind in ("seen", "checked") and zone is not None:
            self._go(zone)
        elif act.lines[0].kind == "unseen":
            self._go(None)

    def after_correction(self, new: LedgerEntry | None, instant: Instant) -> None:
        sheet = self.sheet
        gone = take_out(sheet, [], None, instant)
        if new is not None:
            sheet.acts[-1].instead = (*sheet.acts[-1].instead, *gone)
            if new.fields.get("animal") and any(same_animal(x, new) for x in sheet.ledger.lines):
                list_key = sheet.key("records")
                sheet.tell(
                    f"{sheet.notice.says}. It is recorded twice now: correct the other too ({list_key})."
                )
        if self.place is None and (left := self.left()):
            self._go(left[0])

    def rebuild(self) -> None:
        """There is no state beyond the records, and where the keeper is."""

    def take_up(self) -> None:
        """Go on after a cut: where somebody was being recorded, else at the first retreat not done."""
        left = self.left()
        in_force = [line for line in self.sheet.ledger.lines if not line.void]
        places = [line.fields["zone"] for line in in_force if line.kind == "seen"]
        covers = [line for line in in_force if line.kind == "checked" and not line.fields.get("skipped")]
        self.lifted = bool(covers and covers[-1].fields.get("lifted"))
        begun = next((zone for zone in left if places and zone.id == places[-1]), None)
        self._go(begun or next(iter(left), None))

    @property
    def asked(self) -> Who | None:
        if self.sheet.draft is not None:
            return self.sheet.draft.who if self.sheet.draft.who.id else None
        return self.sheet.alone
