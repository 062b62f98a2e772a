"""What the recorder's screens need of the app that holds them, and its boxes of the screen beneath."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from textual import events
from textual.message import Message
from textual.widget import Widget

from ...recording import Closing, HeldKey, Instant, Plan

# Opened beside a moving animal: what the first screen does not run is loaded after it is shown.
if TYPE_CHECKING:
    from ...journal import Session
    from ...recording import Newest, Practice, Recall, Recorder

Part = TypeVar("Part", bound=Widget)


def part_of(screen: Widget, name: str, kind: type[Part]) -> Part | None:
    """A screen's widget by its id; None once the screen is being taken down.

    What was on its way to a screen, a new size or a tick, may arrive when its widgets are gone already.
    """
    return next(iter(screen.query(f"#{name}").results(kind)), None)


# Asking twice takes two presses, not one that bounces.
TWICE_S = 0.5


class Host(Protocol):
    """The app of a session."""

    plan: Plan
    core: Recorder | None
    past: Recall | None
    practice: Practice | None
    read_past: Callable[[], Recall]
    clocks: Callable[[], Instant]
    held: HeldKey
    closing: Closing
    bell_on: bool
    left: bool

    @property
    def known(self) -> Recall: ...
    def instant_of(self, event: Message) -> Instant: ...
    def touched_twice(self, event: events.Event) -> bool: ...
    def open_session(self, plan: Plan, instant: Instant) -> Recorder: ...
    def continue_session(self, session: Session, instant: Instant) -> Recorder: ...
    def closing_words(self, core: Recorder) -> list[str]: ...
    def watch_now(self) -> None: ...
    def leave(self, mono: float) -> None: ...
    def leave_with(self, words: str) -> None: ...


class Beneath(Protocol):
    """The watching screen, to what opens over it."""

    @property
    def app(self) -> Any: ...
    @property
    def size(self) -> Any: ...
    @property
    def recorder(self) -> Host: ...
    @property
    def core(self) -> Recorder: ...
    @property
    def newest(self) -> tuple[Newest, ...]: ...
    def do(self, name: str, instant: Instant) -> None: ...
    def show(self) -> None: ...
