"""What every section of the page shares: an answer's sentences, its cautions, and numbers as people read them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from ...answers.answer import Answer
from ...answers.finding import TOO_EARLY, Finding, below, trust_said
from ..markup import bullets, paragraph, text

# More sentences in a row than this are read by nobody; the others open at a touch.
MOST_FINDINGS = 20


def headed(answer: Answer) -> str:
    """The sentence that answers the question, and what it rests on."""
    return paragraph(answer.headline, kind="headline") + basis(answer)


def basis(answer: Answer) -> str:
    return paragraph(answer.basis, kind="basis")


def findings(answer: Answer, about: set[str] | None = None) -> str:
    """The sentences of an answer below its headline, each with how far to trust it."""
    chosen = [f for f in below(answer.findings, len(answer.table)) if about is None or about & set(f.about)]
    if len(chosen) <= MOST_FINDINGS:
        return _told(chosen)
    # What can be told first, each kind in its order; the rest is there and out of the way.
    order = sorted(chosen, key=lambda f: f.verdict == TOO_EARLY)
    first, rest = order[:MOST_FINDINGS], order[MOST_FINDINGS:]
    told = f"{len(rest)} more of {len(chosen)}"
    return f"{_told(first)}<details><summary>{text(told)}</summary>{_told(rest)}</details>"


# Options are for whoever typed the command; who reads the page has none.
_OPTION = r"--(?:slot|offset|all|per|cluster|observer|full|second-opinion)\b"
_NOT_FOR_READERS = (
    (re.compile(r" \((?:log odds|log likelihood)(?:[^()]|\([^()]*\))*\)"), ""),
    (re.compile(r" \[(\d+ % covered[^\[\]]*)\]"), r" (\1)"),
    (re.compile(rf"; [^;.]*{_OPTION}[^;.]*"), ""),
    (re.compile(rf" \([^()]*{_OPTION}[^()]*\)"), ""),
    (re.compile(rf"(?:^|(?<=\. ))[^.]*(?:{_OPTION}|\bzoneuse [a-z]+ )[^.]*\.(?: |$)"), ""),
    (re.compile(rf": ask again with {_OPTION}, and"), ":"),
)


def for_readers(says: str) -> str:
    """A sentence without the words of commands, and without figures that only who runs the fit asks for.

    >>> for_readers("Times of day are mixed (sessions by slot: day 16, night 32); see --slot.")
    'Times of day are mixed (sessions by slot: day 16, night 32).'
    >>> for_readers("8 records are left out: handled (8). zoneuse check says where they are and what to do.")
    '8 records are left out: handled (8).'
    """
    for pattern, instead in _NOT_FOR_READERS:
        says = pattern.sub(instead, says)
    return says.strip()


def _told(some: Sequence[Finding]) -> str:
    return bullets((said_with_trust(f.says, f.standing) for f in some), "findings")


def said_with_trust(says: str, standing: str) -> str:
    return text(for_readers(says)) + (
        f' <span class="trust">({text(trust_said(standing))})</span>' if standing else ""
    )


def noted(answer: Answer, wanted: Callable[[tuple[str, ...]], bool] = lambda _: True) -> str:
    """The sentences beside the findings, of those whose ids are ``wanted``."""
    chosen = (for_readers(n.says) for n in answer.notes if wanted(n.about))
    return bullets((text(says) for says in chosen if says), "findings")


def careful(answer: Answer) -> str:
    """The answer's own cautions."""
    told = bullets(text(says) for c in answer.cautions if (says := for_readers(c.says)))
    return f'<div class="careful"><p>Careful</p>{told}</div>' if told else ""


def percent(value: float | None) -> str:
    return "–" if value is None else f"{100 * value:.0f} %"


def ratio(value: float | None) -> str:
    return "–" if value is None else f"{value:.2f}"


def whole(value: float | None, sign: str = " %") -> str:
    return "–" if value is None else f"{value:.0f}{sign}"
