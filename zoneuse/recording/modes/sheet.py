"""What every way of watching writes on: its records, who was last seen where, and what is half typed.

No screen, and no clock of its own: moments come with the keys.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ...study.model import Behaviour, Zone
from ..session.actions import BY_NAME
from ..session.instant import Instant
from ..session.ledger import Ledger, LedgerEntry
from ..session.plan import Plan, Who
from ..words import line_words
from .asking import Code, LiveKey, Notice
from .draft import HalfRecord

# What a person records; the rest (missed, paused …) the program adds.
COUNTED = ("seen", "unseen", "happened", "checked", "context", "noted", "adjusted")
_PLACED = ("seen", "unseen")
# Nobody reads and answers a question in less.
READ_S = 0.7
# The journal writes milliseconds.
_TELLS_APART_S = 0.001


@dataclass(slots=True)
class Act:
    """What one key or entry recorded: undone together.

    ``instead`` are the records it took back, each with its take-back: they count again when it is undone.
    """

    lines: list[LedgerEntry]
    who: Who | None = None
    scan: int | None = None
    instead: Sequence[tuple[LedgerEntry, LedgerEntry | None]] = ()


@dataclass(slots=True)
class OpenEvent:
    """A momentary event under the fingers, opened with its sign or with its own key.

    ``asked`` is whom it is about unless another is named.
    """

    instant: Instant
    behaviour: Behaviour | None = None
    who: Who | None = None
    asked: Who | None = None


@dataclass(frozen=True, slots=True)
class HalfKey:
    """The first character of a key of two, typed at ``instant``, when ``draft`` and ``event`` were under the fingers.

    For nothing else does it count.
    """

    typed: str
    instant: Instant
    draft: HalfRecord | None
    event: OpenEvent | None


@dataclass(slots=True)
class Sheet:
    """``draft`` is the record being typed, ``typed`` a count, ``doubt`` what Enter must confirm first."""

    plan: Plan
    ledger: Ledger
    notice: Notice = field(default_factory=Notice)
    acts: list[Act] = field(default_factory=list)
    draft: HalfRecord | None = None
    typed: str = ""
    doubt: str | None = None
    # When a doubt was put on the screen (monotonic): an Enter before it can have been read does not answer it.
    doubted_at: float = -1e9
    event: OpenEvent | None = None
    # The first character of a key of two.
    half: HalfKey | None = None
    # Whether a line is typed, with a word or a sign for what has a key on the screen.
    by_lines: bool = False
    # What was answered of each animal or group, in order; a group's counts of one entry stand together.
    history: dict[str, list[list[LedgerEntry]]] = field(default_factory=dict)

    # What is said. -----------------------------------------------------------------------------------------

    def key(self, name: str) -> str:
        """What to press for an action, as a person reads it: a key without Shift, or what a line says."""
        action = BY_NAME[name]
        return action.line if self.by_lines else action.hand

    def tell(self, says: str, code: Code = Code.TOLD) -> None:
        self.notice = Notice(says, code)

    def hush(self) -> None:
        self.notice = Notice()

    def ask(self, doubt: str, instant: Instant) -> None:
        """Put a doubt that Enter has to answer."""
        self.doubt, self.doubted_at = doubt, instant.mono
        self.tell("Enter again records it anyway; Backspace changes it.")

    def too_soon(self, instant: Instant) -> bool:
        """Whether an Enter came before the doubt can have been read; it is said so."""
        soon = self.doubt is not None and instant.mono - self.doubted_at < READ_S
        if soon:
            self.tell("Read it first, then press Enter.", Code.REFUSED)
        return soon

    # What is recorded. -------------------------------------------------------------------------------------

    def record(self, kind: str, instant: Instant, **fields: Any) -> LedgerEntry:
        line = self.ledger.put(kind, instant, **fields)
        self.done([line])
        return line

    def done(
        self,
        lines: list[LedgerEntry],
        who: Who | None = None,
        scan: int | None = None,
        instead: Sequence[tuple[LedgerEntry, LedgerEntry | None]] = (),
    ) -> None:
        """Remember an act and say what was recorded."""
        self.acts.append(Act(lines, who, scan, instead))
        self._remember(lines)
        last = line_words(self.plan.declared, lines[-1])
        said = last if len(lines) == 1 else f"{len(lines)} records, the last: {last}"
        self.tell(said, Code.RECORDED)

    def _remember(self, lines: Sequence[LedgerEntry]) -> None:
        """One act's answers, by whom they are about."""
        about: dict[str, list[LedgerEntry]] = {}
        for line in lines:
            name = line.fields.get("group") or line.fields.get("animal")
            if line.kind in _PLACED and name:
                about.setdefault(name, []).append(line)
        for name, mine in about.items():
            self.history.setdefault(name, []).append(mine)

    def rebuild(self) -> None:
        """Find anew who was seen where, from the records that stand: those of one entry share their moment."""
        self.history = {}
        entries: dict[object, list[LedgerEntry]] = {}
        for line in self.ledger.lines:
            if not line.void:
                whom = line.fields.get("group") or line.serial
                entries.setdefault((whom, *_order(line)), []).append(line)
        for lines in entries.values():
            self._remember(lines)

    # What is known. ----------------------------------------------------------------------------------------

    def before(self, who: Who, scan: int | None = None) -> list[LedgerEntry]:
        """The newest answer about somebody: of the scans before ``scan`` where one is given, else of all.

        A late answer belongs to its scan: it comes before what later scans say, whenever it was given. A group's
        counts of one entry share their moment and stand together.
        """
        newest: list[LedgerEntry] = []
        for entry in self.history.get(who.id, ()):
            in_force = [line for line in entry if not line.void]
            before = bool(in_force) and (scan is None or (in_force[0].fields.get("scan") or 0) < scan)
            # Of two with one time the later said counts: keys of one bundle have one time.
            if before and (not newest or _order(in_force[0]) >= _order(newest[0])):
                newest = in_force
        return newest

    def apart(self, who: Who, instant: Instant) -> Instant:
        """When an answer is to be written: of a group, a millisecond after its last one where both have one time.

        A group's counts are told from its other answers by their time alone, and keys of one bundle share theirs: a
        second answer would be added to the first, and the group be twice as large as it is.
        """
        last = (
            [line.instant.mono for entry in self.history.get(who.id, ()) for line in entry]
            if who.group
            else []
        )
        while any(abs(instant.mono - mono) < _TELLS_APART_S for mono in last):
            instant = instant.shifted(_TELLS_APART_S)
        return instant

    def newest(self) -> list[tuple[Who, LedgerEntry]]:
        return [(who, line) for who in self.plan.who for line in self.before(who)]

    def who(self, key: str, enclosure: str) -> Who | None:
        """Whose key this is; one in the enclosure being looked at comes first."""
        bearers = [who for who in self.plan.who if who.key == key]
        return next((who for who in bearers if who.enclosure == enclosure), bearers[0] if bearers else None)

    def behaviour(self, key: str) -> Behaviour | None:
        return next((one for one in self.plan.behaviours if one.key == key), None)

    def zone(self, key: str, enclosure: str) -> Zone | None:
        return self.plan.zone_by_key(enclosure).get(key)

    @property
    def lasting(self) -> list[Behaviour]:
        return [one for one in self.plan.behaviours if one.lasts]

    @property
    def alone(self) -> Who | None:
        """The only one there is, who is meant wherever nobody is named."""
        return self.plan.who[0] if len(self.plan.who) == 1 else None

    def choices(self, *kinds: str, enclosure: str = "") -> tuple[LiveKey, ...]:
        """The keys that answer, kind by kind."""
        found: list[LiveKey] = []
        for kind in kinds:
            if kind == "zone":
                found += [LiveKey(z.key, z.label, kind) for z in self.plan.zones(enclosure)]
            elif kind in ("behaviour", "event"):
                lasts = kind == "behaviour"
                found += [LiveKey(b.key, b.label, kind) for b in self.plan.behaviours if b.lasts == lasts]
            elif kind == "who" and len(self.plan.who) > 1:
                found += [LiveKey(w.key, w.label, kind) for w in self.plan.who]
        return tuple(found)


def _order(line: LedgerEntry) -> tuple[int, float]:
    return line.fields.get("scan") or 0, line.instant.mono


def drop_half(sheet: Sheet) -> None:
    """Forget what is half typed."""
    sheet.half = None
    sheet.draft, sheet.typed, sheet.doubt, sheet.event = None, "", None, None


def place_marks(fields: Mapping[str, Any]) -> str:
    """The signs behind a key on the map: ``?`` a guess, ``~`` hidden."""
    return ("?" if fields.get("sure") is False else "") + ("~" if fields.get("hidden") else "")
