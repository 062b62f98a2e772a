"""The sections of the page, each from one answer: a figure, what it says, the numbers, and what to be careful of."""

from __future__ import annotations

from typing import Any

from ..answers.answer import Answer, rows
from ..answers.association_order import ordered_matrix
from ..answers.climate_cycles import FOUND
from ..answers.drying_days import DryingDays
from ..answers.evidence import counted
from ..answers.quantities_said import in_unit, label, said, unit
from ..answers.use_over_time import AFTER, BEFORE, SETTLING
from ..answers.when_watched import hours_never_watched
from .change_figure import Changed, change_drawn
from .choice_figure import choice_drawn
from .dates import clock_said
from .drying_figure import drying_drawn
from .gathered import Gathered
from .markup import bullets, figure, paragraph, section, table, text
from .retreat_figure import MOST_ANIMALS, homes_drawn, together_drawn
from .sketch_figure import SAID, limits_said, sketch_of, zones_drawn
from .watched_figure import watched_drawn

# What a keeper asks about first; other logged quantities are told in words.
DRAWN = ("temperature_c", "humidity_pct")
_MOST_ROWS = 60


def findings(answer: Answer, about: set[str] | None = None) -> str:
    """The sentences of an answer, each with how far to trust it."""
    chosen = [f for f in answer.findings if about is None or about & set(f.about)]
    return bullets((_said(f.says, f.standing) for f in chosen), "findings")


def _said(says: str, standing: str) -> str:
    return text(says) + (f' <span class="trust">({text(standing)})</span>' if standing else "")


def careful(answer: Answer) -> str:
    """The answer's own cautions."""
    told = bullets(text(c.says) for c in answer.cautions)
    return f'<div class="careful"><p>Careful</p>{told}</div>' if told else ""


def percent(value: float | None) -> str:
    return "–" if value is None else f"{100 * value:.0f} %"


def where(found: Gathered) -> str:
    zones = found.zones
    if not len(zones.table):
        return section("where", "Where they are", findings(zones))
    verdicts = {f.about[0]: f.verdict for f in zones.findings if f.about}
    caption = (
        "In each room the bar is the share of the time spent there, with its 95 % limits as a thin line, and the upright "
        "line the share of what is offered; the figure is one over the other (1 is in proportion)."
    )
    if sketch_of(found.declared) is None:
        caption += " The rooms are drawn as boxes of one size: no single sketch is in study.toml."
    elif found.declared.several:
        caption += f" All {len(found.declared.enclosures)} enclosures together, by place."
    numbers = [
        (
            f"{zones.labels.get(r['zone'], r['zone'])}, {SAID.get(verdicts.get(r['zone'], ''), '')}", percent(r["available"]),
            f"{percent(r['used'])} ({limits_said(r, 'used', True)})", f"{r['ratio']:.2f} ({limits_said(r, 'ratio')})",
        )
        for r in rows(zones.table)
    ]  # fmt: skip
    heads = ("Zone", "Offered", "Used (95 %)", "Times its share (95 %)")
    return section(
        "where", "Where they are", paragraph(zones.headline), figure(zones_drawn(found.declared, zones), caption),
        findings(zones), table("Use against offer", heads, numbers), careful(zones),
    )  # fmt: skip


def chosen(found: Gathered) -> str:
    prefer, f = found.prefer, found.declared.fahrenheit
    told = findings(prefer) + bullets((text(n) for n in prefer.notes), "findings")
    known = [q for q in DRAWN if len(prefer.table) and q in set(prefer.parts["bins"]["quantity"])]
    if not known:
        return section("chosen", "What is chosen", told, careful(prefer))
    ranges = {r["quantity"]: r for r in rows(prefer.parts["used_ranges"])}
    middle = [
        f"{label(q)} {said(q, ranges[q]['q25'], f)} to {said(q, ranges[q]['q75'], f)}"
        for q in known if q in ranges
    ]  # fmt: skip
    caption = (
        "Each row is a span of values. The filled dot right of the ring: chosen more than offered; left of it: less. "
        f"The middle half of what was used: {', '.join(middle)}."
    )
    return section(
        "chosen", "What is chosen", paragraph(prefer.headline), figure(choice_drawn(prefer, known, f), caption), told,
        careful(prefer),
    )  # fmt: skip


def _ratio(value: float | None) -> str:
    return "–" if value is None else f"{value:.2f}"


