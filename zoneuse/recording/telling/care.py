"""Since lights-on, since fed, since the last recharge: what the keeper would otherwise work out."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from ...study import Declaration, hours_since_lights_on
from ..words import span_words

# The first screen must open at once: what it does not run it does not load.
if TYPE_CHECKING:
    from ..modes.recorder import Recorder
    from ..session.recall import Recall


def care_words(
    declared: Declaration, enclosure: str, known: Recall | None, core: Recorder | None, now: datetime
) -> list[str]:
    """Since lights-on, since fed, since the last recharge; what is not known is left out."""
    words = []
    hours = hours_since_lights_on(declared, enclosure, now)
    if hours is not None:
        words.append(f"lights-on {span_words(hours * 3600)} ago")
    fed = _newer(core, "context", "fed", known.fed if known else None)
    if fed is not None:
        words.append(f"fed {span_words((now - fed).total_seconds())} ago")
    recharged = _newer(core, "adjusted", "water", known.recharged if known else None)
    if recharged is not None:
        words.append(f"recharged {span_words((now - recharged).total_seconds())} ago")
    return words


def _newer(core: Recorder | None, kind: str, what: str, known: datetime | None) -> datetime | None:
    """This session's own record, if there is one, is the newest."""
    lines = core.ledger.lines if core is not None else []
    mine = [x.instant.at for x in lines if x.kind == kind and not x.void and x.fields.get("what") == what]
    return max([*mine, known] if known else mine, default=None)
