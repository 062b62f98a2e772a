"""An answer on one screen: the sentence, the picture in letters, what no row can say, what could change a verdict."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import RenderableType
from rich.text import Text

from ...pictures import EstimateRows, LetterLine, panel_lines
from ..finding import Caution, below, trust_said
from ..phrases import counted
from .terminal import Printed, wrapped

# Lines of a usual terminal, without the one for the next command.
_LINES = 23
# Cautions that could change a verdict, in the order they are told; the others follow where there is room.
DECISIVE = (
    "moments-as-units", "not-as-drawn", "availability-decides", "guesses-decide", "not-looked-into", "unevenly-found",
    "seen-differs", "hours", "observer-changed", "method-changed", "unseen", "spell", "season", "entered-late",
    "sit-together", "long-stay", "stuck-wet", "mixed-times", "apart", "left-out",
)  # fmt: skip
# Told nowhere but in full: what holds of every answer.
_LAST = ("speaks-for", "availability", "guesses", "without-guesses")


def by_weight(cautions: Sequence[Caution]) -> list[Caution]:
    """Each caution once, those that could change a verdict first."""
    place = {code: k for k, code in enumerate(DECISIVE)}
    return sorted(dict.fromkeys(cautions), key=lambda c: place.get(c.code, len(place) + (c.code in _LAST)))


def brief(answer: Printed, width: int, drawn: Sequence[str] | None = None) -> Iterator[RenderableType]:
    """The pieces in reading order. ``drawn`` are lines that stand in for the rows of the answer's picture."""
    rows = _picture(answer, width) if drawn is None else [LetterLine(one) for one in drawn]
    told: list[Text] = [wrapped(answer.headline, width)] if answer.headline else []
    if rows:
        told += [Text(), *(Text(line.says, no_wrap=True, overflow="crop") for line in rows)]
    beside = [] if drawn is not None else _beside(answer, rows)
    told += [Text()] if answer.basis or beside else []
    told += [wrapped(says, width, "· ", "  ") for says in beside[:3]]
    told += [wrapped(answer.basis, width)] if answer.basis else []
    told += [wrapped(n.says, width, "· ", "  ") for n in answer.notes if n.asked]
    yield from told
    yield from _filled(answer, width, sum(_high(t) for t in told), beside[3:])


def _filled(answer: Printed, width: int, used: int, beside: Sequence[str]) -> Iterator[RenderableType]:
    """As many notes and cautions as a screen holds; how many more there are."""
    pieces = _pieces(answer, width, beside)
    room, kept = _LINES - used - 2, 0
    # What could change a verdict is never left to another command.
    while kept < len(pieces) and (_high(pieces[kept][1]) <= room or not kept):
        room -= _high(pieces[kept][1])
        kept += 1
    if kept:
        yield Text()
    yield from (piece for _, piece in pieces[:kept])
    left = pieces[kept:]
    if left or len(answer.table):
        yield Text()
        yield wrapped(_left_said(sum(k == 0 for k, _ in left), sum(k == 1 for k, _ in left)), width)


def _pieces(answer: Printed, width: int, beside: Sequence[str]) -> list[tuple[int, Text]]:
    """Cautions that decide (1), notes (0), and the other cautions (1), in the order they are told."""
    ordered = by_weight(answer.cautions)
    first, last = ([c for c in ordered if (c.code in DECISIVE[:-1]) == decide] for decide in (True, False))
    notes = [*beside, *(n.says for n in answer.notes if not n.asked)]
    return [
        *((1, wrapped(c.says, width, "- ", "  ")) for c in first),
        *((0, wrapped(says, width, "· ", "  ")) for says in notes),
        *((1, wrapped(c.says, width, "- ", "  ")) for c in last),
    ]


def _left_said(notes: int, cautions: int) -> str:
    parts = [counted(n, what) for n, what in ((notes, "more note"), (cautions, "more caution")) if n]
    left = f"{' and '.join(parts)}, " if parts else ""
    return f"--full: {left}all the numbers and every sentence. --plot FILE: the picture."


def _picture(answer: Printed, width: int) -> list[LetterLine]:
    """The rows of the answer's picture; charts stand in its file."""
    if not len(answer.table):
        return []
    panel = next((p for p in answer.figure().panels if isinstance(p, EstimateRows)), None)
    return [] if panel is None else list(panel_lines(panel, width))


def _beside(answer: Printed, rows: Sequence[LetterLine]) -> list[str]:
    """Findings that no row shows, or not all of what matters in them."""
    shown = {line.row.about for line in rows if line.row is not None}
    first = {about[:1] for about in shown}
    return [
        f"{f.says} ({trust_said(f.standing)})" if f.standing else f.says
        for f in below(answer.findings, len(answer.table))
        if f.about
        and (f.facts.get("aside") or (f.about not in shown and (len(f.about) != 1 or f.about not in first)))
    ]


def _high(piece: Text) -> int:
    return piece.plain.count("\n") + 1
