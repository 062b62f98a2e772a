"""The watching screen: the first line, the enclosure, what is asked, the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Static

from ...recording.modes.asking import Code, Prompt
from ...recording.modes.following import Following
from ...recording.modes.recorder import Recorder
from ...recording.modes.rounds import Rounding
from ...recording.modes.scanning import Scanning
from ...recording.session.actions import BY_KEY
from ...recording.session.moment import Moment
from ...recording.session.newest import Newest, age_words, broken, read_newest, value_words
from ...recording.telling.standing import standing
from ...recording.words import clock_words
from ...study.labels import visible
from .app import RecorderApp
from .buttons import buttons
from .looks import warned
from .panels import Chip, Chips, Rooms, RoomWords

if TYPE_CHECKING:
    from ...recording.modes.asking import Choice

_TICK_S = 0.25
_RETRY_S = 3.0
_READINGS_S = 30.0
_DIGITS = tuple(Chip(digit, "", press=digit) for digit in "1234567890")
_DONE = Chip("⏎", "done", action="accept")


class WatchScreen(Screen[None]):
    """Everything on it is drawn from the core after each key and each tick."""

    BINDINGS = [  # noqa: RUF012 - Textual reads it so
        Binding("tab", "none", show=False, priority=True),
        Binding("shift+tab", "none", show=False, priority=True),
    ]

    def compose(self) -> ComposeResult:
        yield Static(id="banner")
        yield Static(id="standing")
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
    def recorder(self) -> RecorderApp:
        return cast(RecorderApp, self.app)

    @property
    def core(self) -> Recorder:
        core = self.recorder.core
        assert core is not None
        return core

    def on_mount(self) -> None:
        self._shown: dict[str, object] = {}
        self._newest: tuple[Newest, ...] = ()
        self._ending = False
        self._look_at_readings()
        self.set_interval(_TICK_S, self._tick)
        self.set_interval(_RETRY_S, self._retry)
        self.set_interval(_READINGS_S, self._look_at_readings)
        self._tick()

    # Keys, touches, time. ----------------------------------------------------------------------------------

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()
        moment = self.recorder.moment_of(event)
        # In a round these mean a whole retreat: no run of them is taken for fingers.
        whole = isinstance(self.core.mode, Rounding) and event.key in ("enter", "minus", "tab")
        most = 1 if whole else None
        if self.recorder.held.ignores(event.key, moment.mono, most):
            self.core.tell("That key is held down: repeats are ignored.")
        elif _is_keeper_key(event):
            self._ending = False
            self.core.press(event.character or "", moment)
        elif (name := _action_name(event)) is not None:
            self.do(name, moment)
            return
        self.show()

    def on_click(self, event: events.Click) -> None:
        if event.widget is not None and event.widget.id == "banner":
            self.do("elsewhere", self.recorder.moment_of(event))

    def action_none(self) -> None:
        """Tab belongs to the recorder, not to moving between widgets."""
        self.do("next_one", self.recorder.clocks())

    def _room_pressed(self, key: str, event: events.Event) -> None:
        self.core.press(key, self.recorder.moment_of(event))
        self.show()

    def _chip_pressed(self, chip: Chip, event: events.Event) -> None:
        moment = self.recorder.moment_of(event)
        if chip.press:
            self.core.press(chip.press, moment)
            self.show()
        else:
            self.do(chip.action, moment)

    def do(self, name: str, moment: Moment) -> None:
        """One of the program's actions; some open a screen over this one while the beat goes on."""
        if name == "finish":
            self._finish(moment)
            return
        self._ending = False
        if name == "leave":
            self.recorder.action_leave()
        elif name == "menu":
            self.app.action_command_palette()
        elif name in ("write", "records", "limits", "elsewhere", "help"):
            from . import boxes

            boxes.open_box(name, self, moment)
        else:
            self.core.act(name, moment)
        self.show()

    def _finish(self, moment: Moment) -> None:
        core = self.core
        done = core.all_done(moment)
        if not done and not self._ending:
            self._ending = True
            core.tell("Finish before all is done? Press . again to finish.")
            self.show()
            return
        core.finish(moment)
        from .boxes import SummaryScreen

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
        self._newest = read_newest(self.core.plan.declared.folder)

    @property
    def newest(self) -> tuple[Newest, ...]:
        return self._newest

    # What is shown. ----------------------------------------------------------------------------------------

    def show(self) -> None:
        """Draw what changed."""
        now, core = self.recorder.clocks(), self.core
        self.set_class(self.size.width < 60, "narrow")
        self.set_class(isinstance(core.mode, Rounding), "round")
        prompt = core.prompt(now)
        self._put("standing", self._standing(now))
        self._put("bar", self._bar(now))
        self._put("banner", self._banner())
        typed = f"  [{prompt.typed}]" if prompt.typed else ""
        before = f"\nbefore: {prompt.before}" if prompt.before else ""
        self._put("ask", f"{prompt.ask}{typed}{before}")
        self._put("said", self._said(now))
        self._show_rooms(prompt, now)
        self.choices.show(self._choices(prompt))
        self.buttons.show(buttons(core, self.size.width < 60))

    def _put(self, name: str, text: str) -> None:
        if self._shown.get(name) != text:
            self._shown[name] = text
            widget = self.query_one(f"#{name}", Static)
            widget.update(warned(text))
            if name == "banner":
                widget.display = bool(text)

    def _standing(self, now: Moment) -> str:
        """As many pieces as fit: limits broken, scan, saved, lights, fed, recharge."""
        warnings = broken(self.core.plan.declared, self._newest, now.at)
        more = f" and {len(warnings) - 1} more (%)" if len(warnings) > 1 else ""
        pieces = standing(self.core, self.recorder.known, now)
        if self.recorder.practice is not None:
            pieces.insert(0, "PRACTICE")
        width = self.size.width
        # A round asks in three lines, and has one less to tell in.
        most = 1 if isinstance(self.core.mode, Rounding) else 2
        lines = [f"! {warnings[0]}{more}"[: width * 2 - 1]] if warnings else []
        line = ""
        for piece in pieces:
            wanted = f"{line} · {piece}" if line else piece
            if len(wanted) <= width:
                line = wanted
            elif width < 60 and len(lines) < most and line:
                lines.append(line)
                line = piece
        return "\n".join([*lines, line])

    def _bar(self, now: Moment) -> str:
        """The beat, to be seen from the corner of an eye."""
        mode, width = self.core.mode, max(4, self.size.width)
        if isinstance(mode, Scanning | Following):
            filled = round(mode.beat.passed(now.mono) * width)
            return "━" * filled + "─" * (width - filled)
        if isinstance(mode, Rounding):
            filled = width - round(len(mode.left()) / len(self.core.plan.retreats) * width)
            return "━" * filled + "─" * (width - filled)
        return "─" * width

    def _banner(self) -> str:
        ledger = self.core.ledger
        if not ledger.waiting:
            return ""
        count = len(ledger.waiting)
        return (
            f"NOT SAVED: {ledger.trouble}. {count} record{'s' if count > 1 else ''} kept in memory, "
            "tried again every 3 s. F6, or a touch here, writes to another folder."
        )

    def _said(self, now: Moment) -> str:
        core = self.core
        if not core.notice:
            return ""
        last = core.acts[-1].lines[-1] if core.acts else None
        if last is not None and core.told.code is Code.RECORDED:
            state = "saved" if last.saved else "NOT SAVED YET"
            return f"{state} {clock_words(last.moment.at, core.plan.declared)}  {visible(core.notice)}"
        return visible(core.notice)

    def _show_rooms(self, prompt: Prompt, now: Moment) -> None:
        core, declared = self.core, self.core.plan.declared
        enclosure = prompt.who.enclosure if prompt.who is not None else core.here
        marks = core.whereabouts()
        asked = prompt.who.key if prompt.who is not None else None
        # Where the one asked about is being put now, before it is saved.
        draft = core.draft
        typed_zone = draft.zone.id if draft is not None and draft.zone is not None else None
        moves = typed_zone is not None and not prompt.counting
        words = []
        practice = self.recorder.practice
        figures = practice.script.figures(now.mono - core.ledger.started) if practice is not None else {}
        for zone in core.plan.zones(enclosure):
            inside = tuple(
                f"[{m}]" if m[0] == asked else m
                for m in marks.get(zone.id, ())
                if not (m[0] == asked and moves)
            )
            if typed_zone == zone.id:
                inside = (f"[{asked}]", *inside)
            label = visible(zone.label) + ("" if core.plan.offered(zone, now.at) else " (not there now)")
            sign = core.room_sign(zone)
            seen = figures.get(zone.id, ())
            words.append(RoomWords(zone.key, label, inside, *self._reading(zone.id, now), sign, seen))
        gone = " ".join(core.not_found())
        footer = f"not found: {gone}" if gone else ""
        if practice is not None:
            from ...recording.practice.script import LEGEND

            footer = f"{LEGEND}  {footer}"
        if declared.several:
            footer = f"{visible(enclosure)}  {footer}"
        self.rooms.show(declared.enclosures[enclosure].sketch, words, footer)

    def _reading(self, zone: str, now: Moment) -> tuple[str, str]:
        mine = [one for one in self._newest if one.zone == zone]
        if not mine:
            return "", ""
        values = [value_words(self.core.plan.declared, one) for one in mine[:3]]
        age = age_words(max(mine, key=lambda one: one.at), now.at)
        return f"{' '.join(values)} {age} ago", f"{age}: {' '.join(values)}"

    def _choices(self, prompt: Prompt) -> list[Chip]:
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


def _choice_chip(choice: Choice) -> Chip:
    return Chip(choice.key, visible(choice.label) + ("!" if choice.kind == "event" else ""), press=choice.key)


def _is_keeper_key(event: events.Key) -> bool:
    """Letters and digits belong to the keeper."""
    return bool(event.character) and len(event.character or "") == 1 and (event.character or "").isalnum()


def _action_name(event: events.Key) -> str | None:
    action = BY_KEY.get(event.key)
    return None if action is None else action.name
