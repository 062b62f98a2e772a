"""Scan sampling: at each beat, each animal in turn: zone key, behaviour key."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from ..session.beat import Beat
from ..session.instant import Instant
from ..session.ledger import LedgerEntry
from ..session.plan import Who
from ..words import span_words
from .answering import answer_prompt
from .asking import Code, Prompt
from .half_key import half_of
from .mode import ByAnswers
from .sheet import Act, OpenEvent


@dataclass(slots=True)
class Scanning(ByAnswers):
    """``scan`` is the running scan's number, 0 while settling; ``back_at`` an earlier one answered late."""

    beat: Beat
    scan: int = 0
    back_at: int | None = None
    answers: dict[tuple[int, str], list[LedgerEntry]] = field(default_factory=dict)
    misses: set[tuple[int, str]] = field(default_factory=set)
    # When each scan began (monotonic seconds); pauses move only those to come.
    began: dict[int, float] = field(default_factory=dict)

    def press(self, key: str, instant: Instant) -> None:
        self.answering.press(key, instant)

    def act(self, name: str, instant: Instant) -> None:
        if name == "someone" and self.scan_now() is None:
            self.sheet.tell("No scan is running.", Code.REFUSED)
        else:
            self.answering.act(name, instant)

    # Time. -------------------------------------------------------------------------------------------------

    def tick(self, instant: Instant) -> bool:
        """Begin the scans that are due; whoever was not answered in a scan gone by is recorded as missed."""
        due, began = self.beat.scan_at(instant.mono), False
        while self.scan < due:
            self._end_scan(instant)
            self.scan += 1
            self.began[self.scan] = self.beat.begins(self.scan)
            began = self.scan <= self.beat.scans
        if began and not self._half and self.back_at is None:
            self.sheet.event = None
            self.ask_next(instant)
        return began

    @property
    def _half(self) -> bool:
        """Whether an answer is being typed that has begun to say something."""
        draft = self.sheet.draft
        return draft is not None and (
            draft.zone is not None
            or draft.behaviour is not None
            or bool(self.sheet.typed)
            or half_of(self.sheet) is not None
        )

    def _end_scan(self, instant: Instant) -> None:
        if self.scan < 1:
            return
        sheet = self.sheet
        turn = instant.shifted(min(0.0, self.beat.begins(self.scan + 1) - instant.mono))
        draft = sheet.draft
        if draft is not None and (draft.scan or 0) < self.scan and self.back_at is None:
            # Half an answer has waited a whole scan: what is known of it counts, the rest is given up.
            self.answering.settle(instant)
            sheet.draft = None
        typing = sheet.draft if self._half else None
        # The scan before is looked at again: half an answer may have been waited for and given up.
        for scan in range(max(1, self.scan - 1), self.scan + 1):
            for who in list(self.unanswered(scan)):
                half = typing is not None and typing.who == who and typing.scan == scan
                if not half and (scan, who.id) not in self.misses:
                    self._miss(scan, who, turn)
        if typing is None and self.back_at is None:
            sheet.draft, sheet.typed, sheet.doubt = None, "", None

    def _miss(self, scan: int, who: Who, instant: Instant) -> None:
        self.misses.add((scan, who.id))
        self.sheet.ledger.put("missed", instant, scan=scan, **who.fields)

    def has(self, scan: int, who: Who) -> bool:
        """Whether somebody was answered for in a scan."""
        return any(not line.void for line in self.answers.get((scan, who.id), ()))

    def hold(self, instant: Instant, on: bool) -> None:
        self.beat = self.beat.pause(instant.mono) if on else self.beat.resume(instant.mono)

    def end(self, instant: Instant) -> str:
        """A scan begun and half answered misses the rest; one not touched is left out."""
        self.answering.settle(instant)
        if 1 <= self.scan <= self.beat.scans and any(self.has(self.scan, w) for w in self.sheet.plan.who):
            for who in list(self.unanswered(self.scan)):
                self._miss(self.scan, who, instant)
        return "finished" if self.all_done(instant) else "left"

    def new_part(self, instant: Instant) -> None:
        """Every record says all there is to say."""

    def all_done(self, instant: Instant) -> bool:
        last = self.beat.scans
        return self.scan > last or (self.scan == last and not list(self.unanswered(last)))

    # Whom to ask. ------------------------------------------------------------------------------------------

    def scan_now(self) -> int | None:
        if self.back_at is not None:
            return self.back_at
        return self.scan if 1 <= self.scan <= self.beat.scans else None

    def unanswered(self, scan: int) -> Iterator[Who]:
        return (who for who in self.sheet.plan.who if not self.has(scan, who))

    def ask_next(self, instant: Instant) -> None:
        if self.back_at is not None and not list(self.unanswered(self.back_at)):
            self.back_at = None
        scan = self.scan_now()
        following = None if scan is None else self._following(scan)
        if following is None:
            self.sheet.draft = None
        else:
            self.answering.settle(instant)
            self.answering.ask_anew(following)

    def _following(self, scan: int) -> Who | None:
        """The next one not answered, going on from the one answered last; in the same enclosure first."""
        order = self.sheet.plan.who
        todo = list(self.unanswered(scan))
        last = self.sheet.acts[-1] if self.sheet.acts else None
        if last is None or last.who not in order or last.scan != scan:
            return todo[0] if todo else None
        at = order.index(last.who)
        return next((who for who in todo if order.index(who) > at), todo[0] if todo else None)

    def answered(self, lines: list[LedgerEntry]) -> None:
        for line in lines:
            scan, name = line.fields.get("scan"), line.fields.get("animal") or line.fields.get("group")
            if scan is not None and name:
                self.answers.setdefault((scan, name), []).append(line)

    def idle_key(self, key: str, instant: Instant) -> None:
        """Before and after the scans an animal's key opens an event; a sighting needs a scan."""
        who = self.sheet.who(key, self.here)
        if who is not None and self.scan_now() is None:
            self.sheet.event = OpenEvent(instant, None, who)
        elif who is None and self.scan < 1 and self.sheet.behaviour(key) is None:
            self.sheet.tell(f"Still settling; {self.sheet.key('now')} starts now.", Code.REFUSED)
        else:
            self.answering.idle_key(key, instant)

    def idle_act(self, name: str, instant: Instant) -> None:
        if name == "same_all":
            self._same_all(instant)
        elif name == "next_one":
            self._skip(instant)
        elif name == "earlier":
            self._earlier(instant)
        elif name == "now":
            self._now(instant)
        else:
            self.answering.idle_act(name, instant)

    def _same_all(self, instant: Instant) -> None:
        """As before for all that remain in this scan and have a record to repeat: one act, undone at once."""
        sheet, scan = self.sheet, self.scan_now()
        if scan is None:
            sheet.tell("No scan is running.", Code.REFUSED)
            return
        self.answering.settle(instant)
        lines: list[LedgerEntry] = []
        without = []
        for who in list(self.unanswered(scan)):
            before = sheet.before(who, scan)
            if not before:
                without.append(who.label)
            at = sheet.apart(who, instant)
            lines += [sheet.ledger.put(one.kind, at, **{**one.fields, "scan": scan}) for one in before]
        if lines:
            self.answered(lines)
            sheet.draft, sheet.typed, sheet.doubt = None, "", None
            sheet.done(lines, None, scan)
            self.ask_next(instant)
        if without:
            made = f"{sheet.notice.says}. " if lines else ""
            code = Code.RECORDED if lines else Code.TOLD
            sheet.tell(f"{made}Nothing earlier to repeat for {', '.join(without)}.", code)
        elif not lines:
            sheet.tell("This scan is complete.")

    def _skip(self, instant: Instant) -> None:
        scan, draft = self.scan_now(), self.sheet.draft
        todo = [] if scan is None else list(self.unanswered(scan))
        if draft is None or not todo:
            self.sheet.tell("Nobody else is left in this scan.")
            return
        self.answering.settle(instant)
        later = [who for who in todo if draft.who in todo and todo.index(who) > todo.index(draft.who)]
        self.answering.ask((later or todo)[0], instant)

    def _earlier(self, instant: Instant) -> None:
        """Go back to the nearest earlier scan with somebody unanswered; its answers are late ones."""
        self.answering.settle(instant)
        below = self.back_at if self.back_at is not None else min(self.scan, self.beat.scans + 1)
        for scan in range(below - 1, 0, -1):
            if (who := next(self.unanswered(scan), None)) is not None:
                self.back_at = scan
                self.answering.ask(who, instant)
                return
        self.sheet.tell("No earlier scan has anything missing.")

    def _now(self, instant: Instant) -> None:
        if self.scan < self.beat.first_scan:
            self.beat = self.beat.start_now(instant.mono)
            self.tick(instant)
            return
        self.answering.settle(instant)
        self.back_at = None
        self.ask_next(instant)

    # After changes. ----------------------------------------------------------------------------------------

    def drop_half(self, instant: Instant) -> bool:
        return self.answering.drop_half(instant)

    def after_undo(self, act: Act, instant: Instant) -> None:
        self._miss_reopened(instant)
        if act.scan is None:
            return
        self.back_at = act.scan if act.scan != self.scan else None
        who = act.who or next(self.unanswered(act.scan), None)
        if who is not None and who.id:
            self.sheet.draft = None
            self.answering.ask_anew(who)

    def _miss_reopened(self, instant: Instant) -> None:
        """A past scan whose only answer was taken back is a missed one, until it is answered late."""
        for scan, name in sorted(place for place in self.answers if place[0] < self.scan):
            who = next((one for one in self.sheet.plan.who if one.id == name), None)
            if who is not None and not self.has(scan, who) and (scan, name) not in self.misses:
                self._miss(scan, who, instant)

    def rebuild(self) -> None:
        self.answers, self.misses = {}, set()
        for line in self.sheet.ledger.lines:
            name = line.fields.get("animal") or line.fields.get("group")
            scan = line.fields.get("scan")
            if not name or scan is None:
                continue
            if line.kind in ("seen", "unseen"):
                self.answers.setdefault((scan, name), []).append(line)
            elif line.kind == "missed" and not line.void:
                self.misses.add((scan, name))

    def after_correction(self, new: LedgerEntry | None, instant: Instant) -> None:
        self._miss_reopened(instant)
        draft = self.sheet.draft
        if draft is not None and not draft.begun and not self.sheet.typed and draft.who.id:
            self.ask_next(instant)

    # What is shown. ----------------------------------------------------------------------------------------

    def gaps(self) -> int:
        """How many answers are missing in the scans that are over."""
        last = min(self.scan - 1, self.beat.scans)
        return sum(1 for scan in range(1, last + 1) for _ in self.unanswered(scan))

    def _all_over(self) -> str:
        over = f"All {self.beat.scans} scans are over." if self.beat.scans > 1 else "The scan is over."
        if not (gaps := self.gaps()):
            return over
        late = self.sheet.key("earlier")
        more = (
            f"{gaps} answers are missing; {late} gives them"
            if gaps > 1
            else f"1 answer is missing; {late} gives it"
        )
        return f"{over} {more} late."

    def prompt(self, instant: Instant) -> Prompt:
        draft = self.sheet.draft
        if draft is not None:
            lead = ""
            if draft.scan is not None and draft.scan != self.scan:
                # Asked for late, or begun in time and not gone on with yet.
                lead = f"Scan {draft.scan}{', late' if self.back_at is not None else ''}: "
            return answer_prompt(self.sheet, self.answering, lead)
        choices = self.sheet.choices("who", "event")
        if self.scan < 1 or self.beat.scan_at(instant.mono) < self.beat.first_scan:
            left = span_words(self.beat.left_s(instant.mono) + 0.999)
            now = self.sheet.key("now")
            return Prompt(f"Let them settle: first scan in {left}. {now} starts now.", choices=choices)
        ends = f"{self.sheet.key('finish')} ends it."
        if self.scan > self.beat.scans:
            return Prompt(f"{self._all_over()} {ends}", choices=choices)
        if self.scan == self.beat.scans:
            return Prompt(f"The last scan is complete. {ends}", choices=choices)
        return Prompt(f"Scan {self.scan} is complete.", choices=choices)
