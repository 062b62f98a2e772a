"""Scan sampling: at each beat, each animal in turn: zone key, behaviour key."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from ..session.beat import Beat
from ..session.ledger import Line
from ..session.moment import Moment
from ..session.plan import Who
from ..words import span_words
from .answering import Answering
from .recorder import Act, Event, Prompt
from .stages import answer_prompt


@dataclass(slots=True)
class Scanning(Answering):
    """``scan`` is the running scan's number, 0 while settling; ``back_at`` an earlier one answered late."""

    beat: Beat = field(default_factory=lambda: Beat(0.0, 60.0, 1))
    scan: int = 0
    back_at: int | None = None
    answers: dict[tuple[int, str], list[Line]] = field(default_factory=dict)
    misses: set[tuple[int, str]] = field(default_factory=set)
    # When each scan began (monotonic seconds); pauses move only those to come.
    began: dict[int, float] = field(default_factory=dict)

    # Time. -------------------------------------------------------------------------------------------------

    def tick(self, moment: Moment) -> bool:
        """Begin the scans that are due; whoever was not answered in a scan gone by is recorded as missed."""
        if self.closed or self.paused:
            return False
        due, began = self.beat.scan_at(moment.mono), False
        while self.scan < due:
            self._end_scan(moment)
            self.scan += 1
            self.began[self.scan] = self.beat.begins(self.scan)
            began = self.scan <= self.beat.scans
        half = self.draft is not None and (self.draft.zone is not None or bool(self.typed))
        if began and not half and self.back_at is None:
            self.event_open = None
            self._ask_next(moment)
        return began

    def _end_scan(self, moment: Moment) -> None:
        if self.scan < 1:
            return
        turn = moment.shifted(min(0.0, self.beat.begins(self.scan + 1) - moment.mono))
        draft = self.draft
        if draft is not None and (draft.scan or 0) < self.scan and self.back_at is None:
            # Half an answer has waited a whole scan: what is known of it counts, the rest is given up.
            self._settle(moment)
            self.draft = None
        typing = self.draft if self.draft is not None and (self.draft.zone or self.typed) else None
        # The scan before is looked at again: half an answer may have been waited for and given up.
        for scan in range(max(1, self.scan - 1), self.scan + 1):
            for who in list(self._open(scan)):
                half = typing is not None and typing.who == who and typing.scan == scan
                if not half and (scan, who.id) not in self.misses:
                    self._miss(scan, who, turn)
        if typing is None and self.back_at is None:
            self.draft, self.typed = None, ""

    def _miss(self, scan: int, who: Who, moment: Moment) -> None:
        self.misses.add((scan, who.id))
        self.ledger.put("missed", moment, scan=scan, **who.fields)

    def _has(self, scan: int, who: Who) -> bool:
        return any(not line.void for line in self.answers.get((scan, who.id), ()))

    def pause(self, moment: Moment) -> None:
        self.tick(moment)
        Answering.pause(self, moment)
        if not self.closed:
            self.beat = self.beat.pause(moment.mono) if self.paused else self.beat.resume(moment.mono)

    def finish(self, moment: Moment) -> None:
        """Close. A scan begun and half answered misses the rest; one not touched is left out."""
        if self.closed is None:
            self.tick(moment)
            self._settle(moment)
            if 1 <= self.scan <= self.beat.scans and any(self._has(self.scan, w) for w in self.plan.who):
                for who in self._open(self.scan):
                    self._miss(self.scan, who, moment)
        Answering.finish(self, moment)

    def all_done(self, moment: Moment) -> bool:
        last = self.beat.scans
        return self.scan > last or (self.scan == last and not list(self._open(last)))

    def _idle_key(self, key: str, moment: Moment) -> None:
        """Before and after the scans an animal's key opens an event; a sighting needs a scan."""
        who = self._who(key)
        if who is not None and self._scan_now() is None:
            self.event_open = Event(moment, None, who)
        elif who is None and self.scan < 1 and self._behaviour(key) is None:
            self.notice = "Still settling; > starts now."
        else:
            Answering._idle_key(self, key, moment)

    # Whom to ask. ------------------------------------------------------------------------------------------

    def _scan_now(self) -> int | None:
        if self.back_at is not None:
            return self.back_at
        return self.scan if 1 <= self.scan <= self.beat.scans else None

    def _open(self, scan: int) -> Iterator[Who]:
        return (who for who in self.plan.who if not self._has(scan, who))

    def _ask_next(self, moment: Moment) -> None:
        if self.back_at is not None and not list(self._open(self.back_at)):
            self.back_at = None
        scan = self._scan_now()
        if scan is None:
            self.draft = None
            return
        notice = self.notice
        following = self._following(scan)
        if following is None:
            self.draft = None
        else:
            self._ask(following, moment)
            self.notice = notice

    def _following(self, scan: int) -> Who | None:
        """The next one not answered, going on from the one answered last; in the same enclosure first."""
        todo = list(self._open(scan))
        last = self.acts[-1] if self.acts else None
        if last is None or last.who not in self.plan.who or last.scan != scan:
            return todo[0] if todo else None
        at = self.plan.who.index(last.who)
        return next((who for who in todo if self.plan.who.index(who) > at), todo[0] if todo else None)

    def _answered(self, lines: list[Line], draft: object, moment: Moment) -> None:
        scan = lines[0].fields.get("scan")
        for line in lines:
            if scan is not None and (name := line.fields.get("animal") or line.fields.get("group")):
                self.answers.setdefault((scan, name), []).append(line)
        Answering._answered(self, lines, draft, moment)  # type: ignore[arg-type]

    def _idle_act(self, name: str, moment: Moment) -> None:
        if name == "same_all":
            self._same_all(moment)
        elif name == "next_one":
            self._skip(moment)
        elif name == "earlier":
            self._earlier(moment)
        elif name == "now":
            self._now(moment)
        else:
            Answering._idle_act(self, name, moment)

    def _same_all(self, moment: Moment) -> None:
        """As before for all that remain in this scan and have a record to repeat: one act, undone at once."""
        scan = self._scan_now()
        if scan is None:
            self.notice = "No scan is running."
            return
        self._settle(moment)
        lines: list[Line] = []
        without = []
        for who in list(self._open(scan)):
            before = self.last.get(who.id, [])
            if not before:
                without.append(who.label)
            made = [self.ledger.put(one.kind, moment, **{**one.fields, "scan": scan}) for one in before]
            self.answers.setdefault((scan, who.id), []).extend(made)
            lines += made
        if lines:
            self.draft, self.typed = None, ""
            self._done(lines, None, scan)
            self._ask_next(moment)
        if without:
            self.notice = f"Nothing earlier to repeat for {', '.join(without)}."
        elif not lines:
            self.notice = "This scan is complete."

    def _skip(self, moment: Moment) -> None:
        scan, draft = self._scan_now(), self.draft
        todo = [] if scan is None else list(self._open(scan))
        if draft is None or not todo:
            self.notice = "Nobody else is left in this scan."
            return
        self._settle(moment)
        later = [who for who in todo if draft.who in todo and todo.index(who) > todo.index(draft.who)]
        self._ask((later or todo)[0], moment)

    def _earlier(self, moment: Moment) -> None:
        """Go back to the nearest earlier scan with somebody unanswered; its answers are late ones."""
        self._settle(moment)
        below = self.back_at if self.back_at is not None else min(self.scan, self.beat.scans + 1)
        for scan in range(below - 1, 0, -1):
            if (who := next(self._open(scan), None)) is not None:
                self.back_at = scan
                self._ask(who, moment)
                return
        self.notice = "No earlier scan has anything missing."

    def _now(self, moment: Moment) -> None:
        if self.scan < self.beat.first_scan and self.beat.scan_at(moment.mono) < self.beat.first_scan:
            self.beat = self.beat.start_now(moment.mono)
            self.tick(moment)
            return
        self._settle(moment)
        self.back_at = None
        self._ask_next(moment)

    # After changes. ----------------------------------------------------------------------------------------

    def _after_undo(self, act: Act, moment: Moment) -> None:
        self._miss_reopened(moment)
        if act.scan is None:
            return
        self.back_at = act.scan if act.scan != self.scan else None
        who = act.who or next(self._open(act.scan), None)
        if who is not None and who.id:
            self.draft = None
            self._ask(who, moment)

    def _miss_reopened(self, moment: Moment) -> None:
        """A past scan whose only answer was taken back is a missed one, until it is answered late."""
        for scan, name in {place for place in self.answers if place[0] < self.scan}:
            who = next((one for one in self.plan.who if one.id == name), None)
            if who is not None and not self._has(scan, who) and (scan, name) not in self.misses:
                self._miss(scan, who, moment)

    def rebuild(self) -> None:
        Answering.rebuild(self)
        self.answers, self.misses = {}, set()
        for line in self.ledger.lines:
            name = line.fields.get("animal") or line.fields.get("group")
            scan = line.fields.get("scan")
            if not name or scan is None:
                continue
            if line.kind in ("seen", "unseen"):
                self.answers.setdefault((scan, name), []).append(line)
            elif line.kind == "missed" and not line.void:
                self.misses.add((scan, name))

    def correct(self, line: Line, moment: Moment, changed: object) -> None:
        Answering.correct(self, line, moment, changed)  # type: ignore[arg-type]
        self._miss_reopened(moment)
        if self.draft is not None and self.draft.zone is None and not self.typed and self.draft.who.id:
            self._ask_next(moment)

    # What is shown. ----------------------------------------------------------------------------------------

    def prompt(self, moment: Moment) -> Prompt:
        if self.event_open is not None:
            return self._event_prompt(self.event_open)
        if self.draft is not None:
            late = self.draft.scan is not None and self.draft.scan != self.scan and self.back_at is not None
            return answer_prompt(self, f"Scan {self.draft.scan}, late: " if late else "")
        choices = self._choices("who", "event")
        if self.scan < 1 or self.beat.scan_at(moment.mono) < self.beat.first_scan:
            left = span_words(self.beat.left_s(moment.mono) + 0.999)
            return Prompt(f"Let them settle: first scan in {left}. > starts now.", choices=choices)
        if self.scan > self.beat.scans:
            gaps = sum(1 for s in range(1, self.beat.scans + 1) for _ in self._open(s))
            more = f" {gaps} answers missing; < answers them late." if gaps else ""
            return Prompt(f"All {self.beat.scans} scans are over.{more} . finishes.", choices=choices)
        if self.scan == self.beat.scans:
            return Prompt("The last scan is complete. . finishes.", choices=choices)
        return Prompt(f"Scan {self.scan} is complete.", choices=choices)
