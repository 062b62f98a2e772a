"""Readings heard as they are made: from MQTT and from BTHome adverts, to a day file, and each day to an intake."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .bthome import Packet, parse
    from .keeping import Keeper
    from .listener import Listener, ListenOptions, bind
    from .listening import listen
    from .payload import values_of

__all__ = ["Keeper", "ListenOptions", "Listener", "Packet", "bind", "listen", "parse", "values_of"]
_WHERE = {
    "Keeper": "keeping",
    "ListenOptions": "listener",
    "Listener": "listener",
    "bind": "listener",
    "Packet": "bthome",
    "listen": "listening",
    "parse": "bthome",
    "values_of": "payload",
}


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
