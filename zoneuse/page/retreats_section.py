"""The section on retreats, for colonies above all: who uses which, and who is found together."""

from __future__ import annotations

from ..answers.answer import Answer, rows
from ..answers.association_order import ordered_matrix
from ..answers.evidence import counted
from .gathered import Gathered
from .markup import figure, paragraph, section, table
from .pieces import careful, findings, ratio, whole
from .retreat_figure import MOST_ANIMALS, homes_drawn, together_drawn


def retreats(found: Gathered) -> str:
    """For studies with retreats: who uses which, and who is found together."""
    answer = found.retreats
    if not any(z.role == "retreat" for z in found.declared.zones.values()) or not len(answer.table):
        return ""
    parts = [paragraph(answer.headline)]
    labels = dict(answer.labels)
    who = answer.table["animal"].fillna(answer.table["group"]).nunique()
    if who <= MOST_ANIMALS:
        caption = "Share of checks at which each was found there; bold is the retreat it was found in most."
        parts.append(figure(homes_drawn(answer, labels), caption))
    parts.append(findings(answer))
    pairs = answer.parts.get("pairs")
    for number, (enclosure, part) in enumerate(
        pairs.groupby("enclosure") if pairs is not None and len(pairs) else []
    ):
        matrix = ordered_matrix(part)
        if 2 < len(matrix) <= MOST_ANIMALS and number == 0:
            several = f" Enclosure {enclosure}." if found.declared.several else ""
            caption = (
                "Half-weight index of each pair: 0 never, 1 always found in one retreat; the larger the square "
                f"the more often. Those found together stand side by side.{several} By itself this tells nothing of "
                "liking."
            )
            parts.append(figure(together_drawn(matrix, labels), caption))
    return section("retreats", "Retreats and company", *parts, _pairs_table(answer), careful(answer))


def _pairs_table(answer: Answer) -> str:
    pairs = answer.parts.get("pairs")
    if pairs is None or not len(pairs):
        return ""
    best = pairs.sort_values("half_weight", ascending=False).head(8)
    numbers = [
        (
            f"{answer.labels.get(r['animal'], r['animal'])} and {answer.labels.get(r['other'], r['other'])}",
            ratio(r["half_weight"]), whole(r["arrivals"], ""), _ratio_orwhole(r["expected"]),
        )
        for r in rows(best)
    ]  # fmt: skip
    heads = ("Pair", "Half-weight index", "Came into one retreat", "Expected by chance")
    return table(f"The {counted(len(numbers), 'pair')} most often together", heads, numbers)


def _ratio_orwhole(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f}"
