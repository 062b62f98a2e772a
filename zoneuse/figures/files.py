"""A picture as the bytes of a file, by the ending of its name."""

from __future__ import annotations

from pathlib import PurePath

from ..pictures import Figure

ENDINGS = (".svg", ".png", ".pdf")
# A column and a page of a journal, in millimetres, and a card for sharing.
WIDTHS = ("85", "180", "card")


def drawn_as(figure: Figure, ending: str, width: str = "180") -> bytes:
    """The bytes of a picture. ``ending`` is .svg, .png or .pdf; ``width`` in mm, or "card" (1,200 by 630 dots).

    Raises ValueError for another ending, or a width of less than 60 mm.
    """
    as_card = width == "card"
    pixels = 0.0 if as_card else float(width) * 96 / 25.4
    if ending.lower() not in ENDINGS:
        raise ValueError(f"{ending!r}: a picture's name ends in {', '.join(ENDINGS)}")
    if not as_card and not 60 <= float(width) <= 1000:
        raise ValueError(f"width {width}: between 60 and 1000 mm, or card")
    if ending.lower() == ".svg":
        from .written.svg import standalone

        return standalone(figure, pixels, as_card=as_card).encode()
    from .written.paper import on_paper

    return on_paper(figure, "pdf" if ending.lower() == ".pdf" else "png", pixels, as_card=as_card)


def ending_of(path: PurePath) -> str:
    return path.suffix.lower()
