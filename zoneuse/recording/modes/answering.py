"""One answer after the other: zone key, then behaviour key. A part of scans, and of seeing in passing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Protocol

from ...study import visible
from ..session.instant import Instant
from ..session.ledger import LedgerEntry
from ..session.plan import Who, nobody_known
from ..words import state_words
from .asking import Code, Prompt
from .counts import CountsError, GroupPart, mismatch, parse_counts
from .draft import HalfRecord
from .events import take_event
from .sheet import OpenEvent, Sheet


class Flow(Protocol):
    """What the answers are part of: whom to ask next, and in which scan."""

    @property
    def asked(self) -> Who | None: ...
    def scan_now(self) -> int | None: ...
    def answered(self, lines: list[LedgerEntry]) -> None: ...
    def ask_next(self, instant: Instant) -> None: ...
    def idle_key(self, key: str, instant: Instant) -> None: ...
    def idle_act(self, name: str, instant: Instant) -> None: ...


@dataclass(slots=True)
class Answering:
    """Takes the keys of an answer; what it is part of says who is asked about."""

    sheet: Sheet
    flow: Flow

    # The keeper's keys. ------------------------------------------------------------------------------------

    def press(self, key: str, instant: Instant) -> None:
        draft = self.sheet.draft
        if draft is None:
            self.flow.idle_key(key, instant)
        elif draft.who.group:
            self._group_key(draft, key, instant)
        elif draft.zone is None:
            self._zone_key(draft, key, instant)
        else:
            self._behaviour_key(draft, key, instant)

    def in_count(self) -> bool:
        """Whether a group's counts are being typed: they are read as a whole, at their end."""
        draft = self.sheet.draft
        return draft is not None and draft.who.group and bool(self.sheet.typed)

    def idle_key(self, key: str, instant: Instant) -> None:
        """Nobody is asked about: an animal's key asks about it, an event's key is an event."""
        sheet = self.sheet
        who, behaviour = sheet.who(key, self.here), sheet.behaviour(key)
        if who is not None:
            self.ask(who, instant)
        elif behaviour is not None and not behaviour.lasts:
            take_event(sheet, OpenEvent(instant, behaviour, asked=self.flow.asked))
        elif behaviour is not None or sheet.zone(key, self.here) is not None:
            sheet.tell(f"{key}: whose? Press the animal's key first.", Code.REFUSED)
        else:
            sheet.tell(
                f"{key} is not one of your keys here; {sheet.key('help')} shows every key.", Code.UNKNOWN_KEY
            )

    @property
    def here(self) -> str:
        draft = self.sheet.draft
        return draft.who.enclosure if draft is not None else self.sheet.plan.enclosures[0]

    def _zone_key(self, draft: HalfRecord, key: str, instant: Instant) -> None:
        sheet = self.sheet
        zone = sheet.zone(key, draft.who.enclosure)
        who, behaviour = sheet.who(key, self.here), sheet.behaviour(key)
        if zone is not None:
            sheet.tell(self._not_there(zone.id, instant))
            sheet.draft = replace(draft, zone=zone, first=draft.first or instant)
            if not sheet.lasting or draft.behaviour is not None:
                self.complete(instant)
        elif who is not None:
            self.ask(who, instant)
        elif behaviour is not None and behaviour.lasts:
            # What it does came before where it is: the zone's key completes the answer.
            sheet.draft = replace(draft, behaviour=behaviour, first=draft.first or instant)
            sheet.hush()
        elif behaviour is not None:
            take_event(sheet, OpenEvent(instant, behaviour, asked=self.flow.asked))
        else:
            sheet.tell(
                f"{key} is not a zone's key here; {sheet.key('help')} shows every key.", Code.UNKNOWN_KEY
            )

    def _not_there(self, zone: str, instant: Instant) -> str:
        """A caution where study.toml says that this zone is not there now."""
        one = self.sheet.plan.declared.zones[zone]
        if self.sheet.plan.offered(one, instant.at):
            return ""
        return f"By study.toml {one.label} is not there now; recorded as you saw it."

    def _behaviour_key(self, draft: HalfRecord, key: str, instant: Instant) -> None:
        sheet = self.sheet
        behaviour, who = sheet.behaviour(key), sheet.who(key, self.here)
        if behaviour is not None and behaviour.lasts:
            sheet.draft = replace(draft, behaviour=behaviour)
            self.complete(instant)
        elif behaviour is not None:
            take_event(sheet, OpenEvent(instant, behaviour, asked=self.flow.asked))
        elif who is not None:
            self.ask(who, instant)
        elif (zone := sheet.zone(key, draft.who.enclosure)) is not None:
            sheet.draft = replace(draft, zone=zone)
            sheet.tell(f"{zone.label} instead.")
        else:
            sheet.tell(f"{key} is not a behaviour's key; Enter records without one.", Code.UNKNOWN_KEY)

    def _group_key(self, draft: HalfRecord, key: str, instant: Instant) -> None:
        sheet = self.sheet
        who = sheet.who(key, self.here)
        zones = sheet.plan.zone_by_key(draft.who.enclosure)
        if not sheet.typed and who is not None and who != draft.who and key not in zones:
            # A count starts with a zone, so a digit or another's key here can only mean somebody.
            self.ask(who, instant)
            return
        if not sheet.typed and key == draft.who.key and key not in zones:
            return  # its own key asks for what is asked already
        if not sheet.typed:
            sheet.draft = replace(draft, first=instant)
        sheet.typed += key
        sheet.doubt = None

    # The program's keys. -----------------------------------------------------------------------------------

    def act(self, name: str, instant: Instant) -> None:
        draft = self.sheet.draft
        if name == "someone" and not self.sheet.typed:
            self.ask(nobody_known(self.here), instant)
        elif draft is None:
            self.flow.idle_act(name, instant)
        elif draft.who.group and self._group_act(draft, name, instant):
            return
        elif name in ("guess", "hidden"):
            self.sheet.draft = marked(draft, name)
        elif name == "unseen":
            self._unseen(draft, instant)
        elif name == "same":
            self._same(draft, instant)
        elif name == "accept" and draft.zone is not None:
            self.complete(instant)
        else:
            self.flow.idle_act(name, instant)

    def idle_act(self, name: str, instant: Instant) -> None:
        if self.sheet.draft is None and name in ("same", "unseen", "guess", "hidden"):
            self.sheet.tell("Nobody is asked about; press an animal's key first.", Code.REFUSED)

    def _unseen(self, draft: HalfRecord, instant: Instant) -> None:
        if not draft.who.id:
            self.sheet.tell("Not found needs a name: press the animal's key, then -.", Code.REFUSED)
            return
        line = self.sheet.ledger.put("unseen", instant, **draft.unseen())
        self._answered([line], draft, instant)

    def _same(self, draft: HalfRecord, instant: Instant) -> None:
        """Record for the one asked what it was before, by the order of scans."""
        sheet = self.sheet
        before = sheet.before(draft.who, draft.scan)
        if draft.zone is not None:
            # The zone is typed: only what it does is as before.
            name = before[0].fields.get("behaviour") if before else None
            sheet.draft = replace(draft, behaviour=sheet.plan.declared.behaviours.get(name or ""))
            self.complete(instant)
            return
        if not before:
            sheet.tell(f"No earlier record of {draft.who.label} in this session: press a zone's key.")
            return
        at = sheet.apart(draft.who, instant)
        lines = [sheet.ledger.put(line.kind, at, **{**line.fields, "scan": draft.scan}) for line in before]
        self._answered(lines, draft, instant)

    def complete(self, instant: Instant) -> None:
        """Write the answer; its time is its first key's."""
        sheet, draft = self.sheet, self.sheet.draft
        assert draft is not None and draft.zone is not None
        line = sheet.ledger.put("seen", draft.first or instant, **draft.seen())
        self._answered([line], draft, instant)
        if caution := self._not_there(draft.zone.id, instant):
            sheet.tell(f"{sheet.notice.says}. {caution}", Code.RECORDED)

    # A group's counts. -------------------------------------------------------------------------------------

    def _group_act(self, draft: HalfRecord, name: str, instant: Instant) -> bool:
        """Keys that mean something else while counts are typed; whether this was one."""
        sheet = self.sheet
        if name == "unseen" or (name == "same" and sheet.typed):
            if not sheet.typed:
                sheet.draft = replace(draft, first=instant)
            sheet.typed += "-" if name == "unseen" else " "
            sheet.doubt = None
        elif name == "accept":
            self._counts(draft, instant)
        elif name in ("hidden", "guess"):
            sheet.draft = marked(draft, name)
        elif sheet.typed:
            sheet.tell("Finish the counts first: Enter records them, Backspace clears them.", Code.REFUSED)
        else:
            return False
        return True

    def _counts(self, draft: HalfRecord, instant: Instant) -> None:
        sheet = self.sheet
        zones = sheet.plan.zone_by_key(draft.who.enclosure)
        try:
            parts = parse_counts(sheet.typed, zones, {b.key: b for b in sheet.lasting})
        except CountsError as error:
            sheet.tell(f"{error}.", Code.REFUSED)
            return
        doubt = mismatch(parts, draft.who.size)
        if doubt is not None and sheet.doubt is None:
            sheet.ask(doubt, instant)
            return
        if sheet.too_soon(instant):
            return
        first = sheet.apart(draft.who, draft.first or instant)
        self._answered([self._count(draft, part, first) for part in parts], draft, instant)

    def _count(self, draft: HalfRecord, part: GroupPart, first: Instant) -> LedgerEntry:
        sheet = self.sheet
        who: dict[str, Any] = {"group": draft.who.id, "count": part.count}
        if part.zone is None:
            return sheet.ledger.put("unseen", first, **who, scan=draft.scan)
        zone = sheet.plan.zone_by_key(draft.who.enclosure)[part.zone]
        behaviour = None if part.behaviour is None else sheet.behaviour(part.behaviour)
        fields = replace(draft, zone=zone, behaviour=behaviour).seen()
        return sheet.ledger.put("seen", first, **{**fields, **who})

    # The flow. ---------------------------------------------------------------------------------------------

    def ask(self, who: Who, instant: Instant) -> None:
        """Ask about somebody; an answer that has its zone already is recorded first."""
        self.settle(instant)
        self.ask_anew(who)
        self.sheet.hush()

    def ask_anew(self, who: Who) -> None:
        sheet = self.sheet
        sheet.draft = HalfRecord(who, self.flow.scan_now())
        sheet.typed, sheet.doubt = "", None

    def settle(self, instant: Instant) -> None:
        """What is half typed and has its zone is recorded: where it was seen must not be lost."""
        if self.sheet.draft is not None and self.sheet.draft.zone is not None:
            self.complete(instant)

    def _answered(self, lines: list[LedgerEntry], draft: HalfRecord, instant: Instant) -> None:
        sheet = self.sheet
        sheet.typed, sheet.doubt, sheet.draft = "", None, None
        self.flow.answered(lines)
        sheet.done(lines, draft.who, draft.scan)
        self.flow.ask_next(instant)

    def drop_half(self, instant: Instant) -> bool:
        sheet, draft = self.sheet, self.sheet.draft
        if sheet.typed:
            sheet.typed = sheet.typed[:-1]
            sheet.doubt = None
        elif draft is not None and draft.begun:
            sheet.draft = HalfRecord(draft.who, draft.scan)
        elif draft is not None and not draft.who.id:
            sheet.draft = None
            self.flow.ask_next(instant)
        else:
            return False
        return True

    def take_line(self, instant: Instant) -> None:
        """Counts typed in a line are recorded at its end; what a doubt asks is left to the next."""
        sheet = self.sheet
        if sheet.typed and sheet.doubt is None:
            self.act("accept", instant)

    def before_words(self, who: Who, scan: int | None) -> str:
        declared = self.sheet.plan.declared
        words = [
            (f"{line.fields.get('count')} " if who.group else "") + state_words(declared, line.fields)
            for line in self.sheet.before(who, scan)
        ]
        return "; ".join(words)


