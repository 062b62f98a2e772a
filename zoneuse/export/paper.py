"""A sheet for those who write by hand at the tank: a session's scans by animals, boxes to tick, keys in words."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..study import Declaration, Group, fault, here, visible, zones_of
from ..study.model import Animal

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# A4, lying; in mm.
_WIDE, _HIGH, _MARGIN = 297.0, 210.0, 10.0
_HEAD, _TIMES = 34.0, 20.0
_BOX, _STEP, _LINE = 3.2, 8.5, 4.6
_LEAST_COLUMN = 44.0


@dataclass(frozen=True, slots=True)
class PaperSheet:
    """One page: these animals of an enclosure, and these scans."""

    enclosure: str
    who: Sequence[Animal | Group]
    scans: range
    page: int
    pages: int
    # Boxes side by side in a cell, and how high a scan's row is, mm.
    across: int
    row: float


def sheets(declared: Declaration, at: datetime, path: Path) -> Iterator[tuple[Path, bytes]]:
    """The files of a session's sheets: one PDF of all pages, or an SVG for each (``name-2.svg`` the second).

    Raises ProblemError for another kind of file, or where nobody lives in the enclosure at that time.
    """
    kind = path.suffix.lower()
    if kind not in (".pdf", ".svg"):
        raise fault(
            "sheet", path, "", "is neither a PDF nor an SVG", "FILE.pdf or FILE.svg", remedy="Name it so"
        )
    pages = list(_pages(declared, at))
    if not pages:
        raise fault(
            "sheet", declared.folder / "study.toml", "animals", "nobody lives here at that time",
            remedy="Add [animals.NAME], or give another time with --now",
        )  # fmt: skip
    figures = [_drawn(declared, at, page) for page in pages]
    if kind == ".svg":
        for i, figure in enumerate(figures, 1):
            yield (path if i == 1 else path.with_stem(f"{path.stem}-{i}")), _bytes(figure, "svg")
        return
    from matplotlib.backends.backend_pdf import PdfPages

    whole = io.BytesIO()
    with PdfPages(whole, metadata={"CreationDate": None, "Title": declared.title}) as pdf:
        for figure in figures:
            pdf.savefig(figure)
    yield path, whole.getvalue()


def _bytes(figure: Figure, kind: str) -> bytes:
    import matplotlib

    stream = io.BytesIO()
    # Names inside an SVG are drawn by lot otherwise, and no two files were alike.
    with matplotlib.rc_context({"svg.hashsalt": "zoneuse"}):
        figure.savefig(stream, format=kind, metadata={"Date": None})
    return stream.getvalue()


def _pages(declared: Declaration, at: datetime) -> Iterator[PaperSheet]:
    watching = declared.watching
    scans = max(1, round(watching.minutes * 60 / watching.every_s))
    parts = [(one, rows) for one in _columns(declared, at) for rows in _rows(scans, one[3])]
    for number, ((enclosure, who, across, row), rows) in enumerate(parts, 1):
        yield PaperSheet(enclosure, who, rows, number, len(parts), across, row)


def _rows(scans: int, row: float) -> Iterator[range]:
    """The scans of each page, as many as its height holds."""
    most = max(1, int((_HIGH - _HEAD - 8 - _MARGIN) // row))
    for first in range(1, scans + 1, most):
        yield range(first, min(first + most, scans + 1))


def _columns(
    declared: Declaration, at: datetime
) -> Iterator[tuple[str, Sequence[Animal | Group], int, float]]:
    """Who stand side by side on a page, how many boxes lie side by side in a cell, and how high a row must be."""
    behaviours = sum(1 for b in declared.behaviours.values() if b.key)
    for enclosure in declared.enclosures:
        animals, groups = here(declared, enclosure, at)
        everyone: list[Animal | Group] = [*animals, *groups]
        places = sum(1 for z in zones_of(declared, enclosure, at) if z.key) + 1
        # Two lines of boxes for the zones, if that leaves room for two columns.
        column = min(max(_LEAST_COLUMN, -(-places // 2) * _STEP + 4), (_WIDE - 2 * _MARGIN - _TIMES) / 2)
        most = max(1, int((_WIDE - 2 * _MARGIN - _TIMES) // column))
        pages = max(1, -(-len(everyone) // most))
        side_by_side = max(1, -(-len(everyone) // pages))
        for i in range(0, len(everyone), side_by_side):
            who = everyone[i : i + side_by_side]
            across = max(1, int(((_WIDE - 2 * _MARGIN - _TIMES) / len(who) - 4) // _STEP))
            lines = -(-places // across) + -(-behaviours // across)
            yield enclosure, who, across, max(13.0, lines * _LINE + 3)


def _drawn(declared: Declaration, at: datetime, sheet: PaperSheet) -> Figure:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDE / 25.4, _HIGH / 25.4))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, _WIDE)
    axes.set_ylim(_HIGH, 0)
    axes.axis("off")
    zones = [z for z in zones_of(declared, sheet.enclosure, at) if z.key]
    behaviours = [b for b in declared.behaviours.values() if b.key]
    several = f", {visible(sheet.enclosure)}" if declared.several else ""
    _text(axes, _MARGIN, 14, f"{visible(declared.title)}{several}", 13)
    _text(axes, _WIDE - _MARGIN - 22, 14, f"page {sheet.page} of {sheet.pages}", 8)
    _text(axes, _MARGIN, 21, "Date ______________   First scan at ____:____   Observer ____________   "
          f"every {declared.watching.every_s} s", 9)  # fmt: skip
    words = (
        "Zones: " + ", ".join(f"{z.key} {visible(z.label)}" for z in zones) + ", - not found.   Behaviours: "
    )
    words += (
        ", ".join(f"{b.key} {visible(b.label)}{'' if b.lasts else ' (moment)'}" for b in behaviours) + "."
    )
    for i, line in enumerate(textwrap.wrap(words, 185)[:3]):
        _text(axes, _MARGIN, 27 + 4 * i, line, 7)
    _grid(axes, declared, sheet, [z.key for z in zones], [b.key for b in behaviours])
    return figure


def _grid(
    axes: Any, declared: Declaration, sheet: PaperSheet, zones: Sequence[str], behaviours: Sequence[str]
) -> None:
    column = (_WIDE - 2 * _MARGIN - _TIMES) / len(sheet.who)
    top, left = _HEAD + 8, _MARGIN + _TIMES
    bottom = top + sheet.row * len(sheet.scans)
    for i in range(len(sheet.who) + 1):
        axes.plot([left + i * column] * 2, [top - 6, bottom], color="0.6", lw=0.6)
    for i, one in enumerate(sheet.who):
        _text(
            axes, left + i * column + 2, top - 1.5, f"{one.key} {visible(one.label)}"[: int(column / 1.9)], 9
        )
    for r, scan in enumerate(sheet.scans):
        y = top + r * sheet.row
        axes.plot([_MARGIN, _WIDE - _MARGIN], [y, y], color="0.6", lw=0.6)
        minutes, seconds = divmod((scan - 1) * declared.watching.every_s, 60)
        _text(axes, _MARGIN, y + 6, f"{scan}", 9)
        _text(axes, _MARGIN, y + 11, f"+{minutes}:{seconds:02d}", 7)
        for i, one in enumerate(sheet.who):
            _cell(axes, (left + i * column + 2, y), sheet.across, (one, zones, behaviours))
    axes.plot([_MARGIN, _WIDE - _MARGIN], [bottom, bottom], color="0.6", lw=0.6)


def _cell(
    axes: Any,
    corner: tuple[float, float],
    across: int,
    what: tuple[Animal | Group, Sequence[str], Sequence[str]],
) -> None:
    """A box for each zone and "not found", then one for each behaviour; for a group a line for each count."""
    one, zones, behaviours = what
    x, y = corner
    group = isinstance(one, Group)
    marks = [*zones, "-", *([] if group else ["/", *behaviours])]
    column, row = 0, 0
    for mark in marks:
        if mark == "/" or column == across:
            column, row = 0, row + 1
            if mark == "/":
                continue
        left, top = x + column * _STEP, y + 1.6 + row * _LINE
        if group:
            axes.plot([left + 3.2, left + _STEP - 1], [top + _BOX] * 2, color="0.3", lw=0.6)
            _text(axes, left, top + 2.9, mark, 8)
        else:
            axes.plot([left, left + _BOX, left + _BOX, left, left], [top, top, top + _BOX, top + _BOX, top],
                      color="0.3", lw=0.6)  # fmt: skip
            _text(axes, left + _BOX + 0.7, top + 2.9, mark, 8)
        column += 1


def _text(axes: Any, x: float, y: float, words: str, size: float) -> None:
    # A label may hold a dollar sign, and is no formula.
    axes.text(x, y, words, fontsize=size, va="baseline", ha="left", parse_math=False)
