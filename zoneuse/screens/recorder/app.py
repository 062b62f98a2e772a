"""The recorder's screens: keys and touches in, the core's words out. Nothing is saved here, or on exit."""

from __future__ import annotations

import asyncio
import contextlib
import signal
import textwrap
from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol, runtime_checkable

from textual import events
from textual.app import App
from textual.driver import Driver
from textual.message import Message
from textual.screen import Screen

from ...recording import Closing, HeldKey, Instant, Plan, TornSequence, read_clocks
from ..patient_driver import patient
from .host import TWICE_S
from .looks import CSS, NIGHT

# Opened beside a moving animal: what the first screen does not run is loaded after it is shown.
if TYPE_CHECKING:
    from ...journal import Session
    from ...recording import Practice, Recall, Recorder

_LEFT = "Left without finishing: zoneuse watch will offer to continue this session."
_PRACTICE_LEFT = "The practice was left; none of it is kept."


@runtime_checkable
class TakesKeys(Protocol):
    """A screen that handles its keys one by one, in their order, whatever is drawn."""

    def take_key(self, event: events.Key) -> None: ...
    def take_text(self, text: str) -> None: ...


class RecorderApp(App[str]):
    """A session from its first question to its summary. The app's result is what is said after it."""

    CSS = CSS
    TITLE = "zoneuse"
    ENABLE_COMMAND_PALETTE = False
    AUTO_FOCUS = ""

    def __init__(
        self,
        plan: Plan,
        read_past: Callable[[], Recall],
        *,
        bell: bool = False,
        clocks: Callable[[], Instant] = read_clocks,
        practice: Practice | None = None,
    ) -> None:
        super().__init__()
        self.register_theme(NIGHT)
        self.theme = NIGHT.name
        self.plan, self.read_past, self.bell_on = plan, read_past, bell
        self.clocks, self.practice = clocks, practice
        self.past: Recall | None = None
        self.core: Recorder | None = None
        self.held, self.closing, self.torn = HeldKey(), Closing(), TornSequence()
        self.leave_asked: float | None = None
        self.left = False

    def get_driver_class(self) -> type[Driver]:
        return patient(super().get_driver_class())

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return dict(NIGHT.variables)

    def get_default_screen(self) -> Screen[None]:
        """The first screen itself; pushed over an empty one it would be there a screen's making later."""
        from .start import StartScreen

        return StartScreen()

    def on_mount(self) -> None:
        # Asked to end, it gives the terminal back first. A closed terminal ends the process at once:
        # there is nothing to give back, and nothing left to save.
        with contextlib.suppress(NotImplementedError, RuntimeError, ValueError):
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, self.leave_with, self.left_words)

    # Keys. -------------------------------------------------------------------------------------------------

    async def on_event(self, event: events.Event) -> None:
        """Keys are handled here and now, by the screen that is on top now.

        Left to be forwarded, those of one bundle would all go to the screen that was on top when it arrived.
        """
        if isinstance(event, events.Key) and self.screen_stack and isinstance(self.screen, TakesKeys):
            self._take_key(event, self.screen)
        elif isinstance(event, events.Paste) and self.screen_stack and isinstance(self.screen, TakesKeys):
            if not self.left:
                self.screen.take_text(event.text)
        else:
            await super().on_event(event)

    def _take_key(self, event: events.Key, screen: TakesKeys) -> None:
        mono = self.instant_of(event).mono
        if self.left or self.torn.swallows(event.key, event.character or "", mono):
            return
        if self.closing.ignores(event.key, mono):
            return
        if event.key in ("ctrl+c", "ctrl+q"):
            self.leave(mono)
        else:
            screen.take_key(event)

    def instant_of(self, event: Message) -> Instant:
        """When a key was pressed: the event's own time, however late it is handled."""
        return self.clocks().shifted(-max(0.0, Message().time - event.time))

    def touched_twice(self, event: events.Event) -> bool:
        """Whether a touch is the second half of one that has just closed a box."""
        return self.closing.ignores("mouse", self.instant_of(event).mono)

    def box_closed(self, by: str) -> None:
        """A box is closed by a key or a touch: the same again at once means nothing to what is beneath."""
        self.closing.closed(by, self.clocks().mono)

    def show_watch(self) -> None:
        """Draw the watching screen anew, wherever in the stack it lies."""
        from .watch import WatchScreen

        for screen in self.screen_stack:
            if isinstance(screen, WatchScreen):
                screen.show()

    # The session. ------------------------------------------------------------------------------------------

    @property
    def left_words(self) -> str:
        return _LEFT if self.practice is None else _PRACTICE_LEFT

    @property
    def known(self) -> Recall:
        """What earlier sessions tell; nothing yet while they are still being read."""
        from ...recording import Recall

        return self.past or Recall()

    def open_session(self, plan: Plan, instant: Instant) -> Recorder:
        from ...recording import begin

        self.plan = plan
        self.core = begin(plan, instant)
        return self.core

    def continue_session(self, session: Session, instant: Instant) -> Recorder:
        from ...recording import go_on, plan_of

        self.plan = plan_of(self.plan, session)
        self.core = go_on(self.plan, session, instant)
        return self.core

    def closing_words(self, core: Recorder) -> list[str]:
        """What is said at the end: what the session was, or how a practice went."""
        if self.practice is not None:
            from ...recording import practised

            return practised(core, self.practice)
        from ...recording import summary

        return summary(core, self.known, self.clocks())

    def watch_now(self) -> None:
        """From the start screen to the watching screen."""
        from .watch import WatchScreen

        # Over the first screen: the bottom one of all cannot be switched.
        self.push_screen(WatchScreen())

    def leave(self, mono: float) -> None:
        """Leave at once, except with records that are nowhere but in memory: then only when asked twice."""
        core = self.core
        waiting = len(core.ledger.waiting) if core is not None else 0
        if core is None or core.closed:
            self.leave_with("")
        elif waiting and (self.leave_asked is None or mono - self.leave_asked < TWICE_S):
            self.leave_asked = mono
            core.tell(f"{waiting} NOT saved would be lost. Ctrl+C again leaves anyway.")
            self.show_watch()
        else:
            self.leave_with(self.left_words)

    def leave_with(self, words: str) -> None:
        """End with words that are read in the shell afterwards, which breaks lines anywhere."""
        self.left = True
        width = max(20, self.size.width - 1)
        self.exit("\n".join(textwrap.fill(line, width) for line in words.split("\n")))
