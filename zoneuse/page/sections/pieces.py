"""What every section of the page shares: an answer's sentences, its cautions, and numbers as people read them."""

from __future__ import annotations

from collections.abc import Sequence

from ...answers.answer import Answer
from ...answers.finding import TOO_EARLY, Finding, trust_said
from ..markup import bullets, paragraph, text

# More sentences in a row than this are read by nobody; the others open at a touch.
MOST_FINDINGS = 20


def headed(answer: Answer) -> str:
    """The sentence that answers the question, and what it rests on."""
    return paragraph(answer.headline, kind="headline") + basis(answer)


def basis(answer: Answer) -> str:
    return paragraph(answer.basis, kind="basis")


def findings(answer: Answer, about: set[str] | None = None) -> str:
    """The sentences of an answer, each with how far to trust it."""
    chosen = [f for f in answer.findings if about is None or about & set(f.about)]
    if len(chosen) <= MOST_FINDINGS:
        return _told(chosen)
    # What can be told first, each kind in its order; the rest is there and out of the way.
    order = sorted(chosen, key=lambda f: f.verdict == TOO_EARLY)
    first, rest = order[:MOST_FINDINGS], order[MOST_FINDINGS:]
    told = f"{len(rest)} more of {len(chosen)}"
    return f"{_told(first)}<details><summary>{text(told)}</summary>{_told(rest)}</details>"


def _told(some: Sequence[Finding]) -> str:
    return bullets((said_with_trust(f.says, f.standing) for f in some), "findings")


def said_with_trust(says: str, standing: str) -> str:
    return text(says) + (f' <span class="trust">({text(trust_said(standing))})</span>' if standing else "")


def careful(answer: Answer) -> str:
    """The answer's own cautions."""
    told = bullets(text(c.says) for c in answer.cautions)
    return f'<div class="careful"><p>Careful</p>{told}</div>' if told else ""


def percent(value: float | None) -> str:
    return "–" if value is None else f"{100 * value:.0f} %"


def ratio(value: float | None) -> str:
    return "–" if value is None else f"{value:.2f}"


def whole(value: float | None, sign: str = " %") -> str:
    return "–" if value is None else f"{value:.0f}{sign}"
