"""The watching screen: the first line, the enclosure, what is asked, the keys."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import cast

from textual import events
from textual.app import ComposeResult
from textual.screen import Screen
from textual.widgets import Static

from ...recording import (
    BY_KEY,
    Focal,
    Instant,
    LiveKey,
    Newest,
    Prompt,
    Recorder,
    Rounding,
    first_line,
    read_newest,
    watching_too,
)
from ...study import SketchFigure, visible
from .buttons import buttons
from .host import TWICE_S, Host, part_of
from .looks import warned
from .panels import Chip, Chips, Rooms, RoomWords
from .shown import NARROW, banner, bar, broken_now, first_lines, readings, said, warning_lines

_TICK_S = 0.25
_RETRY_S = 3.0
# Readings that are heard are live within seconds; who else watches is looked for every tenth time.
_READINGS_S, _OTHERS_EVERY = 3.0, 10
_DIGITS = tuple(Chip(digit, "", press=digit) for digit in "1234567890")
_DONE = Chip("⏎", "done", action="accept")
# A retreat cannot be looked into so fast: a second such key was one too many.
_RETREAT_S = 0.3
_BOXES = ("write", "records", "limits", "elsewhere", "help", "menu", "new_zone")


class WatchScreen(Screen[None]):
    """Everything on it is drawn from the core after each key and each tick."""

    AUTO_FOCUS = ""

    def __init__(self) -> None:
        super().__init__()
        self._shown: dict[str, object] = {}
        self._newest: tuple[Newest, ...] = ()
        self._looked = 0
        # Who else records now, in a session of their own.
        self._with: list[str] = []
        self._ending: float | None = None
        self.drawn = False

    def compose(self) -> ComposeResult:
        yield Static(id="banner")
        yield Static(id="first-lines")
        yield Static(id="bar")
        self.rooms = Rooms(self._room_pressed)
        yield self.rooms
        yield Static(id="ask")
        self.choices = Chips(self._chip_pressed, 2)
        self.choices.id = "choices"
        yield self.choices
        yield Static(id="said")
        self.buttons = Chips(self._chip_pressed, 2)
        self.buttons.id = "buttons"
        yield self.buttons

    @property
    def recorder(self) -> Host:
        return cast(Host, self.app)

    @property
    def core(self) -> Recorder:
        core = self.recorder.core
        assert core is not None
        return core

    def on_mount(self) -> None:
        self.drawn = True
        self._look_at_readings()
        self.set_interval(_TICK_S, self._tick)
        self.set_interval(_RETRY_S, self._retry)
        self.set_interval(_READINGS_S, self._look_at_readings)
        self._tick()

    def on_resize(self) -> None:
        self.show()

    # Keys, touches, time. ----------------------------------------------------------------------------------

    def take_key(self, event: events.Key) -> None:
        """One key, already in its order; the app calls it before anything else is handled."""
        instant = self.recorder.instant_of(event)
        if self._runs_on(event.key, instant):
            self.core.tell("That key is held down: repeats are ignored.")
        elif _is_keeper_key(event):
            self._ending = None
            self.core.press(event.character or "", instant)
        elif (action := BY_KEY.get(event.key)) is not None:
            self.do(action.name, instant)
            return
        self.show()

    def _runs_on(self, key: str, instant: Instant) -> bool:
        # In a round these mean a whole retreat: no run of them is taken for fingers.
        if isinstance(self.core.mode, Rounding) and key in ("enter", "minus", "up", "tab"):
            return self.recorder.held.ignores(key, instant.mono, 1, _RETREAT_S)
        return self.recorder.held.ignores(key, instant.mono)

    def take_text(self, text: str) -> None:
        """Pasted text is no record of anything."""
        self.core.tell("Pasted text is ignored here.")
        self.show()

    def on_click(self, event: events.Click) -> None:
        if event.widget is not None and event.widget.id == "banner" and self._touchable(event):
            self.do("elsewhere", self.recorder.instant_of(event))

    def _touchable(self, event: events.Event) -> bool:
        """Whether a touch is meant for this screen: it is on top, and no box was closed by the same touch."""
        return self.app.screen is self and not self.recorder.left and not self.recorder.touched_twice(event)

    def _room_pressed(self, key: str, event: events.Event) -> None:
        if self._touchable(event):
            self._ending = None
            self.core.press(key, self.recorder.instant_of(event))
            self.show()

    def _chip_pressed(self, chip: Chip, event: events.Event) -> None:
        instant = self.recorder.instant_of(event)
        if not self._touchable(event):
            return
        if chip.press:
            self._ending = None
            self.core.press(chip.press, instant)
            self.show()
        else:
            self.do(chip.action, instant)

    def do(self, name: str, instant: Instant) -> None:
        """One of the program's actions; some open a screen over this one while the beat goes on."""
        if name == "finish":
            self._finish(instant)
            return
        self._ending = None
        if name == "leave":
            self.recorder.leave(instant.mono)
        elif name in _BOXES:
            from . import opened

            opened.open_box(name, self, instant)
        else:
            self.core.act(name, instant)
        self.show()

    def _finish(self, instant: Instant) -> None:
        core = self.core
        asked = self._ending is not None and instant.mono - self._ending >= TWICE_S
        if not core.all_done(instant) and not asked:
            if self._ending is None:
                self._ending = instant.mono
            core.tell("Not all is done: F10 or . again ends it.")
            self.show()
            return
        core.finish(instant)
        from .summary import SummaryScreen

        self.app.switch_screen(SummaryScreen())

    def _tick(self) -> None:
        if self.core.tick(self.recorder.clocks()) and self.recorder.bell_on:
            self.app.bell()
        self.show()

    def _retry(self) -> None:
        if self.core.ledger.waiting:
            if self.core.ledger.retry(self.recorder.clocks()):
                self.core.tell("Everything is saved now.")
            self.show()

    def _look_at_readings(self) -> None:
        folder = self.core.plan.declared.folder
        self._newest = read_newest(folder)
        if self._looked % _OTHERS_EVERY == 0:
            self._with = watching_too(folder, self.core.ledger.journal.session, self.core.plan.observer)
        self._looked += 1

    @property
    def newest(self) -> tuple[Newest, ...]:
        return self._newest

    # What is shown. ----------------------------------------------------------------------------------------

    def show(self) -> None:
        """Draw what changed."""
        if not self.drawn:
            return
        now, core, width = self.recorder.clocks(), self.core, self.size.width
        several = isinstance(core.mode, Focal) and core.sheet.alone is None
        self.set_class(width < NARROW, "narrow")
        self.set_class(isinstance(core.mode, Rounding), "round")
        self.set_class(several, "several")
        prompt = core.prompt(now)
        pieces = first_line(core, self.recorder.known, now)
        if self.recorder.practice is not None:
            pieces.insert(0, "PRACTICE")
        elif self._with:
            pieces.insert(2, f"with {', '.join(visible(name) for name in self._with)}")
        # A round asks in three lines, and has one less to tell in; so has following several.
        most = 2 if width < NARROW and not several and not isinstance(core.mode, Rounding) else 1
        warnings = warning_lines(broken_now(core, self._newest, now), width)
        self._put("first-lines", "\n".join([*warnings, *first_lines(pieces, width, most)]), len(warnings))
        self._put("bar", bar(core, now, max(4, width)))
        self._put("banner", banner(core))
        typing = prompt.half + "…" if prompt.half else prompt.typed
        typed = f"  [{typing}]" if typing else ""
        before = f"\nbefore: {prompt.before}" if prompt.before else ""
        self._put("ask", f"{prompt.ask}{typed}{before}")
        self._put("said", said(core))
        self._show_rooms(prompt, now)
        self.choices.show(self._choices(prompt))
        self.buttons.show(buttons(core, width < NARROW))

    def _put(self, name: str, text: str, warnings: int = 1) -> None:
        if self._shown.get(name) != text:
            self._shown[name] = text
            widget = part_of(self, name, Static)
            if widget is None:
                return
            widget.update(warned(text, warnings))
            if name == "banner":
                widget.display = bool(text)

    def _practised(self, now: Instant) -> tuple[dict[str, tuple[SketchFigure, ...]], str]:
        """In a practice: the made-up animals as they are to be seen, and what their figures mean."""
        practice = self.recorder.practice
        if practice is None:
            return {}, ""
        from ...recording import figures_now, legend

        return figures_now(self.core, practice, now), f"{legend(self.core.plan.method)}  "

    def _show_rooms(self, prompt: Prompt, now: Instant) -> None:
        core, declared = self.core, self.core.plan.declared
        enclosure = prompt.who.enclosure if prompt.who is not None else core.here
        marks = core.marks_by_zone()
        asked = prompt.who.key if prompt.who is not None else None
        # Where the one asked about is being put now, before it is saved.
        draft = core.draft
        typed_zone = draft.zone.id if draft is not None and draft.zone is not None else None
        moves = typed_zone is not None and not prompt.counting
        words = []
        figures, legend = self._practised(now)
        for zone in core.plan.zones(enclosure):
            inside = tuple(_marked(marks.get(zone.id, ()), asked, moves))
            if typed_zone == zone.id:
                inside = (f"[{asked}]", *inside)
            label = visible(zone.label) + ("" if core.plan.offered(zone, now.at) else " (not there now)")
            sign = core.room_sign(zone)
            seen = figures.get(zone.id, ())
            values = readings(declared, self._newest, zone.id, now.at)
            words.append(RoomWords(zone.key, label, inside, values, sign, seen))
        gone = " ".join(core.not_found())
        footer = legend + (f"not found: {gone}" if gone else "")
        if declared.several:
            footer = f"{visible(enclosure)}  {footer}"
        self.rooms.show(declared.enclosures[enclosure].sketch, words, footer, prompt.half)

    def _choices(self, prompt: Prompt) -> list[Chip]:
        """Those that may follow: after the first character of a key, only what goes on from it."""
        chips = self._chips(prompt)
        return [one for one in chips if one.press.startswith(prompt.half)] if prompt.half else chips

    def _chips(self, prompt: Prompt) -> list[Chip]:
        """Keys that answer. Zones have theirs in their rooms; while they are asked for, others can be named."""
        own = [_choice_chip(c) for c in prompt.choices if c.kind != "zone"]
        draft = self.core.draft
        if draft is not None and self.core.event_open is None:
            if prompt.typed or prompt.counting:
                # A finger needs what may come next in a count: a number, the end, or a behaviour.
                return [*_DIGITS, _DONE, *own]
            if draft.zone is not None:
                return [*own, _DONE]
        if own or prompt.who is None:
            return own
        return [Chip(w.key, visible(w.label), press=w.key) for w in self.core.plan.who if w != prompt.who]


def _marked(marks: Iterable[str], asked: str | None, moves: bool) -> Iterator[str]:
    """The marks of those in a room, the one asked about in brackets; it is not there any more where it ``moves``."""
    for mark in marks:
        if not _is_of(mark, asked):
            yield mark
        elif not moves:
            yield f"[{mark}]"


def _is_of(mark: str, key: str | None) -> bool:
    """Whether a mark in a room is this animal's: its key, then no letter and no digit."""
    return bool(key) and mark.startswith(key or "") and not mark[len(key or "") :][:1].isalnum()


def _choice_chip(choice: LiveKey) -> Chip:
    return Chip(choice.key, visible(choice.label) + ("!" if choice.kind == "event" else ""), press=choice.key)


def _is_keeper_key(event: events.Key) -> bool:
    """Letters and digits belong to the keeper."""
    return bool(event.character) and len(event.character or "") == 1 and (event.character or "").isalnum()
