"""Agreement of observers as a picture: kappa with its limits, and what is taken for what."""

from __future__ import annotations

from typing import Any

from ...pictures import EstimateRow, EstimateRows, Figure, Key, Scale
from ..answer import Answer
from ..finding import TOO_EARLY, Finding
from ..phrases import counted, listed
from ..showing.plain import rows
from ..showing.said import beside, capital, source
from .judge import AGREE, ENOUGH, SHARPEN

_SCALE = Scale(-0.2, 1.0, ((0.0, "0"), (0.2, "0.2"), (0.4, "0.4"), (0.6, "0.6"), (0.8, "0.8"), (1.0, "1")))
_MOST = 8


def headline(answer: Answer) -> str:
    """Whether observers agree, and on what not, in one sentence."""
    table = rows(answer.table)
    if not table:
        return answer.findings[0].says if answer.findings else "No two observers watched at once."
    told = [
        said for pair in dict.fromkeys(str(r["pair"]) for r in table) for said in _pair(answer, pair, table)
    ]
    return capital(f"{'; '.join(told[:3])}.")


def _pair(answer: Answer, pair: str, table: list[dict[str, Any]]) -> list[str]:
    names = listed(pair.split(" + "))
    mine = [r for r in table if r["pair"] == pair]
    well, badly = (
        [r["what"] for r in mine if ((r["kappa"] or 0) >= ENOUGH) == good] for good in (True, False)
    )
    mixed = _confused(answer, pair)
    but = f", but take {listed(mixed)} for each other" if mixed else ""
    told = [f"{names} agree on {listed(well)} as a whole{but}"] if well else []
    return [*told, f"{names} do not agree well enough on {listed(badly)}"] if badly else told


def _confused(answer: Answer, pair: str) -> list[str]:
    """What the two take for each other most, by its names; empty where nothing needs a sharper definition."""
    for f in answer.findings:
        if "confusion" in f.facts and f.facts["judged"].matched.pair == pair:
            return [answer.labels.get(name, name) for name in f.about]
    return []


def _row(r: dict[str, Any], finding: Finding | None, alone: bool) -> EstimateRow:
    verdict = finding.verdict if finding else ""
    said = f"{r['kappa']:.2f}"
    if r["kappa_low"] is not None:
        said += f" ({r['kappa_low']:.2f} to {r['kappa_high']:.2f})"
    return EstimateRow(
        r["what"] if alone else f"{r['pair']}, {r['what']}", r["kappa"], r["kappa_low"], r["kappa_high"], said=said,
        verdict=verdict, beside=beside(finding) if finding and verdict == TOO_EARLY else _same(r),
        claims=verdict in (AGREE, SHARPEN), about=finding.about if finding else (r["pair"],),
    )  # fmt: skip


def _same(row: dict[str, Any]) -> str:
    return "" if row["agreement"] is None else f"same {100 * row['agreement']:.0f} %"


def figure(answer: Answer) -> Figure:
    table = rows(answer.table)
    by_what = {}
    for f in answer.findings:
        if "judged" in f.facts and "confusion" not in f.facts:
            by_what[f.facts["judged"].matched.pair, f.facts["judged"].what] = f
    alone = len({r["pair"] for r in table}) == 1
    lines = [_row(r, by_what.get((r["pair"], r["what"])), alone) for r in table if r["kappa"] is not None]
    panel = EstimateRows(
        _SCALE, tuple(lines), "Agreement beyond chance (kappa): 0 chance, 1 complete", ENOUGH,
        (Key("interval", "kappa with 95 % limits"), Key("reference", f"{ENOUGH:g}, enough to pool")),
    )  # fmt: skip
    says = ". ".join(f"{line.name}: kappa {line.said}" for line in lines)
    confused = rows(answer.parts["confusion"])[:_MOST] if "confusion" in answer.parts else []
    told = "; ".join(f"{r['one_label']} and {r['other_label']}: {r['moments']} times" for r in confused)
    return Figure(
        "observers", answer.headline.rstrip("."),
        f"Kappa over {counted(sum(r['moments'] for r in table if r['what'] == 'zone'), 'moment')} that both recorded",
        source(answer.study), (panel,) if lines else (), f"{says}. Confused: {told or 'nothing'}.",
    )  # fmt: skip
