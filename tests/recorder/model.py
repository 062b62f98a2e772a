"""What should be on record after any keys, written from docs/recorder.md alone: the storms hold the journal against it.

Tokens are the keeper's keys, the names of the program's actions, and ``("wait", seconds)``. No record is ever changed:
``standing`` are those that count.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from zoneuse.recording.modes.counts import CountsError, parse_counts

Token = str | tuple[str, float]
ANIMALS = {"1": "a1", "2": "a2", "3": "a3"}
GROUP, SIZE = {"Y": "young"}, 6
ZONES = {
    "c": "moss_end", "w": "water_dish", "b": "bark", "l": "leaf_litter", "d": "drain_tube", "o": "open_ground",
    "f": "fern",
}  # fmt: skip
STATES = {"r": "resting", "m": "moving", "s": "soaking"}
EVENTS = {"x": "strike"}
RETREATS = ("c", "b", "l", "d")


@dataclass(frozen=True)
class Keys:
    """The keeper's keys, each with the id it stands for."""

    animals: dict[str, str]
    group: dict[str, str]
    zones: dict[str, str]
    states: dict[str, str]
    events: dict[str, str]
    asleep: dict[str, str]
    retreats: tuple[str, ...]


ONE = Keys(ANIMALS, GROUP, ZONES, STATES, EVENTS, {"a": "asleep", "e": "alert", **STATES}, RETREATS)
# The same with some keys of two characters, and one of another alphabet.
LONG = {"c": "h1", "w": "h2", "1": "A1", "r": "rs", "d": "ж"}


def _long(of: dict[str, str]) -> dict[str, str]:
    return {LONG.get(key, key): name for key, name in of.items()}


TWO = Keys(
    _long(ANIMALS),
    GROUP,
    _long(ZONES),
    _long(STATES),
    EVENTS,
    _long(ONE.asleep),
    tuple(LONG.get(k, k) for k in RETREATS),
)
# No whole number of keys takes as long as anything that is waited for.
KEY_S, READ_S, NAMED_S = 0.0937, 0.7, 5.0


@dataclass
class Rec:
    kind: str
    fields: dict[str, Any]
    void: bool = False


@dataclass
class Half:
    """An answer being typed."""

    who: str
    scan: int | None
    zone: str = ""
    doing: str = ""
    guess: bool = False
    hidden: bool = False

    @property
    def begun(self) -> bool:
        return bool(self.zone or self.doing or self.guess or self.hidden)


@dataclass
class Act:
    recs: list[Rec]
    who: str = ""
    scan: int | None = None
    instead: list[Rec] = field(default_factory=list)


@dataclass
class Happening:
    what: str = ""
    who: str = ""
    asked: str = ""


