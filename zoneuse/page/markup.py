"""HTML made of plain pieces; every word from outside passes through ``text``."""

from __future__ import annotations

import base64
import html
import itertools
import re
from collections.abc import Iterable, Sequence

from ..figures import inline, standalone
from ..pictures import Figure
from ..study import visible

# Tables up to so many rows are kept on one printed page.
_SHORT = 14
# A phone has room for so many columns; of a wider table it shows each row as lines, each with its heading.
_COLUMNS = 5
# A page of a journal, in pixels of 1/96 inch.
FILE_WIDTH = 180 * 96 / 25.4
_LIMITS = re.compile(r"\([^()]{0,30}\d(?:–| to )[^()]{0,20}\)")

# A page is for reading: longer tables are cut, and say so.
MOST_ROWS = 60


def text(words: object) -> str:
    """Words as HTML shows them: nothing in them is markup, and no mark in them can turn or hide what follows.

    >>> text("moss <b>\\u202e")
    'moss &lt;b&gt;\\\\u202e'
    """
    escaped = html.escape(visible(str(words)), quote=True)
    # A number and its unit stay on one line.
    return escaped.replace(" %", "&nbsp;%").replace(" °", "&nbsp;°")


def name(label: object) -> str:
    """A label within a sentence, kept to its own direction of writing."""
    return f"<bdi>{text(label)}</bdi>"


def paragraph(*sentences: str, kind: str = "") -> str:
    """A paragraph of words from outside."""
    said = " ".join(text(s) for s in sentences if s)
    return f"<p{_class(kind)}>{said}</p>" if said else ""


def bullets(items: Iterable[str], kind: str = "") -> str:
    """A list of finished HTML; nothing where it is empty."""
    listed = "".join(f"<li>{item}</li>" for item in items)
    return f"<ul{_class(kind)}>{listed}</ul>" if listed else ""


def section(ident: str, heading: str, *parts: str) -> str:
    """A section with its heading; nothing where it would be empty."""
    body = "".join(parts)
    return f'<section id="{ident}"><h2>{text(heading)}</h2>{body}</section>' if body else ""


def figure(drawn: Figure, caption: str) -> str:
    """A picture, in words what it shows, and the same as a file to keep. ``numbered`` numbers it."""
    if not drawn.panels:
        return ""
    whole = base64.b64encode(standalone(drawn, FILE_WIDTH).encode()).decode()
    take = (
        f' <a class="take" download="{text(drawn.name)}.svg" href="data:image/svg+xml;base64,{whole}">'
        f'Save <span class="unseen">“{text(drawn.title)}” </span>as a picture</a>'
    )
    return f"<figure>{inline(drawn)}<figcaption>{text(caption)}{take}</figcaption></figure>"


def each_once(page: str) -> str:
    """A page on which no caution is told twice: the first section that tells it keeps it."""
    told: set[str] = set()

    def fresh(found: re.Match[str]) -> str:
        kept = [item for item in re.findall("<li>.*?</li>", found[0]) if item not in told]
        told.update(kept)
        return f'<div class="careful"><p>Careful</p><ul>{"".join(kept)}</ul></div>' if kept else ""

    return re.sub('<div class="careful">.*?</div>', fresh, page, flags=re.DOTALL)


def numbered(page: str) -> str:
    """Every figure of a page with its number, in the order they stand in."""
    count = itertools.count(1)
    return re.sub("<figcaption>", lambda _: f"<figcaption><b>Figure {next(count)}.</b> ", page)


def first_of_many(number: int) -> str:
    """Told beneath a table that shows only the first ``MOST_ROWS`` of so many rows."""
    return (
        paragraph(f"The first {MOST_ROWS} of {number:,} rows are shown.", kind="note")
        if number > MOST_ROWS
        else ""
    )


def table(
    caption: str, headings: Sequence[str], rows: Iterable[Sequence[object]], left: Sequence[int] = ()
) -> str:
    """A table whose first column names its rows; numbers stand right, columns in ``left`` left."""
    aligned = [' class="left"' if i == 0 or i in left else "" for i in range(len(headings))]
    if len(headings) > _COLUMNS:
        aligned = [f'{a} role="cell" data-head="{text(h)}"' for h, a in zip(headings, aligned, strict=True)]
    lines = [f"<tr{_role(headings, 'row')}>{_row(row, aligned, headings)}</tr>" for row in rows]
    if not lines:
        return ""
    many = " rows" if len(headings) > _COLUMNS else " many" if len(headings) == _COLUMNS else ""
    kind = _class(f"{'short' if len(lines) <= _SHORT else 'long'}{many}")
    group, row, column = (_role(headings, part) for part in ("rowgroup", "row", "columnheader"))
    head = "".join(
        f'<th scope="col"{column}{_class("left" if i == 0 or i in left else "")}>{text(h)}</th>'
        for i, h in enumerate(headings)
    )
    return (
        f"<table{kind}{_role(headings, 'table')}><caption>{text(caption)}</caption><thead{group}><tr{row}>{head}</tr>"
        f"</thead><tbody{group}>{''.join(lines)}</tbody></table>"
    )


def _role(headings: Sequence[str], part: str) -> str:
    """What a piece of a wide table is, said aloud: laid out as lines it would be no table to a screen reader."""
    return f' role="{part}"' if len(headings) > _COLUMNS else ""


def _row(cells: Sequence[object], aligned: Sequence[str], headings: Sequence[str]) -> str:
    first = f'<th scope="row"{_role(headings, "rowheader")}>{name(cells[0])}</th>'
    return first + "".join(f"<td{a}>{_cell(c)}</td>" for c, a in zip(cells[1:], aligned[1:], strict=True))


def _cell(value: object) -> str:
    """A cell's words; limits in brackets go to the next line whole."""
    return _LIMITS.sub(r'<span class="whole">\g<0></span>', text(value))


def _class(kind: str) -> str:
    return f' class="{kind}"' if kind else ""
