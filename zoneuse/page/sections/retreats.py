"""The section on retreats, for colonies above all: who uses which, month by month, and who is found together."""

from __future__ import annotations

from ...answers.answer import Answer
from ...answers.phrases import counted
from ...answers.showing.plain import rows
from ..dates import MONTHS
from ..figures.retreats import MOST_ANIMALS, homes_drawn, together_drawn
from ..gathered import Gathered
from ..markup import bullets, figure, paragraph, section, table, text
from .pieces import careful, findings, ratio, whole

# A page has room for so many months side by side, and for so many enclosures' company.
_MOST_MONTHS, _MOST_ENCLOSURES, _MOST_PAIRS = 4, 6, 8


def retreats(found: Gathered) -> str:
    """For studies with retreats; nothing where no zone is one."""
    answer = found.retreats
    if not any(z.role == "retreat" for z in found.declared.zones.values()) or not len(answer.table):
        return ""
    parts = [paragraph(answer.headline)]
    who = answer.table["animal"].fillna(answer.table["group"]).nunique()
    if who <= MOST_ANIMALS:
        caption = "Share of checks, per cent, at which each was found there; bold is the retreat it was found in most."
        parts.append(figure(homes_drawn(answer, answer.labels), caption))
    parts += [
        findings(answer),
        bullets((text(n.says) for n in answer.notes), "findings"),
        _months_table(answer),
    ]
    return section(
        "retreats",
        "Retreats and company",
        *parts,
        *_company(found, answer),
        _pairs_table(answer),
        careful(answer),
    )


def _company(found: Gathered, answer: Answer) -> list[str]:
    """Who is found together, one drawing for each enclosure with three animals or more."""
    listed = answer.parts.get("matrix")
    if listed is None or not len(listed):
        return []
    drawn: list[str] = []
    for number, (enclosure, part) in enumerate(listed.groupby("enclosure"), 1):
        matrix = part.pivot(index="position", columns="other_position", values="half_weight")
        names = part.drop_duplicates("position").sort_values("position")["animal"].astype(str).tolist()
        if not 2 < len(names) <= MOST_ANIMALS or len(drawn) == _MOST_ENCLOSURES:
            continue
        several = f" Enclosure {enclosure}." if found.declared.several else ""
        caption = (
            "Half-weight index of each pair: 0 never, 1 always found in one retreat; the larger the square the more "
            f"often. Those found together stand side by side.{several} By itself this tells nothing of liking."
        )
        drawn.append(figure(together_drawn(number, names, matrix.to_numpy(float), answer.labels), caption))
    return drawn


def _months_table(answer: Answer) -> str:
    """Share of each retreat in the last months, where there is more than one."""
    part = answer.parts.get("months")
    # Rows of "all" are of the whole time.
    months = (
        []
        if part is None
        else sorted({str(m) for m in part["month"] if str(m)[:4].isdigit()})[-_MOST_MONTHS:]
    )
    if part is None or len(months) < 2:
        return ""
    lines: dict[tuple[str, str], dict[str, str]] = {}
    for r in rows(part):
        share = "–" if r["share"] is None else f"{100 * r['share']:.0f} %"
        if r["share_low"] is not None:
            share += f" ({100 * r['share_low']:.0f}–{100 * r['share_high']:.0f} %)"
        lines.setdefault((str(r["enclosure"]), str(r["zone"])), {})[str(r["month"])] = share
    several = len({enclosure for enclosure, _ in lines}) > 1
    numbers = [
        (
            answer.labels.get(zone, zone) + (f" ({enclosure})" if several else ""),
            *(shares.get(m, "–") for m in months),
        )
        for (enclosure, zone), shares in lines.items()
    ]
    heads = [f"{MONTHS[int(m[5:7]) - 1]} {m[:4]}" for m in months]
    return table("Of those found in retreats, share in each (95 %)", ("Retreat", *heads), numbers)


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
