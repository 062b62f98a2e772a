"""BTHome v2 adverts: the open format of https://bthome.io/format (object ids, sizes and factors as published there).

Service data of UUID 0xFCD2: a byte of device information (bit 0 encrypted, bits 5-7 the version, 2), then objects of
an id and a little-endian value each. An id that is not known has no known length, so it ends what can be read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

UUID = "0000fcd2-0000-1000-8000-00805f9b34fb"
_UUID_BYTES = bytes.fromhex("d2fc")
_MIC, _COUNTER = 4, 4
# Object id: bytes, signed, factor, quantity of zoneuse ("" is none of ours and only passed over).
OBJECTS: dict[int, tuple[int, bool, float, str]] = {
    0x00: (1, False, 1, "packet"),
    0x01: (1, False, 1, ""),
    0x02: (2, True, 0.01, "temperature_c"),
    0x03: (2, False, 0.01, "humidity_pct"),
    0x04: (3, False, 0.01, ""),
    0x05: (3, False, 0.01, "light_lux"),
    0x06: (2, False, 0.01, ""),
    0x07: (2, False, 0.01, ""),
    0x08: (2, True, 0.01, ""),
    0x09: (1, False, 1, ""),
    0x0A: (3, False, 0.001, ""),
    0x0B: (3, False, 0.01, ""),
    0x0C: (2, False, 0.001, ""),
    0x0D: (2, False, 1, ""),
    0x0E: (2, False, 1, ""),
    **dict.fromkeys(range(15, 18), (1, False, 1, "")),
    0x12: (2, False, 1, ""),
    0x13: (2, False, 1, ""),
    0x14: (2, False, 0.01, "soil_moisture_pct"),
    **dict.fromkeys(range(21, 46), (1, False, 1, "")),
    0x2E: (1, False, 1, "humidity_pct"),
    0x2F: (1, False, 1, "soil_moisture_pct"),
    0x3A: (1, False, 1, ""),
    0x3C: (2, False, 1, ""),
    0x3D: (2, False, 1, ""),
    0x3E: (4, False, 1, ""),
    0x3F: (2, True, 0.1, ""),
    0x40: (2, False, 1, ""),
    0x41: (2, False, 0.1, ""),
    0x42: (3, False, 0.001, ""),
    0x43: (2, False, 0.001, ""),
    0x44: (2, False, 0.01, ""),
    0x45: (2, True, 0.1, "temperature_c"),
    0x46: (1, False, 0.1, "uv_index"),
    0x57: (1, True, 1, "temperature_c"),
    0x58: (1, True, 0.35, "temperature_c"),
}


@dataclass(frozen=True, slots=True)
class Packet:
    """What an advert says: ``values`` by quantity, its own number if it has one, and why it could not be read in whole.

    ``trouble``: "" | "not version 2" | "needs its key" | "its key does not fit" | "unknown object 0xNN" | "cut short".
    """

    values: Mapping[str, float]
    number: int | None = None
    trouble: str = ""


def parse(data: bytes, address: str = "", key: bytes | None = None) -> Packet:
    """The readings in the service data of an advert (what follows the UUID).

    ``address`` of the device and ``key`` (16 bytes) are needed where it is encrypted (AES-CCM with a check of 4 bytes;
    the nonce is address, UUID, device information and counter). Never raises for what a device sends.

    >>> parse(bytes.fromhex("4002c40903bf13")).values
    {'temperature_c': 25.0, 'humidity_pct': 50.55}
    """
    if not data or data[0] >> 5 != 2:
        return Packet({}, None, "not version 2")
    body = data[1:]
    if data[0] & 1:
        if key is None:
            return Packet({}, None, "needs its key")
        opened = _opened(data, address, key)
        if opened is None:
            return Packet({}, None, "its key does not fit")
        counter = int.from_bytes(data[-_MIC - _COUNTER : -_MIC], "little")
        found = _objects(opened)
        return Packet(found.values, counter if found.number is None else found.number, found.trouble)
    return _objects(body)


def _opened(data: bytes, address: str, key: bytes) -> bytes | None:
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.ciphers.aead import AESCCM

    cipher, counter, mic = data[1 : -_MIC - _COUNTER], data[-_MIC - _COUNTER : -_MIC], data[-_MIC:]
    try:
        nonce = bytes.fromhex(address.replace(":", "")) + _UUID_BYTES + data[:1] + counter
        opened: bytes = AESCCM(key, tag_length=_MIC).decrypt(nonce, cipher + mic, None)
        return opened
    except (InvalidTag, ValueError):
        return None


def _objects(body: bytes) -> Packet:
    values: dict[str, float] = {}
    number, at = None, 0
    while at < len(body):
        known = OBJECTS.get(body[at])
        if known is None:
            return Packet(values, number, f"unknown object 0x{body[at]:02x}")
        size, signed, factor, quantity = known
        raw = body[at + 1 : at + 1 + size]
        if len(raw) < size:
            return Packet(values, number, "cut short")
        value = int.from_bytes(raw, "little", signed=signed)
        if quantity == "packet":
            number = value
        elif quantity:
            # A device with several sensors of a kind sends them in turn; the first is the device's own.
            values.setdefault(quantity, round(value * factor, 6))
        at += 1 + size
    return Packet(values, number, "")