def marked(draft: HalfRecord, name: str) -> HalfRecord:
    """The draft with its guess or hidden mark the other way round."""
    return (
        replace(draft, guess=not draft.guess) if name == "guess" else replace(draft, hidden=not draft.hidden)
    )


def answer_prompt(sheet: Sheet, answering: Answering, lead: str = "") -> Prompt:
    """What is asked now about the one being answered for. ``lead`` stands first, as in ``Scan 3, late: ``."""
    draft = sheet.draft
    assert draft is not None
    who = draft.who
    name = f"{lead}{visible(who.label)}"
    flags = "".join(f" ({word})" for word, on in (("guess", draft.guess), ("hidden", draft.hidden)) if on)
    before = answering.before_words(who, draft.scan)
    if who.group:
        size = f" of {who.size}" if who.size is not None else ""
        kinds = ("zone", "behaviour") if sheet.typed else ("zone",)
        zones = sheet.choices(*kinds, enclosure=who.enclosure)
        ask = f"{name}: how many{size} where?{flags}" if sheet.doubt is None else f"{name}: {sheet.doubt}"
        return Prompt(ask, sheet.typed, before, zones, who, doubt=sheet.doubt is not None)
    if draft.zone is None:
        doing = f", {visible(draft.behaviour.label).lower()}" if draft.behaviour is not None else ""
        choices = sheet.choices("zone", enclosure=who.enclosure)
        return Prompt(f"{name}{doing}: where?{flags}", "", before, choices, who)
    choices = sheet.choices("behaviour", "event")
    return Prompt(f"{name} in {visible(draft.zone.label)}: doing?{flags}", "", before, choices, who)
