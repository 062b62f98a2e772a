"""The recorder's screens: keys and touches in, the core's words out. Nothing is saved here, or on exit."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import Callable

from textual import events
from textual.app import App, SystemCommand
from textual.binding import Binding
from textual.message import Message
from textual.screen import Screen

from ...journal.reader import Journals, Session
from .actions import ACTIONS, BY_KEY
from .core import Recorder
from .held import HeldKey
from .looks import CSS, NIGHT
from .moment import Moment, read_clocks
from .opening import begin, go_on, plan_of
from .plan import Plan
from .recall import Recall

_LEFT = "Left without finishing: zoneuse watch will offer to continue this session."


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
        read_past: Callable[[], tuple[Recall, Journals]],
        *,
        bell: bool = False,
        clocks: Callable[[], Moment] = read_clocks,
    ) -> None:
        super().__init__()
        self.register_theme(NIGHT)
        self.theme = NIGHT.name
        self.plan, self.read_past, self.bell_on = plan, read_past, bell
        self.clocks = clocks
        self.known = Recall()
        self.core: Recorder | None = None
        self.held = HeldKey()
        self.leaving_anyway = False

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return dict(NIGHT.variables)

    def on_mount(self) -> None:
        from .start import StartScreen

        # Asked to end, it gives the terminal back first. A closed terminal ends the process at once:
        # there is nothing to give back, and nothing left to save.
        with contextlib.suppress(NotImplementedError, RuntimeError, ValueError):
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, self.exit, _LEFT)
        self.push_screen(StartScreen())

    def moment_of(self, event: Message) -> Moment:
        """When a key was pressed: the event's own time, however late it is handled."""
        return self.clocks().shifted(-max(0.0, Message().time - event.time))

    # The session. ------------------------------------------------------------------------------------------

    def open_session(self, plan: Plan, moment: Moment) -> Recorder:
        self.plan = plan
        self.core = begin(plan, moment)
        return self.core

    def continue_session(self, session: Session, moment: Moment) -> Recorder:
        self.plan = plan_of(self.plan, session)
        self.core = go_on(self.plan, session, moment)
        return self.core

    def watch_now(self) -> None:
        """From the start screen to the watching screen."""
        from .watch import WatchScreen

        self.switch_screen(WatchScreen())

    def action_leave(self) -> None:
        core = self.core
        waiting = len(core.ledger.waiting) if core is not None else 0
        if core is None or core.closed:
            self.exit("")
        elif waiting and not self.leaving_anyway:
            self.leaving_anyway = True
            core.notice = (
                f"{waiting} records are NOT saved and would be lost. Ctrl+C again leaves all the same."
            )
        else:
            self.exit(_LEFT)

    def get_system_commands(self, screen: Screen[object]):  # type: ignore[no-untyped-def]
        """The palette names every action of the recorder, and nothing else."""
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


def is_keeper_key(event: events.Key) -> bool:
    """Letters and digits belong to the keeper."""
    return bool(event.character) and len(event.character or "") == 1 and (event.character or "").isalnum()


def action_name(event: events.Key) -> str | None:
    action = BY_KEY.get(event.key)
    return None if action is None else action.name