@dataclass
class Base:
    """What all ways of watching share: events, undo, pause, the end."""

    now: float = 0.0
    recs: list[Rec] = field(default_factory=list)
    acts: list[Act] = field(default_factory=list)
    event: Happening | None = None
    paused: bool = False
    closed: bool = False
    # A key that means nothing ends a line.
    unknown: bool = False
    everyone: tuple[str, ...] = ("1", "2", "3", "Y")
    keys: Keys = ONE
    # The first character of a key of two, and what was asked when it was typed.
    begun_key: str = ""
    begun_for: tuple[int, int] = (0, 0)

    def who_fields(self, who: str) -> dict[str, Any]:
        if who in self.keys.animals:
            return {"animal": self.keys.animals[who]}
        return {"group": self.keys.group[who]} if who in self.keys.group else {"count": 1}

    def feed(self, token: Token) -> None:
        if isinstance(token, tuple):
            self.wait(token[1])
            return
        self.now += KEY_S
        if self.closed:
            return
        if token == "undo":
            self.undo()
        elif token == "pause":
            self.tick()
            self.put("resumed" if self.paused else "paused")
            self.paused = not self.paused
            self.hold(self.paused)
        elif self.paused:
            return
        elif len(token) == 1:
            self.character(token)
        elif token == "event":
            self.event = Happening(asked=self.asked())
        else:
            self.event, self.begun_key = None, ""
            self.act(token)

    def character(self, typed: str) -> None:
        """One character: a key, the first of a key of two, or its second as long as the same is asked."""
        waits = self.half_key_waits()
        if waits or self.event is not None or not self.in_count(typed):
            whole = self.begun_key + typed if waits else typed
            self.begun_key = ""
            live = [*self.keys.zones, *self.everyone, *self.keys.asleep, *self.keys.events]
            if self.goes_on(whole, live):
                return
            if waits and whole not in live:
                if not self.goes_on(typed, live):
                    self.unknown = True
                return
            typed = whole
        if self.event is not None:
            self.event_key(typed)
        else:
            self.press(typed)

    def goes_on(self, typed: str, live: list[str]) -> bool:
        """Whether longer keys begin so: then it waits for what follows."""
        if not any(len(key) > len(typed) and key.startswith(typed) for key in live):
            return False
        self.begun_key, self.begun_for = typed, (id(self.half_answer()), id(self.event))
        return True

    def half_key_waits(self) -> bool:
        return bool(self.begun_key) and self.begun_for == (id(self.half_answer()), id(self.event))

    def half_answer(self) -> object:
        """The answer that is being typed."""
        return None

    def in_count(self, typed: str) -> bool:
        return False

    def wait(self, seconds: float) -> None:
        end = self.now + seconds
        while self.now < end - 1e-9:
            self.now += min(1.0, end - self.now)
            if not self.paused and not self.closed:
                self.tick()

    def put(self, kind: str, **fields: Any) -> Rec:
        self.recs.append(Rec(kind, {k: v for k, v in fields.items() if v is not None and v != ""}))
        return self.recs[-1]

    def event_key(self, key: str) -> None:
        assert self.event is not None
        if key in self.keys.events and not self.event.what:
            self.event.what = self.keys.events[key]
        elif key in self.everyone:
            self.event.who = key
        else:
            self.unknown = key not in self.keys.states
            return
        self.take_event(self.event)

    def take_event(self, event: Happening) -> None:
        who = event.who or event.asked
        self.event = event
        if event.what and who:
            self.event = None
            rec = self.put(
                "happened", **self.who_fields(who), behaviour=event.what, zone=self.typed_zone(who)
            )
            self.acts.append(Act([rec]))

    def undo(self) -> None:
        waits, self.begun_key = self.half_key_waits(), "" if self.half_key_waits() else self.begun_key
        if waits:
            return
        self.begun_key = ""
        if self.event is not None:
            self.event = None
        elif not self.drop_half():
            while self.acts and all(rec.void for rec in self.acts[-1].recs):
                self.acts.pop()
            if self.acts:
                act = self.acts.pop()
                for rec in act.recs:
                    rec.void = True
                for rec in act.instead:
                    rec.void = False
                self.taken_back(act)

    def finish(self) -> None:
        self.tick()
        self.event = None
        self.end()
        self.closed = True

    @property
    def standing(self) -> Counter[str]:
        return Counter(f"{r.kind} {sorted(r.fields.items())}" for r in self.recs if not r.void)

    @property
    def in_doubt(self) -> bool:
        return getattr(self, "doubt", None) is not None

    # For the ways of watching.
    def begin_line(self) -> None: ...
    def take_line(self) -> None: ...
    def tick(self) -> None: ...
    def hold(self, on: bool) -> None: ...
    def press(self, key: str) -> None: ...
    def act(self, name: str) -> None: ...
    def end(self) -> None: ...
    def taken_back(self, act: Act) -> None: ...
    def drop_half(self) -> bool:
        return False

    def asked(self) -> str:
        return ""

    def typed_zone(self, who: str) -> str:
        return ""


