"""Write what was said during a session."""

from __future__ import annotations

from ..modes.recorder import Recorder
from ..session.instant import Instant
from ..session.notes import Said


def write_said(core: Recorder, said: Said, instant: Instant) -> None:
    """Write what was said; the open period it ends is replaced by the whole one."""
    if said.kind == "noted":
        core.note(str(said.fields["text"]), instant)
        return
    if said.kind == "adjusted":
        core.adjusted(instant, **said.fields)
        return
    core.context(instant=instant, **said.fields)
    if said.closes is not None:
        core.ledger.replace_other(said.closes.place, core.ledger.lines[-1], instant)
