"""Checksums of what is stored, so that a damaged file is told and never believed."""

from __future__ import annotations

import re
import zlib
from pathlib import Path

_SEAL = re.compile(rb',\s*"crc": "([0-9a-f]{8})"\s*}\s*\Z')
_PIECE = 1 << 20


def crc_of(path: Path) -> str:
    """CRC-32 of a file, eight lowercase hex digits. Raises OSError where it cannot be read."""
    crc = 0
    with path.open("rb") as stream:
        while piece := stream.read(_PIECE):
            crc = zlib.crc32(piece, crc)
    return f"{crc:08x}"


def sealed(text: str) -> bytes:
    """A JSON object with its own CRC-32 as the last value, over the bytes before it.

    >>> sealed('{"a": 1}')
    b'{"a": 1,\\n "crc": "7aa88204"\\n}'
    """
    body = text.rstrip().removesuffix("}").rstrip().encode("utf-8", "backslashreplace")
    return body + b',\n "crc": "%08x"\n}' % zlib.crc32(body)


def unsealed(data: bytes) -> bytes:
    """The same bytes, if their seal fits or they have none (written before there were seals). Else ValueError.

    With line ends of one letter: a version control may have made them those of Windows.
    """
    data = data.replace(b"\r\n", b"\n")
    found = _SEAL.search(data)
    if found is not None and found[1] != b"%08x" % zlib.crc32(data[: found.start()]):
        raise ValueError("its checksum does not fit")
    if found is None and b'"crc"' in data[-40:]:
        raise ValueError("its checksum is damaged")
    return data
