"""The text of an export: its encoding, and its lines in blocks of UTF-8 bytes, however large the file."""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from zoneuse.study import fault

# Text read at once: a few blocks and what is made of them stay within 230 MB for any layout.
BLOCK = 5 << 19
SAMPLE = 1 << 18
# Letters looked at at once for ends of lines: few enough to stay within a core's cache.
_GLANCE = 1 << 17
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


@dataclass(frozen=True, slots=True)
class Encoding:
    name: str
    bom: int


def detect_encoding(path: Path, sample: bytes, whole: bool) -> Encoding:
    """UTF-8 (with or without its mark), UTF-16 or Windows-1252; binary files are refused with their kind.

    ``whole`` says that the sample is the whole file, so that a torn last letter is a fault.
    """
    for bom, name in _BOMS:
        if sample.startswith(bom):
            return Encoding(name, len(bom))
    if kind := _binary_kind(sample):
        raise fault(
            "not-a-table", path, "", kind, "the logger's readings as text (CSV) or a spreadsheet (.xlsx)",
            remedy="Export the readings as text from the logger's own program",
        )  # fmt: skip
    if sample.count(0) > len(sample) // 4:
        # Text of two bytes a letter without a mark: the zero half tells which comes first.
        return Encoding("utf-16-le" if sample[1::2].count(0) > sample[::2].count(0) else "utf-16-be", 0)
    try:
        codecs.getincrementaldecoder("utf-8")().decode(sample, final=whole)
    except UnicodeDecodeError:
        return Encoding("cp1252", 0)
    return Encoding("utf-8", 0)


def _binary_kind(sample: bytes) -> str:
    if sample.startswith(b"%PDF"):
        return "this is a PDF"
    if sample.startswith(b"\xd0\xcf\x11\xe0"):
        return "this is an old binary spreadsheet, and is not called .xls"
    if sample.startswith((b"\x89PNG", b"\xff\xd8\xff", b"GIF8")):
        return "this is a picture"
    if sample.startswith((b"PK\x03\x04", b"\x1f\x8b", b"7z\xbc\xaf")):
        return "this is a compressed file"
    if sample.startswith(b"PAR1"):
        return "this is a Parquet file"
    controls = sum(sample.count(bytes([c])) for c in (*range(1, 9), *range(14, 27), 127))
    zeros = sample.count(0)
    if controls > max(4, len(sample) // 50) or (zeros and zeros < len(sample) // 4):
        return "this is not text"
    return ""


def decode_sample(data: bytes, encoding: Encoding, whole: bool) -> str:
    """The first lines of a file as text; a torn last line is left off unless it is the whole file."""
    decoder = codecs.getincrementaldecoder(encoding.name)(errors="replace")
    text = decoder.decode(data[encoding.bom :], final=whole).replace("\r\n", "\n").replace("\r", "\n")
    if not whole and "\n" in text:
        text = text[: text.rindex("\n") + 1]
    return text


@dataclass(frozen=True, slots=True)
class Block:
    """Whole lines as UTF-8 bytes, the number of the first (from 1), and how many lines there are."""

    data: bytes
    first_line: int
    lines: int


def read_blocks(
    path: Path, encoding: Encoding, feed: Callable[[bytes], None] | None = None, size: int = BLOCK
) -> Iterator[Block]:
    """All lines of a file, block by block: at most a few blocks are in memory at once.

    ``feed`` is given every byte of the file as it stands on the disk.
    """
    line = 1
    rest = b""
    for piece in _utf8_pieces(path, encoding, feed, size):
        cut = piece.rfind(b"\n") + 1
        if cut == 0:
            rest += piece
            if len(rest) > 4 * size:
                raise fault(
                    "not-lines", path, f"line {line}", "is longer than any table's line", "lines of text",
                    remedy="Export the readings again as text",
                )  # fmt: skip
            continue
        data = b"".join((rest, memoryview(piece)[:cut]))
        rest = piece[cut:]
        block = Block(data, line, _count_lines(data))
        line += block.lines
        yield block
    if rest:
        yield Block(rest + b"\n", line, 1)


def _count_lines(data: bytes) -> int:
    # A quarter of the time of bytes.count, which looks for one line's end after the other.
    letters = np.frombuffer(data, np.uint8)
    return sum(int(np.count_nonzero(letters[at : at + _GLANCE] == 10)) for at in range(0, len(data), _GLANCE))


def _utf8_pieces(
    path: Path, encoding: Encoding, feed: Callable[[bytes], None] | None, size: int
) -> Iterator[bytes]:
    plain = encoding.name == "utf-8"
    decoder = codecs.getincrementaldecoder(encoding.name)(errors="replace")
    skip, held = encoding.bom, b""
    with path.open("rb", buffering=0) as stream:
        while piece := stream.read(size):
            if feed is not None:
                feed(piece)
            piece, skip = piece[skip:], 0
            if not plain and not (encoding.name == "cp1252" and piece.isascii()):
                piece = decoder.decode(piece).encode()
            if held:
                piece, held = held + piece, b""
            if piece.endswith(b"\r"):  # the newline after it may be in the next piece
                piece, held = piece[:-1], b"\r"
            yield _one_line_end(piece)
    if tail := held + decoder.decode(b"", final=True).encode():
        yield _one_line_end(tail)


def _one_line_end(piece: bytes) -> bytes:
    if b"\r" not in piece:
        return piece
    return piece.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