def changed(found: Gathered) -> str:
    """One figure for each change, in the words that were written down before it, and what moved."""
    shifts = found.shifts
    if not found.changes:
        return section("changes", "What changes did", findings(shifts))
    parts: list[str] = []
    told_notes: list[str] = []
    for number, change in enumerate(found.changes, 1):
        dots = found.around[found.around["adjustment"] == change.id]
        head = f"{change.what.capitalize()}, {clock_said(change.at, found.declared.timezone)}"
        zones = [found.declared.zones[z].label for z in change.zones if z in found.declared.zones]
        amount = f"{change.amount:g} {change.unit} in " if change.amount is not None else "In "
        told = f"{amount}{' and '.join(zones)}."
        expected = [
            f"{found.declared.zones[str(e.get('zone'))].label} {'more' if e.get('direction') == 'up' else 'less'}"
            for e in change.expects
            if str(e.get("zone")) in found.declared.zones
        ]
        before = f"Expected: {', '.join(expected)}." if expected else "Nothing was written down as expected."
        why = f"Reason given: “{change.why}”." if change.why else ""
        parts.append(f"<h3>{text(head)}</h3>" + paragraph(told if zones else "", why, before))
        if len(dots):
            means = {
                str(r["zone"]): (r["before"], r["after"])
                for r in rows(shifts.table)
                if r["adjustment"] == change.id and r["what"] == "zone" and r["before"] is not None
            }
            one = Changed(change, dots, means, found.events, [c for c in found.changes if c.id != change.id])
            parts.append(
                figure(change_drawn(found.declared, number, one, dict(shifts.labels)), _dots_said(one))
            )
        notes = [n for n in shifts.notes if n.startswith((f"{change.id}:", f"{change.id} "))]
        told_notes += notes
        parts.append(findings(shifts, {change.id}) + bullets((text(n) for n in notes), "findings"))
    about = {c.id for c in found.changes}
    rest = [f for f in shifts.findings if not about & set(f.about)]
    parts.append(bullets((_said(f.says, f.standing) for f in rest), "findings"))
    notes = bullets((text(n) for n in shifts.notes if n not in told_notes), "findings")
    return section("changes", "What changes did", paragraph(shifts.headline), *parts, notes, careful(shifts))


def _dots_said(one: Changed) -> str:
    first = one.dots[one.dots["place"] == one.dots["place"].iloc[0]]
    counts = {side: int((first["side"] == side).sum()) for side in (BEFORE, AFTER, SETTLING)}
    lines = " Thick lines are the means of each side." if one.means else ""
    return (
        f"Each mark is one session (or day and time of day): the share of its seen moments spent there. {counts[BEFORE]} "
        f"before, {counts[AFTER]} after; {counts[SETTLING]} in the hatched settling time of {one.change.settle_h / 24:g} "
        f"days are not compared.{lines} Upright broken lines are other changes; feeds, sheds and the like stand below."
    )


def watched(found: Gathered) -> str:
    if not len(found.watched):
        return ""
    gaps = hours_never_watched(found.watched)
    spans = ", ".join(f"{a}:00–{b % 24}:00" for a, b in gaps)
    caption = "Days run to the right, the hours of the local clock down; each bar is a session."
    caption += (
        f" Never watched: {spans}. Of those hours nothing is known." if gaps else " Every hour was watched."
    )
    return section(
        "watched", "When you watched", figure(watched_drawn(found.declared, found.watched), caption)
    )


def climate(found: Gathered) -> str:
    answer = found.climate
    parts, told = [], set()
    for number, one in enumerate(found.drying, 1):
        name = answer.labels.get(one.zone, one.zone)
        finding = next((f for f in answer.findings if f.about == (one.zone,)), None)
        says = f"{name}: {one.verdict}." if finding is None else finding.says
        told.add(says)
        drawing = figure(drying_drawn(found.declared, number, one, name, says), _drying_said(one))
        said = f"<p>{_said(says, '' if finding is None else finding.standing)}</p>"
        parts.append(f"<h3>{text(name)}</h3>{said}{drawing}")
    rest = bullets((_said(f.says, f.standing) for f in answer.findings if f.says not in told), "findings")
    return section(
        "climate", "Heat, moisture and water", paragraph(answer.headline), rest, *parts,
        _climate_table(found), _waters_table(found), careful(answer),
    )  # fmt: skip


def _drying_said(one: DryingDays) -> str:
    waters = sum(w.kind != FOUND for w in one.waters), sum(w.kind == FOUND for w in one.waters)
    kinds = [
        f"{n} {said}"
        for n, said in zip(waters, ("on record (filled)", "found in the readings (hollow)"), strict=True)
        if n
    ]
    told = (
        f" Water put in: {', '.join(kinds)}." if kinds else " No water is on record or found in the readings."
    )
    use = (
        f" Below, the share of time spent in it in each of {counted(len(one.use), 'session')}."
        if len(one.use)
        else ""
    )
    return f"The line is the median of the 24 hours around each moment.{told}{use}"


