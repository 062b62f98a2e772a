"""Record what is seen: a session's modes, journal and beat, without a screen.

``begin`` and ``go_on`` open a session, ``make_plan`` plans one, ``read_past`` tells what earlier ones hold.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__all__ = ["Recorder", "begin", "go_on", "make_plan", "plan_of", "read_past"]

if TYPE_CHECKING:
    from .modes.opening import begin, go_on, plan_of
    from .modes.recorder import Recorder
    from .session.past import read_past
    from .session.plan import make_plan

_WHERE = {
    "Recorder": "modes.recorder",
    "begin": "modes.opening",
    "go_on": "modes.opening",
    "make_plan": "session.plan",
    "plan_of": "modes.opening",
    "read_past": "session.past",
}


def __getattr__(name: str) -> Any:
    # What a person opens beside a moving animal loads only what it needs.
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
