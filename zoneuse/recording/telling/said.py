"""Write what was said during a session."""

from __future__ import annotations

from ..modes.recorder import Recorder
from ..session.moment import Moment
from ..session.notes import Said


def write_said(core: Recorder, said: Said, moment: Moment) -> None:
    """Write what was said; the open period it ends is replaced by the whole one."""
    if said.kind == "noted":
        core.note(str(said.fields["text"]), moment)
        return
    if said.kind == "adjusted":
        core.adjusted(moment, **said.fields)
        return
    core.context(moment=moment, **said.fields)
    if said.closes is not None:
        core.ledger.replace_other(said.closes.place, core.ledger.lines[-1], moment)