@dataclass
class Answers(Base):
    """One answer after the other; scans and seeing in passing."""

    half: Half | None = None
    typed: str = ""
    doubt: float | None = None

    def half_answer(self) -> object:
        return self.half

    def in_count(self, typed: str) -> bool:
        return self.half is not None and self.half.who in self.keys.group and bool(self.typed)

    def asked(self) -> str:
        return self.half.who if self.half is not None and self.half.who != "*" else ""

    def typed_zone(self, who: str) -> str:
        return self.half.zone if self.half is not None and self.half.who == who else ""

    def begin_line(self) -> None:
        self.typed, self.doubt = "", None

    def take_line(self) -> None:
        if self.typed and self.doubt is None and self.half is not None:
            self.act("accept")
        self.settle()

    def scan_now(self) -> int | None:
        return None

    def ask(self, who: str) -> None:
        self.settle()
        self.half, self.typed, self.doubt = Half(who, self.scan_now()), "", None

    def settle(self) -> None:
        if self.half is not None and self.half.zone:
            self.complete()

    def complete(self) -> None:
        half = self.half
        assert half is not None
        rec = self.put(
            "seen", **self.who_fields(half.who), zone=half.zone, behaviour=half.doing, scan=half.scan,
            sure=False if half.guess else None, hidden=True if half.hidden else None,
        )  # fmt: skip
        self.answered([rec])

    def answered(self, recs: list[Rec]) -> None:
        half = self.half
        assert half is not None
        self.half, self.typed, self.doubt = None, "", None
        self.acts.append(Act(recs, half.who, half.scan))
        self.ask_next()

    def ask_next(self) -> None: ...

    def before(self, who: str, scan: int | None) -> list[Rec]:
        """Of the scans before this one the nearest that says something of them; in it the last answer."""
        found: list[Rec] = []
        name = self.keys.animals.get(who) or self.keys.group.get(who) or "nobody known"
        best = -1
        for act in self.acts:
            mine = [
                r for r in act.recs
                if not r.void and r.kind in ("seen", "unseen")
                and name in (r.fields.get("animal"), r.fields.get("group"))
            ]  # fmt: skip
            if mine:
                at = mine[0].fields.get("scan", 0)
                if (scan is None or at < scan) and at >= best:
                    best, found = at, mine
        return found

    def press(self, key: str) -> None:
        half = self.half
        counting = half is not None and half.who in self.keys.group
        self.unknown = not counting and key not in (
            *self.keys.events,
            *self.everyone,
            *self.keys.zones,
            *self.keys.states,
        )
        if half is None:
            self.idle_key(key)
        elif half.who in self.keys.group:
            if not self.typed and key in self.everyone and key != half.who:
                self.ask(key)
            elif self.typed or key != half.who:
                self.typed += key
                self.doubt = None
        elif not half.zone:
            if key in self.keys.zones:
                half.zone = self.keys.zones[key]
                if half.doing:
                    self.complete()
            elif key in self.everyone:
                self.ask(key)
            elif key in self.keys.states:
                half.doing = self.keys.states[key]
            elif key in self.keys.events:
                self.take_event(Happening(self.keys.events[key], asked=self.asked()))
        elif key in self.keys.states:
            half.doing = self.keys.states[key]
            self.complete()
        elif key in self.keys.events:
            self.take_event(Happening(self.keys.events[key], asked=self.asked()))
        elif key in self.everyone:
            self.ask(key)
        elif key in self.keys.zones:
            half.zone = self.keys.zones[key]

    def idle_key(self, key: str) -> None:
        if key in self.everyone:
            self.ask(key)
        elif key in self.keys.events:
            self.take_event(Happening(self.keys.events[key], asked=self.asked()))

    def act(self, name: str) -> None:
        half = self.half
        if name == "someone" and not self.typed:
            self.ask("*")
        elif half is None:
            self.idle_act(name)
        elif name == "guess":
            half.guess = not half.guess
        elif name == "hidden":
            half.hidden = not half.hidden
        elif half.who in self.keys.group and (name in ("unseen", "accept") or self.typed):
            self.counting(half, name)
        elif name == "unseen":
            if half.who != "*":
                self.answered([self.put("unseen", **self.who_fields(half.who), scan=half.scan)])
        elif name == "same":
            self.same(half)
        elif name == "accept" and half.zone:
            self.complete()
        else:
            self.idle_act(name)

    def idle_act(self, name: str) -> None: ...

    def same(self, half: Half) -> None:
        before = self.before(half.who, half.scan)
        if half.zone:
            half.doing = before[0].fields.get("behaviour", "") if before else ""
            self.complete()
        elif before:
            self.answered([self.put(r.kind, **{**r.fields, "scan": half.scan}) for r in before])

    def counting(self, half: Half, name: str) -> None:
        if name in ("unseen", "same"):
            self.typed += "-" if name == "unseen" else " "
            self.doubt = None
        elif name == "accept":
            try:
                parts = parse_counts(self.typed, self.keys.zones, self.keys.states)
            except CountsError:
                return
            if sum(p.count for p in parts) != SIZE:
                if self.doubt is None:
                    self.doubt = self.now
                    return
                if self.now - self.doubt < READ_S:
                    return
            recs = []
            for p in parts:
                about = {**self.who_fields(half.who), "count": p.count, "scan": half.scan}
                if p.zone is None:
                    recs.append(self.put("unseen", **about))
                else:
                    recs.append(self.put(
                        "seen", **about, zone=self.keys.zones[p.zone],
                        behaviour=self.keys.states.get(p.behaviour or ""),
                        sure=False if half.guess else None, hidden=True if half.hidden else None,
                    ))  # fmt: skip
            self.answered(recs)

    def drop_half(self) -> bool:
        half = self.half
        if self.typed:
            self.typed, self.doubt = self.typed[:-1], None
        elif half is not None and half.begun:
            self.half = Half(half.who, half.scan)
        elif half is not None and half.who == "*":
            self.half = None
            self.ask_next()
        else:
            return False
        return True


