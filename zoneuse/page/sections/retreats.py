"""The section on retreats, for colonies above all: who uses which, month by month, and who is found together."""

from __future__ import annotations

from ...answers.answer import Answer
from ...answers.phrases import counted
from ...answers.showing.plain import rows
from ..gathered import Gathered
from ..markup import figure, section, table
from .pieces import careful, findings, headed, noted, ratio, whole

# The pairs told one by one.
_MOST_PAIRS = 8
_CAPTION = (
    "Where each is at home, the share of checks in each retreat (per cent; strong: where it was found most), month by "
    "month, and who is found together: the half-weight index, 0 never, 1 always in one retreat. By itself this tells "
    "nothing of liking."
)


def retreats(found: Gathered) -> str:
    """For studies with retreats; nothing where no zone is one."""
    answer = found.retreats
    if not any(z.role == "retreat" for z in found.declared.zones.values()) or not len(answer.table):
        return ""
    parts = [headed(answer)]
    parts.append(figure(answer.figure(), _CAPTION))
    parts += [
        findings(answer),
        noted(answer),
    ]
    return section(
        "retreats",
        "Retreats and company",
        *parts,
        _pairs_table(answer),
        careful(answer),
    )


def _pairs_table(answer: Answer) -> str:
    pairs = answer.parts.get("pairs")
    if pairs is None or not len(pairs):
        return ""
    best = pairs.sort_values("half_weight", ascending=False, kind="stable").head(_MOST_PAIRS)
    numbers = [
        (
            f"{answer.labels.get(r['animal'], r['animal'])} and {answer.labels.get(r['other'], r['other'])}",
            ratio(r["half_weight"]), whole(r["arrivals"], ""), "–" if r["expected"] is None else f"{r['expected']:.1f}",
        )
        for r in rows(best)
    ]  # fmt: skip
    heads = ("Pair", "Half-weight index", "Came into one retreat", "Expected by chance")
    return table(f"The {counted(len(numbers), 'pair')} most often together", heads, numbers)
