"""Read a table of past sightings as it lies in a text file: a header and its rows, with their line numbers."""

from __future__ import annotations

import csv
import hashlib
import io
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from zoneuse.study import fault

DELIMITERS = (",", ";", "\t", "|")
_MOST_BYTES = 500_000_000
_LOOKED_AT = 200
# So many columns of a header are named in a fault.
_NAMED = 16


@dataclass(frozen=True, slots=True)
class Cells:
    """A table as found. ``rows`` are (line, cells); ``sha256`` is the file's as the keeper has it."""

    path: Path
    sha256: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def named_columns(cells: Cells) -> str:
    """The names in a header for a fault to list: the first of them, and how many more there are."""
    named = ", ".join(name[:30] for name in cells.header[:_NAMED])
    more = len(cells.header) - _NAMED
    return f"{named} and {more} more" if more > 0 else named


def read_cells(path: Path, text_at: Path | None = None) -> Cells:
    """A delimited table. ``text_at`` holds the text of a file that is none itself (a workbook's sheet).

    The header is the first row that fills most of its columns: a title may stand above it. Raises ProblemError
    where the file cannot be a table: a folder, no text, no rows.
    """
    data = _bytes(path)
    text = _text(data if text_at is None else _bytes(text_at), path)
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    rows: list[tuple[int, tuple[str, ...]]] = []
    try:
        for cells in lines:
            if any(cell.strip() for cell in cells):
                rows.append((lines.line_num, tuple(cell.strip() for cell in cells)))
    except csv.Error as error:
        raise fault(
            "not-a-table", path, f"line {lines.line_num}", f"cannot be read ({error})", "a delimited table",
            remedy="Close the quotation mark there, or save the table again as CSV",
        ) from None  # fmt: skip
    if not rows:
        raise fault(
            "empty", path, "", "the file is empty", "a header and rows of sightings", remedy="Check the file"
        )
    top = _header_at([cells for _, cells in rows[:_LOOKED_AT]])
    if len(rows) == top + 1:
        raise fault(
            "empty", path, "", "there is a header and no row", "rows of sightings", remedy="Check the file"
        )
    return Cells(path, hashlib.sha256(data).hexdigest(), rows[top][1], tuple(rows[top + 1 :]))


def _header_at(rows: list[tuple[str, ...]]) -> int:
    """The first row that fills as many cells as most rows have columns; a title above it fills one."""
    filled = [sum(map(bool, cells)) for cells in rows]
    usual = Counter(map(len, rows)).most_common(1)[0][0]
    return next((i for i, n in enumerate(filled[:20]) if n > 1 and 2 * n >= usual), 0)


def _bytes(path: Path) -> bytes:
    if path.is_dir():
        raise fault(
            "a-folder",
            path,
            "",
            "this is a folder",
            "a table of sightings (CSV)",
            remedy="Name the file in it",
        )
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise fault(
                "too-large",
                path,
                "",
                "is larger than 500 MB",
                "a table of sightings",
                remedy="Split it by year",
            )
        return path.read_bytes()
    except OSError as error:
        raise fault(
            "unreadable", path, "", f"cannot be read ({error.strerror})", "a readable file", remedy=""
        ) from None


def _text(data: bytes, path: Path) -> str:
    marked = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    encodings = ("utf-16",) if marked else ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        # Control characters other than tabs and line ends do not stand in a table anybody wrote.
        if not any(ord(c) < 32 and c not in "\t\r\n" for c in text[:100_000]):
            return text
    raise fault(
        "not-text", path, "", "this is not a text file", "a table of sightings (CSV, UTF-8)",
        remedy="Export the table as CSV and name that file",
    )  # fmt: skip


def _delimiter(text: str) -> str:
    """The delimiter that splits most lines into one number of cells: a decimal comma or a remark does not decide."""
    lines = [line for line in text.splitlines()[:_LOOKED_AT] if line.strip()]

    def score(delimiter: str) -> tuple[int, int]:
        widths = Counter(line.count(delimiter) for line in lines if delimiter in line)
        width, rows = widths.most_common(1)[0] if widths else (0, 0)
        return rows, width

    in_header = [d for d in DELIMITERS if lines and d in lines[0]]
    return max(in_header or DELIMITERS, key=score)
