"""Adverts as they are heard: each packet once, and a scan that hears nothing for long is begun again."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

from .bthome import UUID, Packet, parse

# A packet is sent several times; the same bytes, or the same number, so soon after are the same packet.
_SAME_S, _STALLED_S = 20.0, 300.0


class Adverts:
    """Which packets are new. ``keys``: by address, of devices that encrypt."""

    def __init__(self, keys: dict[str, bytes]) -> None:
        self.keys = keys
        self._last: dict[str, tuple[bytes, int | None, float]] = {}

    def new(self, address: str, data: bytes, mono: float) -> Packet | None:
        """The packet, or None where it was heard already."""
        packet = parse(data, address, self.keys.get(address))
        last = self._last.get(address)
        if last is not None and mono - last[2] < _SAME_S:
            same = data == last[0] if packet.number is None else packet.number == last[1]
            if same:
                return None
        self._last[address] = data, packet.number, mono
        return packet


def radio(mono: Callable[[], float]) -> Callable[[Callable[[str, bytes], None]], Awaitable[None]]:
    """The machine's own radio as a scan: it returns where nothing at all was heard for five minutes."""

    async def scan(take: Callable[[str, bytes], None]) -> None:
        from bleak import BleakScanner

        heard = mono()

        def found(device: object, advert: object) -> None:
            nonlocal heard
            heard = mono()
            data = getattr(advert, "service_data", {}).get(UUID)
            if data is not None:
                take(str(getattr(device, "address", "")), bytes(data))

        async with BleakScanner(found):
            while mono() - heard < _STALLED_S:
                await asyncio.sleep(1.0)

    return scan
