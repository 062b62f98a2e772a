"""The recorder's screens: keys and touches in, the core's words out. Nothing is saved here, or on exit."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.app import App, SystemCommand
from textual.binding import Binding
from textual.message import Message
from textual.screen import Screen

from ...recording.session.held import HeldKey
from ...recording.session.moment import Moment, read_clocks
from ...recording.session.plan import Plan
from .looks import CSS, NIGHT

# Opened beside a moving animal: what the first screen does not run is loaded after it is shown.
if TYPE_CHECKING:
    from ...journal.reader import Session
    from ...recording.modes.recorder import Recorder
    from ...recording.practice.script import Practice
    from ...recording.session.recall import Recall

_LEFT = "Left without finishing: zoneuse watch will offer to continue this session."
_PRACTICE_LEFT = "The practice was left; nothing of it is kept."


class RecorderApp(App[str]):
    """A session from its first question to its summary. The app's result is what is said after it."""

    CSS = CSS
    TITLE = "zoneuse"
    ENABLE_COMMAND_PALETTE = True
    COMMAND_PALETTE_BINDING = "ctrl+p"
    BINDINGS = [  # noqa: RUF012 - Textual reads it so
        Binding("ctrl+c,ctrl+q", "leave", "Leave", show=False, priority=True),
    ]

    def __init__(
        self,
        plan: Plan,
        read_past: Callable[[], Recall],
        *,
        bell: bool = False,
        clocks: Callable[[], Moment] = read_clocks,
        practice: Practice | None = None,
    ) -> None:
        super().__init__()
        self.register_theme(NIGHT)
        self.theme = NIGHT.name
        self.plan, self.read_past, self.bell_on = plan, read_past, bell
        self.clocks, self.practice = clocks, practice
        self.past: Recall | None = None
        self.core: Recorder | None = None
        self.held = HeldKey()
        self.leaving_anyway = False

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
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, self.exit, self.left_words)

    def moment_of(self, event: Message) -> Moment:
        """When a key was pressed: the event's own time, however late it is handled."""
        return self.clocks().shifted(-max(0.0, Message().time - event.time))

    @property
    def left_words(self) -> str:
        return _LEFT if self.practice is None else _PRACTICE_LEFT

    # The session. ------------------------------------------------------------------------------------------

    @property
    def known(self) -> Recall:
        """What earlier sessions tell; nothing yet while they are still being read."""
        from ...recording.session.recall import Recall

        return self.past or Recall()

    def open_session(self, plan: Plan, moment: Moment) -> Recorder:
        from ...recording.modes.opening import begin

        self.plan = plan
        self.core = begin(plan, moment)
        return self.core

    def continue_session(self, session: Session, moment: Moment) -> Recorder:
        from ...recording.modes.opening import go_on, plan_of

        self.plan = plan_of(self.plan, session)
        self.core = go_on(self.plan, session, moment)
        return self.core

    def closing_words(self, core: Recorder) -> list[str]:
        """What is said at the end: what the session was, or how a practice went."""
        if self.practice is not None:
            from ...recording.practice.scored import practised

            return practised(core, self.practice)
        from ...recording.telling.summary import summary

        return summary(core, self.known, self.clocks())

    def watch_now(self) -> None:
        """From the start screen to the watching screen."""
        from .watch import WatchScreen

        # Over the first screen: the bottom one of all cannot be switched.
        self.push_screen(WatchScreen())

    def action_leave(self) -> None:
        """Leave at once, except with records that are nowhere but in memory: then only when asked twice."""
        from .watch import WatchScreen

        core = self.core
        waiting = len(core.ledger.waiting) if core is not None else 0
        if core is None or core.closed:
            self.exit("")
        elif waiting and not self.leaving_anyway:
            self.leaving_anyway = True
            core.tell(f"{waiting} NOT saved would be lost. Ctrl+C again leaves all the same.")
            for screen in self.screen_stack:
                if isinstance(screen, WatchScreen):
                    screen.show()
        else:
            self.exit(self.left_words)

    def get_system_commands(self, screen: Screen[object]):  # type: ignore[no-untyped-def]
        """The palette names every action of the recorder, and nothing else."""
        from ...recording.session.actions import ACTIONS
        from .watch import WatchScreen

        if not isinstance(screen, WatchScreen):
            yield SystemCommand("leave", "Leave the recorder", self.action_leave)
            return
        for action in ACTIONS:
            if action.name != "menu":
                yield SystemCommand(
                    f"{action.short} ({action.shows})",
                    action.says,
                    lambda name=action.name: screen.do(name, self.clocks()),
                )