def _climate_table(found: Gathered) -> str:
    answer, f = found.climate, found.declared.fahrenheit
    numbers = []
    quantities = [
        q for q in dict.fromkeys(answer.table.get("quantity", [])) if q not in ("vpd_kpa", "dew_point_c")
    ]
    for r in rows(answer.table):
        if r["quantity"] not in quantities:
            continue
        outside = [v for v in (r["below_limit_h"], r["above_limit_h"]) if v is not None]
        name = unit(r["quantity"], f)
        spread = f"{in_unit(r['quantity'], r['p05'], f):.1f}–{in_unit(r['quantity'], r['p95'], f):.1f} {name}"
        numbers.append(
            (
                f"{answer.labels.get(r['zone'], r['zone'])}, {label(r['quantity'])}",
                f"{said(r['quantity'], r['median'], f)} ({spread})", f"{sum(outside):.0f} h" if outside else "no limit set",
            )
        )  # fmt: skip
    heads = ("Zone", "Median (5–95 % of the time)", "Outside your limits")
    return table("Readings by zone", heads, numbers)


def _waters_table(found: Gathered) -> str:
    part = found.climate.parts.get("responses")
    if part is None:
        return ""
    numbers = [
        (
            found.climate.labels.get(r["zone"], r["zone"]),
            clock_said(part["at"].iloc[i].to_pydatetime(), found.declared.timezone)
            + ("" if r["adjustment"] else " (found)"),
            _whole(r["before"]), _whole(r["peak"]), f"{_whole(r['held_days'], '')} d{_UNTIL.get(r['held_until'], '')}",
        )
        for i, r in enumerate(rows(part))
    ]  # fmt: skip
    heads = ("Zone", "When", "Before", "Peak", "Held")
    return table("What each water did", heads, numbers[:_MOST_ROWS], left=(1,))


_UNTIL = {
    "limit": ", to the limit",
    "half of the rise": ", to half of the rise",
    "next water": ", to the next water",
    None: " so far",
}


def _whole(value: float | None, sign: str = " %") -> str:
    return "–" if value is None else f"{value:.0f}{sign}"


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
                "Half-weight index of each pair: 0 never, 1 always found in one retreat; the larger the square the more "
                f"often. Those found together stand side by side.{several} By itself this tells nothing of liking."
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
            _ratio(r["half_weight"]), _whole(r["arrivals"], ""), _ratio_or_whole(r["expected"]),
        )
        for r in rows(best)
    ]  # fmt: skip
    heads = ("Pair", "Half-weight index", "Came into one retreat", "Expected by chance")
    return table(f"The {counted(len(numbers), 'pair')} most often together", heads, numbers)


def _ratio_or_whole(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f}"


def activity(found: Gathered) -> str:
    answer = found.activity
    if not len(answer.table):
        return ""
    numbers = [
        (
            answer.labels.get(r["behaviour"], r["behaviour"]),
            percent(r["share"]) if r["share"] is not None else f"{r['per_hour']:.2f} an hour",
            _limits(r), f"{r['sessions']}",
        )
        for r in rows(answer.table)
    ]  # fmt: skip
    heads = ("Behaviour", "Share of moments", "95 %", "Sessions")
    return section(
        "activity", "What they do", paragraph(answer.headline), findings(answer),
        table("Behaviour", heads, numbers), careful(answer),
    )  # fmt: skip


def _limits(row: dict[str, Any]) -> str:
    if row["low"] is None or row["high"] is None:
        return "–"
    if row["share"] is None:
        return f"{row['low']:.2f}–{row['high']:.2f}"
    return f"{100 * row['low']:.0f}–{100 * row['high']:.0f} %"


def more(name: str, heading: str, answer: Answer) -> str:
    """An answer without a figure of its own: its sentences and its table as the terminal shows it."""
    shown = [c for c in answer.shown if c.narrow and c.name in answer.table.columns]
    numbers = [[_cell(answer, r[c.name]) for c in shown] for r in rows(answer.table)[:_MOST_ROWS]]
    told = findings(answer) + bullets((text(n) for n in answer.notes), "findings")
    grid = table(heading, [c.heading for c in shown], numbers, left=range(1, len(shown))) if shown else ""
    return section(name, heading, paragraph(answer.headline), told, grid, careful(answer))


def _cell(answer: Answer, value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, float):
        return f"{value:.2f}"
    return answer.labels.get(str(value), str(value))
