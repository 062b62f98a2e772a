"""One answer after the other: zone key, then behaviour key. Shared by scans and by seeing in passing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from ..session.ledger import Line
from ..session.moment import Moment
from ..session.plan import Who, nobody_known
from ..words import state_words
from .counts import CountsError, Part, mismatch, parse_counts
from .draft import Draft
from .recorder import Event, Recorder


@dataclass(slots=True)
class Answering(Recorder):
    """A recorder that asks about somebody: ``draft`` is the answer being typed, ``typed`` a group's counts.

    ``question`` stands where the counts do not add up and the keeper is asked about it.
    """

    typed: str = ""
    question: str | None = None

    # The keeper's keys. ------------------------------------------------------------------------------------

    def _press(self, key: str, moment: Moment) -> None:
        draft = self.draft
        if draft is None:
            self._idle_key(key, moment)
        elif draft.who.group:
            self._group_key(draft, key, moment)
        elif draft.zone is None:
            self._zone_key(draft, key, moment)
        else:
            self._behaviour_key(draft, key, moment)

    def _idle_key(self, key: str, moment: Moment) -> None:
        """Nobody is asked about: an animal's key asks about it, an event's key is an event."""
        who, behaviour = self._who(key), self._behaviour(key)
        if who is not None:
            self._ask(who, moment)
        elif behaviour is not None and not behaviour.lasts:
            self._finish_event(Event(moment, behaviour))
        else:
            self.notice = f"{key}: whose? Press the animal's key first."

    def _zone_key(self, draft: Draft, key: str, moment: Moment) -> None:
        zone = self._zone(key, draft.who.enclosure)
        who, behaviour = self._who(key), self._behaviour(key)
        if zone is not None:
            self.notice = "" if self.plan.offered(zone, moment.at) else (
                f"By study.toml {zone.label} is not there now; it is recorded as you see it."
            )  # fmt: skip
            self.draft = replace(draft, zone=zone, first=moment)
            if not self._lasting:
                self._complete(moment)
        elif who is not None:
            self._ask(who, moment)
        elif behaviour is not None and not behaviour.lasts:
            self._finish_event(Event(moment, behaviour))
        else:
            self.notice = f"{key} is no zone's key here; ? shows every key."

    def _behaviour_key(self, draft: Draft, key: str, moment: Moment) -> None:
        behaviour, who = self._behaviour(key), self._who(key)
        if behaviour is not None and behaviour.lasts:
            self.draft = replace(draft, behaviour=behaviour)
            self._complete(moment)
        elif behaviour is not None:
            self._finish_event(Event(moment, behaviour))
        elif who is not None:
            self._complete(moment)
            self._ask(who, moment)
        elif (zone := self._zone(key, draft.who.enclosure)) is not None:
            self.draft = replace(draft, zone=zone)
            self.notice = f"{zone.label} instead."
        else:
            self.notice = f"{key} is no behaviour's key; Enter records without one."

    def _group_key(self, draft: Draft, key: str, moment: Moment) -> None:
        who = self._who(key)
        zones = self.plan.zone_by_key(draft.who.enclosure)
        if not self.typed and who is not None and who != draft.who and key not in zones:
            # A count starts with a zone, so a digit or another's key here can only mean somebody.
            self._ask(who, moment)
            return
        if not self.typed and key == draft.who.key and key not in zones:
            return  # its own key asks for what is asked already
        if not self.typed:
            self.draft = replace(draft, first=moment)
        self.typed += key
        self.question = None

    # The program's keys. -----------------------------------------------------------------------------------

    def _act(self, name: str, moment: Moment) -> None:
        draft = self.draft
        if name == "event":
            self.event_open = Event(moment)
        elif name == "someone":
            here = draft.who.enclosure if draft else self.plan.enclosures[0]
            self._ask(nobody_known(here), moment)
        elif draft is None:
            self._idle_act(name, moment)
        elif draft.who.group and self._group_act(draft, name, moment):
            return
        elif name in ("guess", "hidden"):
            self._mark(draft, name)
        elif name == "unseen":
            self._unseen(draft, moment)
        elif name == "same":
            self._same(draft, moment)
        elif name == "accept" and draft.zone is not None:
            self._complete(moment)
        else:
            self._idle_act(name, moment)

    def _idle_act(self, name: str, moment: Moment) -> None:
        if name in ("same", "unseen", "guess", "hidden"):
            self.notice = "Nobody is asked about; press an animal's key first."

    def _mark(self, draft: Draft, name: str) -> None:
        self.draft = (
            replace(draft, guess=not draft.guess)
            if name == "guess"
            else replace(draft, hidden=not draft.hidden)
        )

    def _unseen(self, draft: Draft, moment: Moment) -> None:
        if not draft.who.id:
            self.notice = "Not found needs a name: press the animal's key, then -."
            return
        line = self.ledger.put("unseen", moment, **draft.unseen())
        self._answered([line], draft, moment)

    def _same(self, draft: Draft, moment: Moment) -> None:
        """Record for the one asked what the last record of it says."""
        before = self.last.get(draft.who.id, [])
        if draft.zone is not None:
            # The zone is typed: only what it does is as before.
            doing = (
                self.plan.declared.behaviours.get(before[0].fields.get("behaviour") or "") if before else None
            )
            self.draft = replace(draft, behaviour=doing)
            self._complete(moment)
            return
        if not before:
            self.notice = f"No earlier record of {draft.who.label} in this session: press a zone's key."
            return
        lines = [self.ledger.put(line.kind, moment, **{**line.fields, "scan": draft.scan}) for line in before]
        self._answered(lines, draft, moment)

    def _complete(self, moment: Moment) -> None:
        """Write the answer; its time is its first key's."""
        draft = self.draft
        assert draft is not None and draft.zone is not None
        caution = self.notice if self.notice.startswith("By study.toml") else ""
        line = self.ledger.put("seen", draft.first or moment, **draft.seen())
        self._answered([line], draft, moment)
        if caution:
            self.notice += f". {caution}"

    def _group_act(self, draft: Draft, name: str, moment: Moment) -> bool:
        """Keys that mean something else while counts are typed; whether this was one."""
        if name == "unseen" or (name == "same" and self.typed):
            if not self.typed:
                self.draft = replace(draft, first=moment)
            self.typed += "-" if name == "unseen" else " "
            self.question = None
        elif name == "accept":
            self._counts(draft, moment)
        elif name in ("hidden", "guess"):
            self._mark(draft, name)
        elif self.typed:
            self.notice = "Finish the counts first: Enter records them, Backspace takes them away."
        else:
            return False
        return True

    def _counts(self, draft: Draft, moment: Moment) -> None:
        zones = self.plan.zone_by_key(draft.who.enclosure)
        behaviours = {b.key: b for b in self._lasting}
        try:
            parts = parse_counts(self.typed, zones, behaviours)
        except CountsError as error:
            self.notice = f"{error}."
            return
        question = mismatch(parts, draft.who.size)
        if question is not None and self.question is None:
            self.question = question
            self.notice = "Enter again records it so; Backspace changes it."
            return
        lines = [self._count(draft, part, moment) for part in parts]
        self._answered(lines, draft, moment)

    def _count(self, draft: Draft, part: Part, moment: Moment) -> Line:
        first = draft.first or moment
        who: dict[str, Any] = {"group": draft.who.id, "count": part.count}
        if part.zone is None:
            return self.ledger.put("unseen", first, **who, scan=draft.scan)
        zone = self.plan.zone_by_key(draft.who.enclosure)[part.zone]
        behaviour = None if part.behaviour is None else self._behaviour(part.behaviour)
        fields = replace(draft, zone=zone, behaviour=behaviour).seen()
        return self.ledger.put("seen", first, **{**fields, **who})

    # The flow. ---------------------------------------------------------------------------------------------

    def _ask(self, who: Who, moment: Moment) -> None:
        """Ask about somebody; an answer that has its zone already is recorded first."""
        self._settle(moment)
        self.draft = Draft(who, self._scan_now())
        self.typed, self.question, self.notice = "", None, ""

    def _settle(self, moment: Moment) -> None:
        """What is half typed and has its zone is recorded: where it was seen must not be lost."""
        if self.draft is not None and self.draft.zone is not None:
            self._complete(moment)

    def _answered(self, lines: list[Line], draft: Draft, moment: Moment) -> None:
        self.typed, self.question, self.draft = "", None, None
        self._done(lines, draft.who, draft.scan)
        self._ask_next(moment)

    def _ask_next(self, moment: Moment) -> None:
        """Whom to ask about now that an answer is recorded."""

    def _scan_now(self) -> int | None:
        return None

    def _drop_half(self, moment: Moment) -> bool:
        draft = self.draft
        if self.typed:
            self.typed = self.typed[:-1]
            self.question = None
        elif draft is not None and (draft.zone is not None or draft.guess or draft.hidden):
            self.draft = Draft(draft.who, draft.scan)
        elif draft is not None and not draft.who.id:
            self.draft = None
            self._ask_next(moment)
        else:
            return False
        return True

    def _asked(self) -> Who | None:
        if self.draft is not None and self.draft.who.id:
            return self.draft.who
        return self.plan.who[0] if len(self.plan.who) == 1 else None

    def _before_words(self, who: Who) -> str:
        declared = self.plan.declared
        words = [
            (f"{line.fields.get('count')} " if who.group else "") + state_words(declared, line.fields)
            for line in self.last.get(who.id, [])
        ]
        return "; ".join(words)
