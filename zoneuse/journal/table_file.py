"""Read a table of past sightings from a delimited text file: its rows, as text, with their line numbers."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ..study.problems import Problem, ProblemError, fault

COLUMNS = ("at", "session", "animal", "zone", "behaviour", "observer", "group", "count", "method")
MUST = ("at", "session", "zone")
_MOST_BYTES = 500_000_000


@dataclass(frozen=True, slots=True)
class TableFile:
    """A table as found: ``rows`` are (line, {column: text}) under zoneuse's own column names."""

    path: Path
    sha256: str
    rows: tuple[tuple[int, Mapping[str, str]], ...]


def read_table(path: Path, renamed: Mapping[str, str] | None = None) -> TableFile:
    """The rows of a table. ``renamed`` maps zoneuse's column names to the file's.

    Raises ProblemError where the file cannot be a table of sightings: a folder, no text, no rows, a missing
    column.
    """
    data = _bytes(path)
    text = _text(data, path)
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in lines:
            if any(cell.strip() for cell in cells):
                rows.append((lines.line_num, cells))
    except csv.Error as error:
        raise fault(
            "not-a-table",
            path,
            f"line {lines.line_num}",
            f"cannot be read ({error})",
            "a delimited table",
            remedy="",
        ) from None
    if not rows:
        raise fault(
            "empty", path, "", "the file is empty", "a header and rows of sightings", remedy="Check the file"
        )
    places = _places(path, rows[0][1], renamed or {})
    if len(rows) == 1:
        raise fault(
            "empty", path, "", "there is a header and no row", "rows of sightings", remedy="Check the file"
        )
    read = tuple(
        (line, {name: cells[i].strip() if i < len(cells) else "" for name, i in places.items()})
        for line, cells in rows[1:]
    )
    return TableFile(path, hashlib.sha256(data).hexdigest(), read)


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
    """The delimiter that splits the header into most cells."""
    header = next((line for line in text.splitlines() if line.strip()), "")
    return max((",", ";", "\t", "|"), key=header.count)


def _places(path: Path, header: list[str], renamed: Mapping[str, str]) -> dict[str, int]:
    names = [cell.strip().casefold() for cell in header]
    places, problems = {}, []
    for column in COLUMNS:
        wanted = renamed.get(column, column).strip().casefold()
        if names.count(wanted) > 1:
            problems.append(_column_problem(path, column, f"{wanted!r} stands twice in the header", header))
        elif wanted in names:
            places[column] = names.index(wanted)
        elif column in MUST or column in renamed:
            problems.append(_column_problem(path, column, f"there is no column {wanted!r}", header))
    if "animal" not in places and "group" not in places:
        problems.append(_column_problem(path, "animal", "there is no column 'animal' (nor 'group')", header))
    if problems:
        raise ProblemError(problems)
    return places


def _column_problem(path: Path, column: str, found: str, header: list[str]) -> Problem:
    listed = ", ".join(cell.strip()[:30] for cell in header[:12])
    return Problem(
        "column", str(path), "header", found, f"a column for {column}; the header has: {listed}",
        f"Name it with --column {column}=NAME",
    )  # fmt: skip
