"""The section on changes: each as it was put on record, its dots, and what moved."""

from __future__ import annotations

from functools import partial

from ...answers.shifts import AFTER, BEFORE, SETTLING, Changed, around, expected_label
from ...answers.showing.plain import rows
from ...pictures import clock_said
from ...tables import Adjustment
from ..gathered import Gathered
from ..markup import bullets, figure, paragraph, section, text
from .pieces import careful, findings, headed, noted, said_with_trust

# Water goes in every few weeks: a page has room for so many figures of changes.
_MOST_DRAWN = 6
_ALL = "What each change did, in points of the share of the time, with its limits; 0 is no change."


def changed(found: Gathered) -> str:
    """Each change as it was put on record, a figure for the newest of them, and what moved."""
    shifts = found.shifts
    if not found.changes:
        return section("changes", "What changes did", headed(shifts), findings(shifts))
    about = {c.id for c in found.changes}
    first = max(len(found.changes) - _MOST_DRAWN, 0)
    parts = [
        _put_on_record(found, change)
        + (_drawn(found, number, change, number == first) if number >= first else "")
        + findings(shifts, {change.id})
        + noted(shifts, partial(_names, change.id))
        for number, change in enumerate(found.changes)
    ]
    rest = [f for f in shifts.findings if not about & set(f.about)]
    parts.append(bullets((said_with_trust(f.says, f.standing) for f in rest), "findings"))
    parts.append(noted(shifts, lambda named: not about & set(named)))
    older = f"The newest {_MOST_DRAWN} are drawn, those before them in words." if first else ""
    return section(
        "changes",
        "What changes did",
        headed(shifts),
        figure(shifts.figure(), _ALL),
        paragraph(older),
        *parts,
        careful(shifts),
    )


def _names(change: str, about: tuple[str, ...]) -> bool:
    return change in about


def _put_on_record(found: Gathered, change: Adjustment) -> str:
    """What was changed, why, and what was expected of it."""
    zones = found.declared.zones
    head = f"{change.what.capitalize()}, {clock_said(change.at, found.declared.timezone)}"
    where = [zones[z].label for z in change.zones if z in zones]
    amount = f"{change.amount:g} {change.unit} in " if change.amount is not None else "In "
    expected = [
        f"{expected_label(found.declared, e)} {'more' if e['direction'] == 'up' else 'less'}"
        for e in change.expects
    ]
    before = f"Expected: {', '.join(expected)}." if expected else "Nothing was written down as expected."
    why = f"Reason given: “{change.why}”." if change.why else ""
    return f"<h3>{text(head)}</h3>" + paragraph(
        f"{amount}{' and '.join(where)}." if where else "", why, before
    )


def _drawn(found: Gathered, number: int, change: Adjustment, first: bool) -> str:
    dots = found.around[found.around["adjustment"] == change.id]
    if not len(dots):
        return ""
    means = {
        str(r["zone"]): r
        for r in rows(found.shifts.table)
        if r["adjustment"] == change.id and r["what"] == "zone" and r["before"] is not None
    }
    one = Changed(change, dots, means, found.events, [c for c in found.changes if c.id != change.id])
    drawn = around(found.declared, f"change{number}", one, dict(found.shifts.labels))
    return figure(drawn, _dots_said(one, first))


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
        "are the means of each side; the shaded box is where the mean after it lies by the limits of the change; "
        "upright broken lines are other changes; feeds, sheds and the like stand below. "
        f"{told}"
    )