@dataclass
class Passing(Answers):
    def drop_half(self) -> bool:
        if Answers.drop_half(self):
            return True
        dropped = self.half is not None
        self.half = None
        return dropped

    def end(self) -> None:
        self.settle()


@dataclass
class Scans(Answers):
    """Scan k begins at ``quiet + (k - 1) * every``; pauses push what is to come back."""

    every: float = 60.0
    number: int = 3
    first: float = 0.0
    scan: int = 0
    back: int | None = None
    held: float | None = None
    misses: set[tuple[int, str]] = field(default_factory=set)

    def due(self) -> int:
        if self.now < self.first:
            return 0
        return min(1 + int((self.now - self.first) // self.every), self.number + 1)

    def has(self, scan: int, who: str) -> bool:
        name = self.keys.animals.get(who) or self.keys.group.get(who)
        return any(
            not r.void and r.kind in ("seen", "unseen") and r.fields.get("scan") == scan
            and name in (r.fields.get("animal"), r.fields.get("group"))
            for r in self.recs
        )  # fmt: skip

    def open(self, scan: int) -> list[str]:
        return [who for who in self.everyone if not self.has(scan, who)]

    def is_half(self) -> bool:
        said = self.half is not None and bool(self.half.zone or self.half.doing or self.typed)
        return said or (self.half is not None and self.half_key_waits())

    def tick(self) -> None:
        began = False
        while not self.paused and self.scan < self.due():
            self.over()
            self.scan += 1
            began = self.scan <= self.number
        if began and not self.is_half() and self.back is None:
            self.event = None
            self.ask_next()

    def over(self) -> None:
        if self.scan < 1:
            return
        if self.half is not None and (self.half.scan or 0) < self.scan and self.back is None:
            self.settle()
            self.half = None
        waits = (self.half.scan, self.half.who) if self.is_half() and self.half is not None else None
        for scan in (self.scan - 1, self.scan):
            for who in self.open(scan) if scan > 0 else []:
                if (scan, who) != waits:
                    self.miss(scan, who)
        if waits is None and self.back is None:
            self.half, self.typed, self.doubt = None, "", None

    def miss(self, scan: int, who: str) -> None:
        if (scan, who) not in self.misses:
            self.misses.add((scan, who))
            self.put("missed", **self.who_fields(who), scan=scan)

    def hold(self, on: bool) -> None:
        if on:
            self.held = self.now
        elif self.held is not None:
            self.first += self.now - self.held

    def scan_now(self) -> int | None:
        return self.back or (self.scan if 1 <= self.scan <= self.number else None)

    def ask_next(self) -> None:
        if self.back is not None and not self.open(self.back):
            self.back = None
        scan = self.scan_now()
        todo = self.open(scan) if scan is not None else []
        if not todo:
            self.half = None
            return
        last = self.acts[-1] if self.acts else None
        after: list[str] = []
        if last is not None and last.who in self.everyone and last.scan == scan:
            after = [w for w in todo if self.everyone.index(w) > self.everyone.index(last.who)]
        self.ask((after or todo)[0])

    def idle_key(self, key: str) -> None:
        if key in self.everyone and self.scan_now() is None:
            self.event = Happening(who=key)
        elif self.scan >= 1 or key in self.keys.events:
            Answers.idle_key(self, key)
        else:
            self.unknown = False  # while they settle any key is told the same

    def act(self, name: str) -> None:
        # Nobody is seen in a scan that does not run.
        if name != "someone" or self.scan_now() is not None:
            Answers.act(self, name)

    def idle_act(self, name: str) -> None:
        if name == "same_all":
            self.same_all()
        elif name == "next_one":
            scan, half = self.scan_now(), self.half
            todo = self.open(scan) if scan is not None else []
            if half is not None and todo:
                self.settle()
                later = [w for w in todo if half.who in todo and todo.index(w) > todo.index(half.who)]
                self.ask((later or todo)[0])
        elif name == "earlier":
            self.settle()
            below = self.back if self.back is not None else min(self.scan, self.number + 1)
            for scan in range(below - 1, 0, -1):
                if self.open(scan):
                    self.back = scan
                    self.ask(self.open(scan)[0])
                    return
        elif name == "now":
            if self.scan < 1:
                if self.now < self.first:
                    self.first = self.now
                self.tick()
                return
            self.settle()
            self.back = None
            self.ask_next()

    def same_all(self) -> None:
        scan = self.scan_now()
        if scan is None:
            return
        self.settle()
        recs = [
            self.put(r.kind, **{**r.fields, "scan": scan})
            for who in self.open(scan) for r in self.before(who, scan)
        ]  # fmt: skip
        if recs:
            self.half, self.typed, self.doubt = None, "", None
            self.acts.append(Act(recs, "", scan))
            self.ask_next()

    def taken_back(self, act: Act) -> None:
        for scan in range(1, self.scan):
            for who in self.open(scan):
                name = self.keys.animals.get(who) or self.keys.group.get(who)
                if any(
                    r.fields.get("scan") == scan and name in (r.fields.get("animal"), r.fields.get("group"))
                    for r in self.recs if r.kind in ("seen", "unseen")
                ):  # fmt: skip
                    self.miss(scan, who)
        if act.scan is None:
            return
        self.back = act.scan if act.scan != self.scan else None
        who = act.who or (self.open(act.scan)[0] if self.open(act.scan) else "")
        if who and who != "*":
            self.half, self.typed, self.doubt = Half(who, self.scan_now()), "", None

    def end(self) -> None:
        self.settle()
        if 1 <= self.scan <= self.number and any(self.has(self.scan, w) for w in self.everyone):
            for who in self.open(self.scan):
                self.miss(self.scan, who)


@dataclass
class Focal(Base):
    """One to four animals followed."""

    quiet: float = 0.0
    named: str = ""
    named_at: float = 0.0
    fresh: bool = False
    guess: bool = False
    want: str = ""

    def tick(self) -> None:
        if self.named and self.now - self.named_at > NAMED_S:
            self.forget()

    def begin_line(self) -> None:
        self.forget()

    def forget(self) -> None:
        self.named, self.want, self.guess = "", "", False

    def meant(self) -> str:
        self.tick()
        return self.everyone[0] if len(self.everyone) == 1 else self.named

    def asked(self) -> str:
        return self.everyone[0] if len(self.everyone) == 1 else self.named

    def state(self, who: str) -> Rec | None:
        mine = [
            r for r in self.recs
            if not r.void and r.kind in ("seen", "unseen") and r.fields.get("animal") == self.keys.animals[who]
        ]  # fmt: skip
        return mine[-1] if mine else None

    def press(self, key: str) -> None:
        who = self.meant()
        self.unknown = key not in (*self.keys.events, *self.everyone, *self.keys.zones, *self.keys.states)
        if key in self.keys.events:
            self.take_event(Happening(self.keys.events[key], asked=who))
        elif key in self.everyone:
            if len(self.everyone) > 1:
                self.forget()
                self.named, self.named_at, self.fresh = key, self.now, True
        elif who and key in self.keys.zones:
            now = self.state(who)
            held = now.fields if now is not None and now.kind == "seen" else {}
            hidden = held.get("hidden") if held.get("zone") == self.keys.zones[key] else None
            self.change(who, self.keys.zones[key], self.want or held.get("behaviour", ""), hidden)
        elif who and key in self.keys.states:
            now = self.state(who)
            if now is None or now.kind != "seen":
                self.want, self.named_at = self.keys.states[key], self.now
            else:
                self.change(who, now.fields["zone"], self.keys.states[key], now.fields.get("hidden"))

    def change(self, who: str, zone: str, doing: str, hidden: bool | None) -> None:
        self.want = ""
        self.named_at, self.fresh = self.now, False
        fields = {
            **self.who_fields(who), "zone": zone, "behaviour": doing or None, "hidden": hidden or None,
            "sure": False if self.guess else None,
        }  # fmt: skip
        now = self.state(who)
        new = {k: v for k, v in fields.items() if v is not None}
        if now is not None and now.kind == "seen" and now.fields == new:
            return
        self.guess = False
        self.acts.append(Act([self.put("seen", **fields)], who))

    def act(self, name: str) -> None:
        who = self.meant()
        if not who or name not in ("guess", "hidden", "unseen", "same"):
            return
        self.named_at = self.now
        now = self.state(who)
        if name == "guess":
            self.guess = not self.guess
        elif name == "unseen":
            if now is None or now.kind != "unseen":
                self.want, self.fresh = "", False
                self.acts.append(Act([self.put("unseen", **self.who_fields(who))], who))
        elif name == "hidden" and now is not None and now.kind == "seen":
            self.change(
                who, now.fields["zone"], now.fields.get("behaviour", ""), not now.fields.get("hidden")
            )

    def drop_half(self) -> bool:
        self.tick()
        typed = bool(self.want) or self.guess
        only = bool(self.named) and self.fresh
        self.want, self.guess = "", False
        if only and not typed:
            self.named = ""
        return typed or only


@dataclass
class Round(Base):
    """Retreat by retreat: who is in it, then the next. Animals and the group; none without a name."""

    place: str = "c"
    who: str = ""
    count: str = ""
    guess: bool = False
    hidden: bool = False
    half_guess: bool = False
    half_hidden: bool = False
    doing: str = ""
    lifted: bool = False
    doubt: float | None = None
    last_at: float = -1e9

    def begin_line(self) -> None:
        self.who, self.count, self.doubt, self.doing = "", "", None, ""

    def take_line(self) -> None:
        if self.who and self.doubt is None:
            self.complete(sure=True)

    def in_count(self, typed: str) -> bool:
        return self.who in self.keys.group and typed.isdigit()

    def asked(self) -> str:
        return self.who

    def typed_zone(self, who: str) -> str:
        return self.keys.zones[self.place] if self.who == who else ""

    def of(self, kind: str, name: str = "") -> list[Rec]:
        return [
            r for r in self.recs
            if r.kind == kind and not r.void
            and (not name or name in (r.fields.get("animal"), r.fields.get("group")))
        ]  # fmt: skip

    def checked(self) -> dict[str, Rec]:
        return {r.fields["zone"]: r for r in self.of("checked")}

    def todo(self) -> list[str]:
        return [key for key in self.keys.retreats if self.keys.zones[key] not in self.checked()]

    def go(self, place: str) -> None:
        self.place, self.who, self.count, self.doubt, self.doing = place, "", "", None, ""
        self.guess = self.hidden = False
        done = self.checked().get(self.keys.zones.get(place, ""))
        if done is not None and not done.fields.get("skipped"):
            self.lifted = bool(done.fields.get("lifted"))

    def press(self, key: str) -> None:
        self.unknown = key not in (*self.keys.events, *self.everyone, *self.keys.zones, *self.keys.asleep)
        if not self.who:
            self.name(key)
        elif self.who in self.keys.group and key.isdigit():
            self.count, self.doubt, self.unknown = (self.count + key)[:3], None, False
        elif key in self.keys.asleep:
            self.doing = self.keys.asleep[key]
            if self.doubt is None:
                self.complete()
        elif key in self.keys.events:
            self.take_event(Happening(self.keys.events[key], asked=self.who))
        elif key == self.who and not self.count:
            return
        elif (key in self.everyone or key in self.keys.zones) and self.settle():
            self.name(key)

    def name(self, key: str) -> None:
        if key in self.everyone:
            if self.place:
                self.who, self.count, self.doing, self.doubt = key, "", "", None
                self.half_guess, self.half_hidden = self.guess, self.hidden
                self.guess = self.hidden = False
                if key in self.keys.animals and self.of("seen", self.keys.animals[key]):
                    self.doubt = self.now
        elif key in self.keys.zones:
            self.go(key)
        elif key in self.keys.events:
            self.take_event(Happening(self.keys.events[key]))

    def complete(self, sure: bool = False) -> None:
        group = self.who in self.keys.group
        count = int(self.count or 1) if group else None
        if count == 0:
            return
        if count is not None and self.doubt is None:
            there = sum(r.fields["count"] for r in self.of("seen", self.keys.group[self.who]))
            if there + count > SIZE:
                self.doubt = self.now
                return
        if self.doubt is not None and (not sure or self.now - self.doubt < READ_S):
            return
        zone = self.keys.zones[self.place]
        old = [] if group else self.of("seen", self.keys.animals[self.who])
        skipped = self.checked().get(zone)
        if skipped is not None and skipped.fields.get("skipped"):
            old.append(skipped)
        rec = self.put(
            "seen", **self.who_fields(self.who), zone=zone, behaviour=self.doing, count=count,
            sure=False if self.half_guess else None, hidden=True if self.half_hidden else None,
        )  # fmt: skip
        who = self.who
        self.who, self.count, self.doubt, self.doing = "", "", None, ""
        self.done([rec], who, old)

    def done(self, recs: list[Rec], who: str, old: list[Rec]) -> None:
        for rec in old:
            rec.void = True
        self.acts.append(Act(recs, who, None, [*old, *self.no_longer_missing()]))
        self.last_at = self.now

    def no_longer_missing(self) -> list[Rec]:
        gone = []
        for rec in self.of("unseen"):
            name = rec.fields.get("animal") or rec.fields["group"]
            if not self.whole() or self.short(name) != rec.fields.get("count", 1):
                rec.void = True
                gone.append(rec)
        return gone

    def whole(self) -> bool:
        done = self.checked()
        return all(
            self.keys.zones[k] in done and not done[self.keys.zones[k]].fields.get("skipped")
            for k in self.keys.retreats
        )

    def short(self, name: str) -> int:
        seen = self.of("seen", name)
        if name in self.keys.group.values():
            return max(0, SIZE - sum(r.fields["count"] for r in seen))
        return int(not seen)

    def settle(self) -> bool:
        if not self.who:
            return True
        if self.who in self.keys.group and not self.count:
            self.who = ""
            return True
        if self.doubt is None:
            self.complete()
        return not self.who

    def act(self, name: str) -> None:
        if name == "guess":
            if self.who:
                self.half_guess = not self.half_guess
            else:
                self.guess = not self.guess
        elif name == "hidden":
            if self.who:
                self.half_hidden = not self.half_hidden
            else:
                self.hidden = not self.hidden
        elif name == "lifted":
            if self.place in self.keys.retreats:
                self.lifted = not self.lifted
        elif self.who and name in ("accept", "same"):
            self.complete(sure=True)
        elif self.settle():
            self.move(name)

    def move(self, name: str) -> None:
        here = any(r.fields["zone"] == self.keys.zones.get(self.place) for r in self.of("seen"))
        if name == "earlier":
            at = (
                self.keys.retreats.index(self.place)
                if self.place in self.keys.retreats
                else len(self.keys.retreats)
            )
            if at:
                self.go(self.keys.retreats[at - 1])
        elif name == "now":
            self.go((self.todo() or [""])[0])
        elif name == "next_one" and self.place:
            self.leave(True, here)
        elif name == "unseen" and here:
            return
        elif name in ("accept", "unseen"):
            self.leave(False, here)

    def leave(self, skipped: bool, here: bool) -> None:
        if not self.place:
            self.confirm()
        elif self.place not in self.keys.retreats:
            self.go((self.todo() or [""])[0])
        elif not (skipped and here):
            zone = self.keys.zones[self.place]
            before = self.checked().get(zone)
            said: dict[str, Any] = {"skipped": True} if skipped else {"lifted": self.lifted}
            if before is None or before.fields != {"zone": zone, **said}:
                rec = self.put("checked", zone=zone, **said)
                self.done([rec], "", [before] if before is not None else [])
            order = self.keys.retreats.index(self.place)
            later = [k for k in self.todo() if self.keys.retreats.index(k) > order]
            self.go(((later or self.todo()) or [""])[0])

    def confirm(self) -> None:
        known = {**self.keys.animals, **self.keys.group}
        missing = [
            who for who in self.everyone
            if self.whole() and self.short(known[who]) and not self.of("unseen", known[who])
        ]  # fmt: skip
        if missing and self.now - self.last_at >= READ_S:
            recs = [
                self.put(
                    "unseen",
                    **self.who_fields(who),
                    count=self.short(known[who]) if who in self.keys.group else None,
                )
                for who in missing
            ]
            self.acts.append(Act(recs))
            self.last_at = self.now

    def drop_half(self) -> bool:
        if self.count:
            self.count, self.doubt = self.count[:-1], None
        elif self.who:
            self.who, self.doubt, self.doing = "", None, ""
        elif self.guess or self.hidden:
            self.guess = self.hidden = False
        else:
            return False
        return True

    def taken_back(self, act: Act) -> None:
        first = act.recs[0]
        if first.kind in ("seen", "checked"):
            self.go(next(key for key, zone in self.keys.zones.items() if zone == first.fields["zone"]))
        elif first.kind == "unseen":
            self.go("")

    def end(self) -> None:
        if not self.settle() and self.who in self.keys.group:
            self.doubt = -1e9
            self.complete(sure=True)
        self.who = ""
