"""The section on changes: each as it was put on record, its dots, and what moved."""

from __future__ import annotations

from ..answers.answer import rows
from ..answers.use_over_time import AFTER, BEFORE, SETTLING
from .change_figure import Changed, change_drawn
from .dates import clock_said
from .gathered import Gathered
from .markup import bullets, figure, paragraph, section, text
from .pieces import careful, findings, said_with_trust


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
                figure(
                    change_drawn(found.declared, number, one, dict(shifts.labels)),
                    _dots_said(one, number == 1),
                )
            )
        notes = [n for n in shifts.notes if n.startswith((f"{change.id}:", f"{change.id} "))]
        told_notes += notes
        parts.append(findings(shifts, {change.id}) + bullets((text(n) for n in notes), "findings"))
    about = {c.id for c in found.changes}
    rest = [f for f in shifts.findings if not about & set(f.about)]
    parts.append(bullets((said_with_trust(f.says, f.standing) for f in rest), "findings"))
    others = bullets((text(n) for n in shifts.notes if n not in told_notes), "findings")
    return section("changes", "What changes did", paragraph(shifts.headline), *parts, others, careful(shifts))


def _dots_said(one: Changed, first: bool) -> str:
    """What the figure shows; how to read it stands under the first one."""
    place = one.dots[one.dots["place"] == one.dots["place"].iloc[0]]
    counts = {side: int((place["side"] == side).sum()) for side in (BEFORE, AFTER, SETTLING)}
    told = (
        f"{counts[BEFORE]} marks before, {counts[AFTER]} after; {counts[SETTLING]} in the hatched settling time of "
        f"{one.change.settle_h / 24:g} days are not compared."
    )
    if not first:
        return told
    return (
        "Each mark is one session (or day) at one time of day: the share of its seen moments spent there. Thick lines "
        "are the means of each side; upright broken lines are other changes; feeds, sheds and the like stand below. "
        f"{told}"
    )
