"""Readings heard as they are made: from MQTT and from BTHome adverts, to a day file, and each day to an intake."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .bthome import Packet, parse
    from .keeping import Keeper
    from .listener import Listener, ListenOptions, bind
    from .listening import listen
    from .payload import values_of

__all__ = [
    "Keeper",
    "ListenOptions",
    "Listener",
    "Packet",
    "bind",
    "listen",
    "parse",
    "values_of",
]
__getattr__ = opened(
    __name__,
    {
        "bthome": "Packet parse",
        "keeping": "Keeper",
        "listener": "ListenOptions Listener bind",
        "listening": "listen",
        "payload": "values_of",
    },
)
