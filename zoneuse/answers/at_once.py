"""All answers on one page: which of their claims stand beside each other.

Each answer errs in about 5 of 100 studies at one look; five of them together in 20 and more. So a page holds them to
one level: Holm (1979, Scand. J. Stat. 6:65) over the answers, each by the least chance among its claims.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from . import reasons
from .answer import Answer
from .finding import ALONE, FAIRLY_SURE, LOOKS_LIKE, Finding

# Of pages on which nothing is going on at most this part may claim something (house rule; measured in docs).
PAGE_LEVEL = 0.15
# The chance of a claim by luck, over all its answer compares; a single look claims at .05.
BY_LUCK = "by_luck"
_NOT_ASKED = (reasons.NOTHING_SEEN, reasons.NO_RECORD, reasons.NO_READINGS)


def at_once(answers: Sequence[Answer]) -> tuple[Answer, ...]:
    """The same answers; claims that stand by themselves and not beside all the others have the standing ``ALONE``.

    Claims that hold however often one asks stay as they are, and so do claims of sameness. Answers that had nothing to
    go by ask nothing.
    """
    asked = [a for a in answers if any(f.reason not in _NOT_ASKED for f in a.findings)]
    least = {id(a): min(map(chance, filter(_claims, a.findings)), default=1.0) for a in asked}
    levels: dict[int, float] = {}
    for rank, answer in enumerate(sorted(asked, key=lambda a: least[id(a)])):
        level = PAGE_LEVEL / (len(asked) - rank)
        if least[id(answer)] > level:
            break
        levels[id(answer)] = level
    return tuple(
        replace(a, findings=tuple(_beside(f, levels.get(id(a), 0.0)) for f in a.findings)) for a in answers
    )


def chance(finding: Finding) -> float:
    """The chance of a claimed difference by luck, over all that its answer compares; 0 where there is none to tell."""
    named = finding.numbers.get(BY_LUCK)
    return 0.0 if named is None or named.value is None else float(named.value)


def _claims(finding: Finding) -> bool:
    return finding.standing in (LOOKS_LIKE, FAIRLY_SURE) and chance(finding) > 0


def _beside(finding: Finding, level: float) -> Finding:
    if finding.standing != LOOKS_LIKE or chance(finding) <= level:
        return finding
    return replace(finding, standing=ALONE)
