"""An answer in a notebook: the same sentences, table and cautions as in a terminal, as plain HTML."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from ...study import visible
from ..finding import below, trust_said
from .plain import rows
from .terminal import Printed, cell

_LEFT = ("text", "first")


def html_of(answer: Printed) -> str:
    """The sentence, what it rests on, findings and notes, the table that matters, and what to be careful of."""
    told = below(answer.findings, len(answer.table))
    said = [f"{f.says} ({trust_said(f.standing)})" if f.standing else f.says for f in told]
    pieces = [f"<p><strong>{_safe(answer.headline)}</strong></p>" if answer.headline else ""]
    pieces.append(f"<p>{_safe(answer.basis)}</p>" if answer.basis else "")
    pieces.append(_list([*said, *(n.says for n in answer.notes)]))
    pieces.append(_table(answer))
    if answer.cautions:
        pieces.append(f"<p>Careful:</p>{_list(c.says for c in answer.cautions)}")
    return "".join(pieces)


def _safe(text: str) -> str:
    return escape(visible(text))


def _list(lines: Iterable[str]) -> str:
    items = "".join(f"<li>{_safe(line)}</li>" for line in lines)
    return f"<ul>{items}</ul>" if items else ""


def _table(answer: Printed) -> str:
    picked = answer.table if answer.first_rows is None else answer.table.iloc[list(answer.first_rows)]
    if not len(picked) or not answer.shown:
        return ""
    sides = ["left" if column.shown in _LEFT else "right" for column in answer.shown]
    head = "".join(
        f'<th scope="col" style="text-align:{side}">{_safe(column.heading)}</th>'
        for column, side in zip(answer.shown, sides, strict=True)
    )
    body = "".join(
        "<tr>"
        + "".join(
            f'<td style="text-align:{side}">{escape(cell(column, row, answer))}</td>'
            for column, side in zip(answer.shown, sides, strict=True)
        )
        + "</tr>"
        for row in rows(picked)
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
